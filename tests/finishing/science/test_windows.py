"""Hours allowed and refused: small runs whose answers can be worked out in the head."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science import drying, windows
from finishing.science.drying import DryingTable, RecoatWindow, SheetRow
from finishing.science.hours import Hours
from finishing.science.metal import metal_temperature
from finishing.science.windows import Gates, Reason

START = np.datetime64("2025-05-01T06")
FINE = {"temperature": 20.0, "humidity": 60.0, "rain": 0.0}


def run(count=6, **columns):
    wide = {name: np.broadcast_to(value, count).astype(float) for name, value in {**FINE, **columns}.items()}
    return Hours.from_arrays(START, **wide)


def refused(hours, metal=None, gates=None, **options):
    options = {"working": np.ones(len(hours), bool), "application_h": 1.0, **options}
    return windows.refusals(hours, hours.temperature if metal is None else metal, gates or Gates(), **options)


def names(flags):
    return [" ".join(reason.name for reason in windows.explain(hour)) for hour in flags]


def test_fine_hours_are_allowed_to_the_end_of_the_run():
    assert names(refused(run(3))) == ["", "", ""]
    assert names(refused(run(3), application_h=2)) == ["", "", "NOT_KNOWN"]


@pytest.mark.parametrize(
    ("columns", "metal", "gates", "reason"),
    [
        ({}, 14.9, Gates(), "MARGIN"),  # dew point 12.0 °C
        ({}, 15.1, Gates(), ""),
        ({"humidity": 86}, 30, Gates(), "HUMIDITY"),
        ({"humidity": 85}, 30, Gates(), ""),
        ({"humidity": 15}, 20, Gates(humidity_min=20), "HUMIDITY"),
        ({"temperature": 9.9}, 12, Gates(temperature_min=10), "COLD"),
        ({}, 15.1, Gates(temperature_min=16), "COLD"),
        ({"temperature": 35.1}, 30, Gates(temperature_max=35), "HEAT"),
        ({}, 35.1, Gates(temperature_max=35), "HEAT"),
        ({"rain": 0.1}, 20, Gates(), "RAIN"),
        ({"rain_chance": 0.6}, 20, Gates(), "RAIN"),
        ({"rain_chance": 0.5}, 20, Gates(), "RAIN"),  # as likely as not refuses: common practice, no source
        ({"rain_chance": 0.49}, 20, Gates(), ""),
        ({"rain_chance": 0.5}, 20, Gates(rain_chance_max=0.2), "RAIN"),
        ({"temperature": 1, "humidity": 40}, -0.1, Gates(), "FROST"),
        ({"humidity": np.nan}, 20, Gates(), "NOT_KNOWN"),
        ({"rain": np.nan}, 20, Gates(), "NOT_KNOWN"),
        ({}, np.nan, Gates(), "NOT_KNOWN"),
    ],
)
def test_each_gate_gives_its_reason(columns, metal, gates, reason):
    """3 °C and 85 % are [IMO-PSPC]; the others are a sheet's own."""
    assert names(refused(run(1, **columns), metal, gates)) == [reason]


def test_only_heat_looks_at_the_metal_under_a_clear_sky():
    """Sun that nobody knows must not warm a piece over its dew point, and may still make it too hot."""
    metal, sunlit, gates = np.full(2, 14.0), np.array([14.0, 40.0]), Gates(temperature_max=35)
    assert names(refused(run(2), metal, gates, application_h=1, hottest=sunlit)) == ["MARGIN", "MARGIN HEAT"]
    flags = windows.weather_reasons(run(2), metal, gates, sunlit)
    assert names(flags) == ["MARGIN", "MARGIN HEAT"]
    assert names(windows.weather_reasons(run(2), metal, gates)) == ["MARGIN", "MARGIN"]


def test_a_refused_hour_carries_all_its_reasons():
    night = run(1, temperature=3, humidity=95, rain=1)
    flags = refused(night, -1.0, Gates(temperature_min=5), working=[False], rust_deadline=0.5)
    wanted = {"MARGIN", "HUMIDITY", "COLD", "RAIN", "OUTSIDE_WORKING_HOURS", "RUST_BUDGET_SPENT", "FROST"}
    assert set(names(flags)[0].split()) == wanted


