"""A tin becomes values of the science, and a system says what lies on what."""

import pytest

from finishing.coatings.models import GenericType, Layer
from finishing.science import drying
from finishing.science.drying import DryingStage
from finishing.science.units import Quantity
from tests import factories

pytestmark = pytest.mark.django_db


def test_a_coating_becomes_its_drying_table(primer):
    primer.refresh_from_db()
    table = primer.drying_table()
    assert [point.temperature for point in table.points] == [10, 20, 30]
    assert float(drying.hours_at(table, DryingStage.RECOAT_FROM, 20)) == pytest.approx(6)
    assert (table.floor, table.sheet_film) == (5, 40)


def test_a_coating_without_rows_has_no_table(workshop):
    assert factories.CoatingFactory(workshop=workshop).drying_table() is None


def test_the_sheets_coldest_row_lies_above_the_floor(workshop):
    """A sheet that gives a time at 5 °C says that the paint dries there, though it is put on only from 10 °C."""
    coating = factories.CoatingFactory(workshop=workshop, temperature_min=10)
    factories.DryingPointFactory(coating=coating, temperature=5, recoat_from=12)
    assert drying.rate(coating.drying_table(), DryingStage.RECOAT_FROM, [5.0], 50)[0] == pytest.approx(1 / 12)
    assert drying.rate(coating.drying_table(), DryingStage.RECOAT_FROM, [4.9], 50)[0] == 0


def test_gates_are_those_of_the_sheet(primer):
    primer.refresh_from_db()
    gates = primer.gates()
    assert (gates.margin, gates.humidity_max, gates.humidity_min) == (3, 85, None)
    assert (gates.temperature_min, gates.temperature_max) == (5, 35)


def stirred(layer, **values):
    return layer.additives.create(workshop=layer.workshop, coating=layer.coating, **{"dose": 5, **values})


def test_what_a_layer_has_stirred_in_and_a_thick_film_make_it_slower(system):
    """Of one tin a layer with and one without: the tin's own "in use" made both of them slower."""
    primer, with_it, without = system.coats
    stirred(with_it, name="retarder", slower=1.5)
    assert with_it.coating == without.coating
    assert [layer.slower for layer in (primer, with_it, without)] == pytest.approx([1, 1.5, 1])
    assert with_it.slower_at(Quantity(80, "µm")) == pytest.approx(1.5 * 2**2)  # twice the sheet's 40 µm


def test_a_layer_uses_its_own_film_and_thinning_before_the_sheets(system, primer):
    layer = system.layers.first()
    assert layer.dry_film_used == Quantity(40, "µm")
    layer.dry_film, layer.thinning = Quantity(60, "µm"), Quantity(10, "percent")
    assert layer.dry_film_used == Quantity(60, "µm")
    # WFT = 60 · 110 / 45, [SPREADING-RATE-WORKED]
    assert layer.wet_film_used.to("µm").magnitude == pytest.approx(146.7, abs=0.05)


def test_a_preparation_has_no_film(system):
    wipe = Layer(workshop=system.workshop, system=system, position=9, kind=Layer.Kind.WIPE)
    assert (wipe.dry_film_used, wipe.thinning_used, wipe.wet_film_used, wipe.slower) == (None, None, None, 1.0)


def test_each_coat_is_held_against_the_one_it_covers(system):
    pairs = [(pair.above.position, pair.below.position, pair.verdict.word) for pair in system.overcoats]
    assert pairs == [(2, 1, "yes"), (3, 2, "yes")]
    assert system.begins_on_metal


def test_a_coat_on_the_second_side_does_not_lie_on_the_first(workshop, enamel):
    system = factories.SystemFactory(workshop=workshop)
    for position, side in enumerate(("first", "second", "first"), start=1):
        factories.LayerFactory(system=system, position=position, coating=enamel, side=side)
    assert [(pair.above.position, pair.below.position) for pair in system.overcoats] == [(3, 1)]
    assert not system.begins_on_metal


def test_strong_solvent_over_alkyd_is_refused_and_rubbing_down_is_seen(workshop, enamel):
    """Two-packs lift alkyds: [UFC-COMPATIBILITY]."""
    hard = factories.CoatingFactory(workshop=workshop, generic_type=GenericType.POLYURETHANE)
    system = factories.SystemFactory(workshop=workshop)
    factories.LayerFactory(system=system, position=1, coating=enamel)
    factories.LayerFactory(system=system, position=2, kind=Layer.Kind.RUB_DOWN, coating=None)
    factories.LayerFactory(system=system, position=3, coating=hard)
    pair = system.overcoats[0]
    assert (pair.verdict.word, pair.rubbed) == ("no", True)


def test_what_a_layer_has_stirred_in_sets_its_own_limits_and_no_other_layers(system):
    """65 % and 30 °C without retarder, 75 % and 35 °C with it (common practice, no source): its note said so, and the
    gates went on asking for 65 %; and chosen at the tin it lifted those of every layer."""
    _, with_it, without = system.coats
    for layer in (with_it, without):
        layer.coating.humidity_max, layer.coating.temperature_max = Quantity(65, "percent"), Quantity(30, "degC")
    stirred(with_it, name="retarder", humidity_max=75, temperature_max=35)
    stirred(with_it, name="flow")  # says nothing of limits
    assert (with_it.gates().humidity_max, with_it.gates().temperature_max) == (75, 35)
    assert (without.gates().humidity_max, without.gates().temperature_max) == (65, 30)


def test_only_what_is_sprayed_asks_for_calm(system):
    layer = system.layers.first()
    assert layer.gates().wind_max is None
    layer.method = Layer.Method.HVLP
    assert layer.gates().wind_max == 10  # m/s, common practice, no source


def test_a_mix_stands_while_its_piece_is_prepared(system):
    """30 min of standing after mixing, 20 min/m²: on 1 m² the last stroke comes after 50 min and no sooner."""
    layer = system.layers.first()
    assert layer.minutes_after([], 1.0) == 20
    layer.coating.induction = Quantity(30, "minute")
    assert layer.minutes_after([], 1.0) == 50
    wipe = Layer(kind=Layer.Kind.WIPE, minutes=Quantity(45, "min/m**2"))
    assert layer.minutes_after([wipe], 1.0) == 65
