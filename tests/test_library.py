"""The starting library: each number has its basis, lies where its type's sheets lie, and can be worked with."""

import json
from itertools import pairwise
from pathlib import Path

import pytest

from finishing.coatings.models import Coating, DryingPoint, System
from finishing.library.actions import load_library, media, sheets
from finishing.media.models import Medium
from finishing.science import blasting, grit, overcoating
from finishing.science.cautions import BY_TRIGGER
from finishing.science.drying import DryingStage, DryingTable, drying_working, hours_at
from finishing.science.drying import SheetRow as Row
from finishing.science.film import METHODS
from finishing.science.sources import SOURCES
from finishing.science.units import Quantity
from tests.finishing.science.published import rows

LIBRARY = json.loads((Path(__file__).parents[1] / "fixtures" / "library.json").read_text(encoding="utf-8"))
COATINGS = {coating["library_key"]: coating for coating in LIBRARY["coatings"]}
MEDIA = {medium["library_key"]: medium for medium in LIBRARY["media"]}
SYSTEMS = {system["library_key"]: system for system in LIBRARY["systems"]}
RANGES = {row["library_key"]: row for row in rows("coating_ranges")}
LISTS = {"additives", "pot_life", "tin_sizes", "drying_points"}

each_coating = pytest.mark.parametrize("coating", COATINGS.values(), ids=COATINGS)
each_medium = pytest.mark.parametrize("medium", MEDIA.values(), ids=MEDIA)
each_system = pytest.mark.parametrize("system", SYSTEMS.values(), ids=SYSTEMS)


def table(coating):
    points = tuple(
        Row(**{**point, "basis": {**coating["basis"], **point.get("basis", {})}}) for point in coating["drying_points"]
    )
    return DryingTable(points, coating["temperature_min"], coating["sheet_humidity"], coating["dry_film"])


def numbers(coating):
    """Names of the values that are numbers, the drying table's by their column."""
    plain = {name for name, value in coating.items() if isinstance(value, (int, float)) and not isinstance(value, bool)}
    lists = {name for name in LISTS if coating.get(name)} - {"drying_points"}
    return plain | lists | {stage for stage in DryingStage if table(coating).gives(stage)}


def test_every_generic_type_is_there():
    assert {coating["generic_type"] for coating in COATINGS.values()} == set(overcoating.NEW_TYPES)


@each_coating
def test_every_number_has_a_basis_and_every_basis_a_number(coating):
    assert set(coating["basis"]) == numbers(coating)
    assert set(coating["basis"].values()) <= set(SOURCES)
    for point in coating["drying_points"]:
        assert set(point.get("basis", {})) <= {stage for stage in DryingStage if point.get(stage) is not None}
        assert set(point.get("basis", {}).values()) <= set(SOURCES)


@each_coating
def test_values_lie_where_the_sheets_of_the_type_lie(coating):
    said = {name: float(value) for name, value in RANGES[coating["library_key"]].items() if name != "library_key"}
    assert said["solids_low"] <= coating["volume_solids"] <= said["solids_high"]
    assert said["film_low"] <= coating["dry_film"] <= said["film_high"]
    assert said["density_low"] <= coating["density"] <= said["density_high"]
    assert said["coldest"] <= coating["temperature_min"] < coating["temperature_max"] <= said["hottest"]
    assert coating["humidity_max"] <= said["dampest"]
    assert coating["margin"] == 3
    assert 0 <= coating["thinning"] <= coating["thinning_max"]


@each_coating
def test_the_drying_table_can_be_worked_with(coating):
    made = table(coating)  # raises for rows out of order
    for stage in filter(made.gives, DryingStage):
        hours = hours_at(made, stage, range(0, 41))
        assert (hours[1:] <= hours[:-1]).all(), stage  # warmer is never later


@pytest.mark.parametrize("row", rows("drying_between"), ids=lambda row: " ".join(row.values()))
def test_times_between_the_rows_are_those_of_the_sheets(row):
    hours = hours_at(table(COATINGS[row["library_key"]]), DryingStage(row["stage"]), float(row["temperature_C"]))
    assert hours == pytest.approx(float(row["hours"]), rel=0.02)  # the table's values have two figures


def working(key, stage, celsius):
    return drying_working(table(COATINGS[key]), stage, Quantity(celsius, "degC"), Quantity(50, "percent"))