def test_rain_before_it_may_be_left_refuses_the_start():
    shower = run(6, rain=[0, 0, 0, 0, 1, 0])
    left_at = np.arange(6) + 2.5
    assert names(refused(shower, left_at=left_at)) == [
        "",
        "",
        "RAIN",
        "RAIN",
        "RAIN NOT_KNOWN",
        "NOT_KNOWN",
    ]


def test_it_may_be_left_on_the_hour_that_rain_begins():
    shower = run(4, rain=[0, 0, 1, 0])
    assert names(refused(shower, left_at=[2, 3, 4, 4]))[:2] == ["", "RAIN"]
    assert names(refused(shower, left_at=[2 + 1e-9, 3, 4, 4]))[0] == ""


def test_people_are_needed_only_while_they_apply():
    day = [True, True, True, False, False, False]
    flags = refused(run(6), working=day, application_h=1.5, left_at=np.arange(6) + 3.0)
    evening = ["OUTSIDE_WORKING_HOURS"] * 2 + ["OUTSIDE_WORKING_HOURS NOT_KNOWN"] * 2
    assert names(flags) == ["", "", *evening]


def test_a_gap_is_never_workable_nor_is_a_time_that_nobody_knows():
    gap = run(6, temperature=[20, 20, 20, np.nan, 20, 20])
    assert names(refused(gap, left_at=np.arange(6) + 2.0)) == ["", "", "NOT_KNOWN", "NOT_KNOWN", "", "NOT_KNOWN"]
    unknown = names(refused(run(3), left_at=[np.nan, np.inf, 3]))
    assert unknown == ["NOT_KNOWN", "NOT_KNOWN", ""]
    assert names(refused(run(2), rust_deadline=np.nan)) == ["NOT_KNOWN", "NOT_KNOWN"]


def test_bare_iron_is_coated_before_its_budget_is_gone():
    spent = "RUST_BUDGET_SPENT"
    assert names(refused(run(4), rust_deadline=2.0)) == ["", "", spent, spent]
    assert names(refused(run(4), rust_deadline=2.9)) == ["", "", spent, spent]
    assert names(refused(run(4), rust_deadline=np.inf)) == [""] * 4


def test_the_recoat_window_with_its_closed_zone():
    window = RecoatWindow(opens=1.0, closed_from=3.0, closed_until=5.0, closes=7.0)
    assert names(refused(run(9), recoat=window)) == [
        "TOO_SOON",
        "",
        "",
        "CLOSED_ZONE",
        "CLOSED_ZONE",
        "",
        "",
        "TOO_LATE",
        "TOO_LATE",
    ]
    none = RecoatWindow(opens=0.0, closed_from=np.nan, closed_until=np.nan, closes=np.nan)
    assert names(refused(run(2), recoat=none)) == ["", ""]
    assert names(refused(run(1), recoat=replace(none, opens=np.nan))) == ["NOT_KNOWN"]
    assert names(refused(run(1), recoat=replace(none, opens=np.inf))) == ["TOO_SOON"]


def test_pieces_are_answered_together_as_one_by_one():
    rng = np.random.default_rng(5)
    hours = run(48, temperature=rng.uniform(0, 30, 48), humidity=rng.uniform(40, 100, 48))
    metal = hours.temperature + rng.uniform(-6, 6, (3, 48))
    lengths, deadlines = np.array([0.5, 1.5, 3]), np.array([10, np.inf, 30])
    recoat = RecoatWindow(*np.array([[1.0, 5, 9], [8, np.nan, 12], [16, np.nan, 20], [40, 44, np.nan]]))
    left_at = np.arange(48) + rng.uniform(0.5, 6, (3, 48))
    options = {"gates": Gates(temperature_min=5), "working": np.arange(48) % 24 < 10}
    each = {"application_h": lengths, "left_at": left_at, "rust_deadline": deadlines}
    together = refused(hours, metal, recoat=recoat, **options, **each)
    assert together.shape == (3, 48)
    assert together.dtype == np.uint16
    for piece in range(3):
        own = {name: values[piece] for name, values in each.items()}
        below = RecoatWindow(*(values[piece] for values in vars(recoat).values()))
        assert refused(hours, metal[piece], recoat=below, **options, **own).tolist() == together[piece].tolist()


