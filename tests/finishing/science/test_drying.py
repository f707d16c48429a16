"""Drying against data sheets of the generic types (makers withheld) and worked examples of our own model."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science import drying
from finishing.science.drying import DryingStage, DryingTable, SheetRow, TableError
from finishing.science.sources import SOURCES
from finishing.science.units import Quantity

DAY = 24.0
ENAMEL = DryingTable((SheetRow(10, 10, None, 30), SheetRow(23, 5, None, 15), SheetRow(40, 3, None, 9)), floor=5)
EPOXY = DryingTable(
    (
        SheetRow(10, recoat_from=24),
        SheetRow(20, recoat_from=16, recoat_until=7 * DAY),
        SheetRow(30, recoat_from=10, recoat_until=3 * DAY),
    ),
    floor=4,
)
POLYURETHANE = DryingTable((SheetRow(25, 1, None, 4, 24),), floor=5)
WATERBORNE = DryingTable((SheetRow(23, 1, None, 4),), floor=7, needs_dry_air=True)
OXIDISING = DryingTable((SheetRow(20, recoat_from=1, closed_from=4, closed_until=24),), floor=0)


def spread(table, *stages):
    """The table with only its coldest and hottest row."""
    return replace(table, points=(table.points[0], table.points[-1]))


def hours_at(table, stage, temperature):
    return float(drying.hours_at(table, stage, temperature))


def test_ten_degrees_colder_than_the_sheet_doubles_the_time():
    """16 h at 20 °C is 27.9 h at 12 °C [DRYING-THUMB]."""
    sheet = DryingTable((SheetRow(20, recoat_from=16),), floor=0)
    assert hours_at(sheet, DryingStage.RECOAT_FROM, 12) == pytest.approx(27.9, abs=0.05)
    assert hours_at(sheet, DryingStage.RECOAT_FROM, 10) == pytest.approx(32.0)


@pytest.mark.parametrize(
    ("table", "stage", "temperature", "ours", "sheet"),
    [
        (ENAMEL, DryingStage.TOUCH, 23, 5.76, 5),
        (ENAMEL, DryingStage.RECOAT_FROM, 23, 17.3, 15),
        (EPOXY, DryingStage.RECOAT_FROM, 20, 15.3, 16),
    ],
)
def test_a_row_left_out_is_found_again_between_its_neighbours(table, stage, temperature, ours, sheet):
    """Arrhenius between two rows comes within 16 % of the data sheet's own row."""
    found = hours_at(spread(table), stage, temperature)
    assert found == pytest.approx(ours, abs=0.05)
    assert found == pytest.approx(sheet, rel=0.16)


@pytest.mark.parametrize(
    ("table", "stage", "expected"),
    [
        (ENAMEL, DryingStage.TOUCH, {10: 10, 15: 7.6, 20: 5.8, 23: 5, 30: 4.0}),
        (ENAMEL, DryingStage.RECOAT_FROM, {10: 30, 15: 22.8, 20: 17.5, 23: 15, 30: 12.1}),
        (EPOXY, DryingStage.RECOAT_FROM, {10: 24, 15: 19.5, 20: 16, 23: 13.8, 30: 10}),
        (EPOXY, DryingStage.RECOAT_UNTIL, {5: 7 * DAY, 10: 7 * DAY, 20: 7 * DAY, 23: 5.4 * DAY, 30: 3 * DAY}),
        (POLYURETHANE, DryingStage.TOUCH, {5: 4.0, 10: 2.8, 15: 2.0, 20: 1.4, 23: 1.15}),
        (POLYURETHANE, DryingStage.RECOAT_FROM, {5: 16, 10: 11.3, 15: 8, 20: 5.7, 23: 4.6}),
        (POLYURETHANE, DryingStage.RECOAT_UNTIL, {5: 24, 15: 24, 25: 24, 30: 17}),
    ],
)
def test_times_by_type(table, stage, expected):
    """The handbook's table by type: data sheets, Arrhenius between their rows, latest times never lengthened."""
    ours = drying.hours_at(table, stage, list(expected))
    assert ours == pytest.approx(list(expected.values()), rel=0.02)