def test_the_alkyd_primers_touch_dry_does_not_cite_a_specification_that_says_nothing_of_it():
    """The whole sheet was cited for each of its times: [SSPC-ALKYD-PRIMER] says 18 h to the next coat, and no more."""
    assert working("alkyd-primer", DryingStage.TOUCH, 20).source == "our judgement"
    assert working("alkyd-primer", DryingStage.RECOAT_FROM, 20).source == "SSPC-ALKYD-PRIMER"
    between = working("alkyd-primer", DryingStage.RECOAT_FROM, 17)
    assert between.source == "our judgement"  # between its time and one that was worked out
    assert ("sheet at 20 °C", "18 h, SSPC-ALKYD-PRIMER") in between.inputs


WORKED_OUT = [
    # type, stage, °C, anchor h, anchor °C, factor for 10 °C: as each note says
    *(("cellulose-enamel", stage, at, hours, 20, 1.4)
      for stage, hours in (("touch", 0.25), ("recoat_from", 2)) for at in (5, 10, 15, 23, 30)),
    *(("nitrocellulose", stage, at, hours, 20, 1.4)
      for stage, hours in (("touch", 10 / 60), ("recoat_from", 0.75)) for at in (5, 10, 15, 23, 30)),
    *(("alkyd-primer", "recoat_from", at, 18, 20, 1.7) for at in (5, 10, 15, 23, 30)),
    *(("polyurethane", stage, at, hours, 25, 2)
      for stage, hours in (("touch", 1), ("recoat_from", 4)) for at in (5, 10, 15, 20, 30)),
    *(("waterborne-acrylic", stage, at, hours, 23, 1.7)
      for stage, hours in (("touch", 1), ("recoat_from", 4)) for at in (5, 10, 15, 20, 30)),
]  # fmt: skip


@pytest.mark.parametrize(("key", "stage", "at", "anchor", "anchor_at", "factor"), WORKED_OUT)
def test_no_worked_out_time_stands_shorter_than_it_is(key, stage, at, anchor, anchor_at, factor):
    """18 h at 20 °C is 23.5 h at 15 °C and 15.4 h at 23 °C; 23 and 15 h stood there."""
    (point,) = [point for point in COATINGS[key]["drying_points"] if point["temperature"] == at]
    exact = anchor * factor ** ((anchor_at - at) / 10)
    assert exact * (1 - 1e-9) <= point[stage] <= exact * 1.02
    assert point["basis"][stage] == "our judgement"


def test_epoxy_is_touch_dry_long_before_it_may_be_recoated():
    """16 h at 20 °C is its sheet's dry to recoat, and stood as touch-dry too; touch-dry is 1 to 4 h (common practice,
    recalled, no source)."""
    epoxy = table(COATINGS["epoxy-primer"])
    assert float(hours_at(epoxy, DryingStage.TOUCH, 20)) == 4
    assert float(hours_at(epoxy, DryingStage.RECOAT_FROM, 20)) == pytest.approx(16)
    assert working("epoxy-primer", DryingStage.TOUCH, 20).source == "common practice"


def test_a_retarder_lifts_the_limits_of_brushing_cellulose():
    """65 % without retarder [BLUSHING]; 75 % and 35 °C with it (common practice, no source)."""
    (retarder,) = COATINGS["cellulose-enamel"]["additives"]
    assert (COATINGS["cellulose-enamel"]["humidity_max"], retarder["humidity_max"]) == (65, 75)
    assert (COATINGS["cellulose-enamel"]["temperature_max"], retarder["temperature_max"]) == (30, 35)


@each_coating
def test_a_two_pack_has_its_parts_and_pot_life_and_a_one_pack_none(coating):
    parts = coating["mix_base"], coating["mix_hardener"]
    assert all(parts) == bool(coating["pot_life"]) == coating["two_pack"]
    assert coating["two_pack"] or parts == (None, None)


@each_coating
def test_a_coating_carries_its_cautions_and_a_word_about_the_tin(coating):
    assert coating["cautions"]
    assert set(coating["cautions"]) <= set(BY_TRIGGER)
    assert "data sheet comes before" in coating["note"]
    assert coating["oxidising"] == ("oily rags" in coating["cautions"])
    assert (coating["generic_type"] == "polyurethane") == ("isocyanate" in coating["cautions"])