@given(st.data())
def test_the_count_agrees_with_looking_at_every_hour(data):
    count = data.draw(st.integers(1, 12))
    many = {"min_size": count, "max_size": count}
    rain = data.draw(st.lists(st.sampled_from([0.0, 1.0, np.nan]), **many))
    stays = data.draw(st.lists(st.floats(0.1, 8), **many))
    left_at = np.arange(count) + np.maximum(stays, 0.5)
    flags = refused(run(count, rain=rain), application_h=0.5, left_at=left_at)
    for start in range(count):
        inside = [rain[hour] for hour in range(count) if start <= hour < left_at[start] - windows.MOMENT]
        assert bool(flags[start] & Reason.RAIN) == any(fall > 0 for fall in inside)
        unknown = any(np.isnan(fall) for fall in inside) or left_at[start] > count + windows.MOMENT
        assert bool(flags[start] & Reason.NOT_KNOWN) == unknown


@given(st.floats(-10, 35), st.floats(0, 10), st.floats(20, 100))
def test_damper_air_or_colder_metal_never_allows_more(metal, colder, humidity):
    hours = run(1, humidity=humidity)
    damper = run(1, humidity=min(100.0, humidity + colder))
    gates = Gates(temperature_min=5)
    if refused(hours, metal, gates)[0]:
        assert refused(damper, metal, gates)[0]
        assert refused(hours, metal - colder, gates)[0]


def test_spans_and_the_first_allowed_hour():
    flags = np.array([[0, 0, 1, 0], [1, 1, 1, 1]])
    first, second = windows.spans(flags[0], START)
    assert first == (START, START + np.timedelta64(2, "h"))
    assert second == (START + np.timedelta64(3, "h"), START + np.timedelta64(4, "h"))
    assert windows.spans(flags[1], START) == []
    assert windows.first_allowed(flags).tolist() == [0, np.inf]
    assert windows.first_allowed(flags, after=[1.5, 0]).tolist() == [3, np.inf]


@pytest.mark.parametrize(
    "wrong",
    [
        {"margin": -1},
        {"rain_chance_max": 40},
        {"humidity_min": 90, "humidity_max": 80},
        {"temperature_min": 30, "temperature_max": 10},
    ],
)
def test_gates_that_cannot_be_are_refused(wrong):
    with pytest.raises(ValueError, match="margin|chance|lowest"):
        Gates(**wrong)


def test_an_application_takes_some_time():
    with pytest.raises(ValueError, match="application"):
        refused(run(1), application_h=0)


def test_dew_on_a_coat_that_has_set_and_does_not_bear_it_refuses_the_start():
    """Touch-dry an hour after it is on, dew-safe after three; the iron is at its dew point in the fifth hour. A margin
    of 1 °C in the third asks nothing of a coat that has set: start 0. Judged until touch-dry alone, a start that meets
    the dew after it was allowed.
    """
    metal = np.array([20, 20, 13, 20, 11.9, 20, 20, 20, 20])  # dew point 12.0 °C
    touch, safe = np.arange(9) + 2.0, np.arange(9) + 4.0
    assert names(refused(run(9), metal, left_at=touch))[:2] == ["", "MARGIN"]
    told = names(refused(run(9), metal, set_at=touch, left_at=safe))
    assert told == ["", "MARGIN DEW", "MARGIN DEW", "MARGIN", "MARGIN", "", "NOT_KNOWN", "NOT_KNOWN", "NOT_KNOWN"]


def test_damp_and_cold_after_it_has_set_refuse_nothing_and_rain_and_gaps_do():
    touch, safe = np.arange(6) + 1.0, np.arange(6) + 3.0
    times = {"application_h": 0.5, "set_at": touch, "left_at": safe}
    damp_and_cold = run(6, humidity=[60, 90, 60, 60, 60, 60], temperature=[20, 4, 20, 20, 20, 20])
    assert names(refused(damp_and_cold, np.full(6, 18.0), Gates(temperature_min=5), **times))[0] == ""
    assert names(refused(run(6, rain=[0, 0, 1, 0, 0, 0]), np.full(6, 18.0), **times))[0] == "RAIN"
    assert "NOT_KNOWN" in names(refused(run(6, humidity=[60, 60, np.nan, 60, 60, 60]), np.full(6, 18.0), **times))[0]