def test_hotter_than_the_sheet_is_never_quicker():
    assert hours_at(EPOXY, DryingStage.RECOAT_FROM, 45) == pytest.approx(10)
    assert hours_at(POLYURETHANE, DryingStage.RECOAT_FROM, 35) == pytest.approx(4)


@pytest.mark.parametrize(("temperature", "zone"), [(20, (4, 24)), (10, (4.0, 40.8)), (30, (2.4, 24.0))])
def test_the_closed_zone_widens_both_ways(temperature, zone):
    """The oxidising enamel's zone of 4 to 24 h at 20 °C: our model, after [ALKYD-LIFTING] and common practice."""
    found = [hours_at(OXIDISING, stage, temperature) for stage in drying.ZONE]
    assert found == pytest.approx(zone, abs=0.05)


@pytest.mark.parametrize(("humidity", "factor"), [(50, 1), (30, 1), (80, 2.5), (90, 5)])
def test_water_leaves_slowly_in_damp_air(humidity, factor):
    """50 / (100 − RH) against a 50 % sheet: our judgement."""
    assert drying.damp_factor(WATERBORNE, humidity) == pytest.approx(factor)
    assert drying.damp_factor(ENAMEL, humidity) == 1


def test_saturated_air_stops_what_needs_dry_air():
    assert drying.rate(WATERBORNE, DryingStage.TOUCH, [23, 23], [100, np.nan]).tolist() == [0, 0]
    assert drying.rate(ENAMEL, DryingStage.TOUCH, [23, 23], [100, np.nan]) == pytest.approx([0.2, 0.2])


def test_film_and_additive_only_slow():
    """(film / sheet)² for thick coats and 1.5 for additives without a sheet: common practice."""
    table = replace(EPOXY, sheet_film=50.0)
    assert drying.slowing(table, dry_film=[25, 50, 100]).tolist() == [1, 1, 4]
    assert drying.slowing(table, dry_film=100, additive=drying.ADDITIVE.value) == 6
    assert drying.slowing(EPOXY, dry_film=100) == 1
    with pytest.raises(ValueError, match="additive"):
        drying.slowing(table, additive=0.9)


def test_progress_adds_up_through_changing_temperature():
    temperature = [20.0] * 8 + [10.0] * 24
    assert drying.dried(EPOXY, DryingStage.RECOAT_FROM, temperature, 50) == pytest.approx(8 + 24 / 2)
    assert drying.dried(EPOXY, DryingStage.RECOAT_FROM, temperature, 50, begin=4.5) == pytest.approx(
        8 + 24 * (1 - 3.5 / 16)
    )


def test_at_the_floor_nothing_opens_and_what_closes_goes_on():
    frost = [20.0] * 2 + [4.0] * 24
    assert drying.dried(EPOXY, DryingStage.RECOAT_FROM, frost, 50) == np.inf
    assert drying.dried(POLYURETHANE, DryingStage.RECOAT_UNTIL, frost, 50) == pytest.approx(24)


def test_what_is_not_known_opens_nothing_and_closes_at_full_speed():
    gap = [20.0] * 4 + [np.nan] * 10 + [20.0] * 200
    window = drying.recoat_window(EPOXY, gap, 50)
    assert window.opens == pytest.approx(26)
    assert window.closes == pytest.approx(4 + 10 + 7 * DAY * (1 - 4 / (7 * DAY) - 10 / (3 * DAY)))
    zone = drying.recoat_window(OXIDISING, gap, 50)
    assert zone.closed_from == pytest.approx(4)
    assert zone.closed_until == pytest.approx(34)


def test_the_window_as_spans():
    steady = [20.0] * 72
    assert drying.recoat_window(OXIDISING, steady, 50, begin=2.0).spans() == [(3, 6), (26, np.inf)]
    two_days = replace(OXIDISING, points=(replace(OXIDISING.points[0], recoat_until=48.0),))
    first, second = drying.recoat_window(two_days, steady, 50).spans()
    assert (*first, *second) == pytest.approx((1, 4, 24, 48))
    thick = drying.recoat_window(two_days, steady, 50, slower=4.5)
    assert thick.spans() == []  # it opens inside the zone, and the zone ends too late
    assert np.isnan(drying.recoat_window(ENAMEL, steady, 50).closes)