@each_system
def test_a_systems_coats_go_over_one_another(system):
    coats = [COATINGS[layer["coating"]] for layer in system["layers"] if layer["kind"] == "coat"]
    for below, above in pairwise(coats):
        verdict = overcoating.verdict(above["generic_type"], below["generic_type"], aged=False)
        within_window = verdict.word == "abrade first" and below["drying_points"][0]["recoat_until"]
        assert verdict.word == "yes" or within_window, (above["name"], below["name"])


@each_system
def test_a_system_begins_on_metal_with_a_primer_or_a_self_priming_paint(system):
    first = next(COATINGS[layer["coating"]] for layer in system["layers"] if layer["kind"] == "coat")
    assert first["is_primer"] or first["self_priming"]
    assert system["layers"][-1]["kind"] == "coat"


@each_system
def test_every_layers_time_has_its_basis(system):
    for layer in system["layers"]:
        assert set(LIBRARY["layer_basis"][layer["kind"]].values()) <= set(SOURCES)
        assert 0 < layer["minutes"] <= 60
        assert 0 <= layer["wait"] <= 24 * 60
        assert layer["method"] in METHODS
        assert (layer["coating"] is not None) == (layer["kind"] == "coat")


@each_medium
def test_every_value_of_a_medium_has_its_basis(medium):
    values = {name.removesuffix("_low").removesuffix("_high") for name, value in medium.items() if value is not None}
    said = {"library_key", "name", "kind", "grain", "reused", "basis", "note"}
    assert set(medium["basis"]) == values - said
    assert set(medium["basis"].values()) <= set(SOURCES)
    assert "comes before every value" in medium["note"]


@each_medium
def test_a_medium_is_of_its_family(medium):
    kind = grit.KINDS[medium["kind"]]
    assert medium["reused"] == kind.reused == (medium["cycles_high"] > 1)
    assert (medium["iron"] == "leaves") == kind.leaves_iron
    assert medium["feed_difference"] == kind.feed_difference


@pytest.mark.parametrize("row", rows("media"), ids=lambda row: row["kind"])
def test_media_lie_where_their_table_has_them(row):
    """Density in lb/ft³, hardness and cycles as published [MEDIA-TABLE]; 0.062428 lb/ft³ is 1 kg/m³."""
    found = [medium for medium in MEDIA.values() if medium["kind"] == row["kind"]]
    assert found
    for medium in found:
        assert float(row["density_low"]) - 0.5 <= medium["bulk_density"] * 0.062428 <= float(row["density_high"]) + 0.5
        assert float(row["mohs_low"]) <= medium["hardness_low"] <= medium["hardness_high"] <= float(row["mohs_high"])
        assert float(row["cycles_low"]) <= medium["cycles_low"] <= medium["cycles_high"] <= float(row["cycles_high"])


def test_every_family_worth_having_is_there_and_only_sand_is_refused():
    """Crushed glass holds less than 1 % free silica (common practice, no source)."""
    refused = [medium.library_key for medium in media() if medium.refusal]
    assert refused == ["silica-sand"]
    assert MEDIA["crushed-glass-medium"]["free_silica"] <= grit.SILICA_LIMIT.value
    for metal, state in ((metal, state) for metal in grit.ADVICE for state in grit.STATES):
        assert any(medium.fit(metal, state).word == "suited" for medium in media()), (metal, state)


def test_each_medium_but_sand_can_be_reckoned_with():
    assert all(not blasting.medium_refusals(medium.value()) for medium in media() if medium.kind != grit.NEVER)


def test_a_workshop_gets_it_whole_and_valid(workshop):
    load_library(workshop)
    load_library(workshop)  # a second time changes nothing
    coatings, systems = Coating.objects.of(workshop), System.objects.of(workshop)
    assert {coating.library_key for coating in coatings} == set(COATINGS)
    assert {system.library_key for system in systems} == set(SYSTEMS)
    assert {medium.library_key for medium in Medium.objects.of(workshop)} == set(MEDIA)
    for row in [*coatings, *DryingPoint.objects.of(workshop), *systems, *Medium.objects.of(workshop)]:
        row.full_clean()
    for system in systems:
        for layer in system.layers.all():
            layer.full_clean()


def test_a_sheet_stands_without_a_workshop():
    sheet = next(sheet for sheet in sheets() if sheet.key == "epoxy-primer")
    made = sheet.coating().drying_table(sheet.drying_points())
    assert hours_at(made, DryingStage.RECOAT_FROM, 20) == pytest.approx(16)