@pytest.mark.parametrize(("wind", "reason"), [(9.9, ""), (10.0, "WIND"), (np.nan, "NOT_KNOWN")])
def test_nobody_sprays_in_ten_metres_a_second(wind, reason):
    """10 m/s refuses spraying (common practice, no source; moderate wind restricts it [UFC-WIND]); no wind did."""
    hours = run(4, wind=[wind, 15, 15, 3])
    sprayed = Gates(wind_max=windows.NO_SPRAYING.value)
    assert names(refused(hours, gates=sprayed, left_at=np.arange(4) + 2.0))[0] == reason  # drying asks for no calm
    assert names(refused(hours, left_at=np.arange(4) + 2.0))[0] == ""  # nor does a brush


@pytest.mark.parametrize(
    ("wind", "sprayed", "gloss", "warned"),
    [
        (6.9, True, False, []),
        (7.0, True, False, ["SPRAY_DRIFTS"]),
        (9.9, False, False, []),
        (10.0, False, False, ["BRUSH_DRAGS"]),
        (5.0, False, True, ["DUST_FLIES"]),
        (4.9, False, True, []),
        (np.nan, True, True, []),
    ],
)
def test_wind_warns_of_drift_of_drag_and_of_dust(wind, sprayed, gloss, warned):
    """7, 10 and 5 m/s: common practice, no source."""
    limits = [getattr(windows, name) for name in warned]
    found = windows.wind_warnings(run(4, wind=wind), 0.5, 1.5, 3.0, sprayed=sprayed, gloss=gloss)
    assert [warning.limit for warning in found] == limits


def test_dust_is_a_matter_of_the_yard_and_of_the_time_until_it_is_touch_dry():
    gust = run(6, wind=[1, 1, 1, 8, 1, 1])
    asked = {"sprayed": False, "gloss": True}
    assert len(windows.wind_warnings(gust, 0, 1, 4, **asked)) == 1
    assert windows.wind_warnings(gust, 0, 1, 3, **asked) == []
    assert windows.wind_warnings(gust.under_roof(), 0, 1, 4, **asked) == []


ALKYD = DryingTable(
    (SheetRow(10, touch=10, recoat_from=30), SheetRow(23, touch=5, recoat_from=15)),
    floor=5,
    generic_type="alkyd enamel",
)


@pytest.mark.parametrize("place", ["inland", "cold coast"])
def test_no_alkyd_start_of_an_open_year_meets_dew_before_it_bears_it(open_years, place):
    """Every start of a whole year (TMY3, as pvlib carries it), an alkyd enamel in the open on a casting of 12 mm wall.

    Until touch-dry alone, more than one allowed start in ten meets dew or rain before the coat may be recoated.
    """
    hours = open_years[place]
    hours = replace(hours, rain=np.nan_to_num(hours.rain))
    iron = metal_temperature(hours, 0.006, sky=True)
    done = np.arange(len(hours)) + 1.0
    touch, safe = (
        drying.dried(ALKYD, stage, iron, hours.humidity, done) for stage in (ALKYD.set_stage, ALKYD.dew_safe_stage)
    )
    wet = np.append(np.cumsum((iron <= hours.dew_point) | (hours.rain > 0)), np.inf)
    spoilt = [
        bool(np.isfinite(end) and wet[int(np.ceil(end)) - 1] > (wet[start - 1] if start else 0))
        for start, end in enumerate(safe)
    ]
    gates = Gates(temperature_min=5, temperature_max=35)
    before = refused(hours, iron, gates, left_at=touch) == 0
    now = refused(hours, iron, gates, set_at=touch, left_at=safe) == 0
    assert np.mean(np.array(spoilt)[before]) > 0.1
    assert now.any()
    assert not np.array(spoilt)[now].any()
    assert not (now & ~before).any()