def test_pieces_and_starts_are_answered_together_as_one_by_one():
    metal = np.random.default_rng(3).uniform(8, 30, (3, 72))
    starts, slower = np.array([0, 5.5]), np.array([1, 1.5, 3])
    together = drying.recoat_window(OXIDISING, metal, 60, begin=starts, slower=slower)
    for piece in range(3):
        for i, start in enumerate(starts):
            alone = drying.recoat_window(OXIDISING, metal[piece], 60, begin=start, slower=slower[piece])
            for name in ("opens", "closed_from", "closed_until"):
                assert getattr(alone, name) == pytest.approx(getattr(together, name)[piece, i])


@given(
    st.sampled_from([ENAMEL, EPOXY, POLYURETHANE, WATERBORNE, OXIDISING]),
    st.sampled_from(list(DryingStage)),
    st.floats(-20, 50),
    st.floats(0, 30),
)
def test_colder_never_opens_sooner_nor_closes_later_than_the_sheet(table, stage, temperature, colder):
    if table.gives(stage):
        warm, cold = hours_at(table, stage, temperature), hours_at(table, stage, temperature - colder)
        assert cold >= warm * (1 - 1e-12)
        if stage in drying.CLOSING:
            assert cold <= table.column(stage)[1][0] * (1 + 1e-12)


def point(temperature, **columns):
    return SheetRow(temperature, **{"recoat_from": 4.0, **columns})


@pytest.mark.parametrize(
    ("rows", "row", "column", "says"),
    [
        ([point(20), point(10)], 1, "temperature", "cold to hot"),
        ([point(20), point(20)], 1, "temperature", "cold to hot"),
        ([point(10), point(20, recoat_from=5)], 1, "recoat_from", "5 h is longer than 4 h in a colder row"),
        ([point(10, touch=1), point(20), point(30, touch=2)], 2, "touch", "longer than 1 h"),
        ([point(20, closed_from=24, closed_until=6)], 0, "closed_until", "before closed from, 24 h"),
        ([point(20, closed_from=24)], 0, "closed_until", "two ends"),
        ([point(20, closed_until=24)], 0, "closed_from", "two ends"),
        ([point(20, closed_from=2, closed_until=24)], 0, "closed_from", "before recoat from"),
        ([point(20, recoat_until=3)], 0, "recoat_until", "before recoat from, 4 h"),
        ([point(20, touch=5, handle=4)], 0, "handle", "before touch"),
        ([point(20, touch=0)], 0, "touch", "above 0"),
        ([point(20, touch=float("nan"))], 0, "touch", "above 0"),
        ([point(float("nan"))], 0, "temperature", "between"),
        ([point(200)], 0, "temperature", "between"),
        ([SheetRow(20, touch=1)], 0, "recoat_from", "next coat"),
        ([], 0, "recoat_from", "next coat"),
    ],
)
def test_a_table_that_cannot_be_right_is_refused_at_its_field(rows, row, column, says):
    with pytest.raises(TableError, match=says) as refused:
        DryingTable(tuple(rows), floor=5)
    assert (refused.value.row, refused.value.column) == (row, column)
    assert str(refused.value).startswith(f"Row {row + 1}, {drying.words(column)}: ")


def test_all_errors_of_a_table_are_told_at_once():
    rows = [point(20, touch=-1), point(10, closed_from=9)]
    assert [(e.row, e.column) for e in drying.errors(rows)] == [
        (0, "touch"),
        (1, "closed_until"),
        (1, "temperature"),
    ]


def test_a_stage_the_sheet_does_not_give_is_said():
    with pytest.raises(ValueError, match="no time for 'handle'"):
        drying.hours_at(ENAMEL, DryingStage.HANDLE, 20)


def test_the_working_names_rows_and_floor():
    at_floor = drying.drying_working(ENAMEL, DryingStage.TOUCH, Quantity(5, "degC"), Quantity(50, "percent"))
    assert at_floor.result == "no progress: 5 °C is the paint's floor"
    assert at_floor.source in SOURCES
    assert ("sheet at 23 °C", "5 h") in at_floor.inputs


@pytest.mark.parametrize(
    ("generic_type", "given", "stage"),
    [
        ("nitrocellulose", {"touch": 0.2, "recoat_from": 0.75}, "touch"),
        ("cellulose enamel", {"touch": 0.25, "handle": 1, "recoat_from": 2}, "touch"),
        ("alkyd enamel", {"touch": 5, "recoat_from": 16}, "recoat_from"),
        ("machinery enamel", {"touch": 4, "handle": 9, "recoat_from": 24}, "handle"),
        ("epoxy primer", {"touch": 4, "recoat_from": 16}, "recoat_from"),
        ("waterborne acrylic", {"touch": 1, "recoat_from": 4}, "recoat_from"),
        ("", {"touch": 1, "handle": 2, "recoat_from": 4}, "handle"),
        # what may be recoated within the hour is still soft until its closed zone is over: our judgement
        ("alkyd enamel", {"touch": 1, "recoat_from": 1, "closed_from": 4, "closed_until": 24}, "closed_until"),
        # a sheet may say sooner
        ("alkyd enamel", {"touch": 5, "dew_safe": 6, "recoat_from": 16}, "dew_safe"),
    ],
)
def test_a_coat_bears_dew_touch_dry_only_where_it_is_a_lacquer(generic_type, given, stage):
    """Water on a soft alkyd dulls and spots it (common practice, no source); touch-dry stood for every type."""
    table = DryingTable((SheetRow(20, **given),), floor=5, generic_type=generic_type)
    assert table.dew_safe_stage == stage
    assert table.set_stage == "touch"


def test_the_printed_rule_is_the_one_that_was_used():
    """“Colder × 2” stood under every time: the ends of a closed zone go by 1.7, and what closes is not lengthened."""

    def rule(stage, celsius):
        return drying.drying_working(OXIDISING, stage, Quantity(celsius, "degC"), Quantity(50, "percent")).formula

    assert "· 2^((T_coldest − T) / 10)" in rule(DryingStage.RECOAT_FROM, 10)
    assert "· 1.7^((T_coldest − T) / 10)" in rule(DryingStage.CLOSED_UNTIL, 10)
    assert "never lengthened" in rule(DryingStage.CLOSED_FROM, 10)
    assert "/ 1.7^((T − T_hottest) / 10)" in rule(DryingStage.CLOSED_FROM, 30)
    assert "never shortened" in rule(DryingStage.RECOAT_FROM, 30)


@pytest.mark.parametrize("celsius", [3.33, 8.0, 15.55, 21.17, 44.0])
@pytest.mark.parametrize("humidity", [50.0, 87.6])
def test_a_working_is_reproduced_from_what_it_prints(celsius, humidity):
    """By hand from the inputs as they stand, for each rule; what opens is printed no shorter than that, what closes no
    longer."""
    table = replace(WATERBORNE, points=(SheetRow(10, 2, None, 8, 30), SheetRow(30, 1, None, 3, 20)), floor=0)
    for stage, (cold, hot) in ((DryingStage.RECOAT_FROM, (8, 3)), (DryingStage.RECOAT_UNTIL, (30, 20))):
        air = Quantity(celsius, "degC"), Quantity(humidity, "percent")
        working = drying.drying_working(table, stage, *air, slower=1.2345)
        inputs = {name: value.split()[0] for name, value in working.inputs}
        t, closing = float(inputs["temperature"]), stage == DryingStage.RECOAT_UNTIL
        if t < 10:
            hours = cold if closing else cold * 2 ** ((10 - t) / 10)
        elif t > 30:
            hours = hot / 2 ** ((t - 30) / 10) if closing else hot
        else:
            share = (1 / (t + 273.15) - 1 / 283.15) / (1 / 303.15 - 1 / 283.15)
            hours = cold * (hot / cold) ** share
        if not closing:
            hours *= float(inputs["factor for damp air"]) * float(inputs["factor for film and additive"])
        printed = float(working.result.split()[0])
        step = 0.1 if printed < 48 else 1
        low, high = (hours - step, hours) if closing else (hours, hours + step)
        assert low - 1e-6 <= printed <= high + 1e-6
