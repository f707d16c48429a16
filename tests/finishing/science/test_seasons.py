"""Which weeks are workable: small years whose answers can be counted in the head, and iron against its own room."""

from dataclasses import replace

import numpy as np
import pytest

from finishing.science import seasons
from finishing.science.drying import DryingTable, SheetRow
from finishing.science.hours import Hours
from finishing.science.metal import metal_temperature
from finishing.science.seasons import Season, SeasonStep, Year, iron_through, season
from finishing.science.validity import OutsideValidity
from finishing.science.windows import Gates

COUNT = 8760
HOUR_OF_DAY, WEEK = np.arange(COUNT) % 24, np.minimum(np.arange(COUNT) // 168, 51)
AT_WORK = (HOUR_OF_DAY >= 8) & (HOUR_OF_DAY < 18)  # ten hours a day, seven days a week
BLAST = SeasonStep(Gates(), application_h=1.0)


def year(**columns):
    wide = {"temperature": 20.0, "humidity": 50.0, "rain": 0.0} | columns
    air = {name: np.broadcast_to(values, COUNT) for name, values in wide.items()}
    return Year(Hours.from_arrays(np.datetime64("2025-01-01T00"), **air), AT_WORK, WEEK)


def answer(*years, step=BLAST):
    return season(years, [y.hours.temperature for y in years], step)


def in_weeks(first, last, good, bad):
    """By hour: the good value from week to week, both counted, the bad one elsewhere."""
    return np.where((first <= WEEK) & (last >= WEEK), good, bad)


# Counting


def test_a_year_of_fine_days_has_seventy_hours_a_week():
    found = answer(year())
    assert found.median[:51].tolist() == [70] * 51
    assert found.median[51] == pytest.approx(70)  # eight days, brought to seven
    assert found.best == [(0, 51)]


def test_an_application_of_three_hours_must_end_with_work():
    assert answer(year(), step=replace(BLAST, application_h=3.0)).median[5] == 56  # 8 to 15 o'clock, eight starts a day


def test_damp_weeks_have_none_and_the_others_are_the_best():
    found = answer(year(humidity=in_weeks(20, 29, 50.0, 90.0)))
    assert found.median[19:31].tolist() == [0, *[70] * 10, 0]
    assert found.best == [(20, 29)]


def test_one_lucky_week_makes_no_season_and_one_unlucky_week_ends_none():
    good = (WEEK == 5) | ((WEEK >= 20) & (WEEK <= 29) & (WEEK != 24))
    assert answer(year(humidity=np.where(good, 50.0, 90.0))).best == [(20, 29)]


def test_rain_before_it_may_be_left_takes_the_hour():
    """Touch-dry after four hours; it rains at 16 o'clock. By hand: begun 8 to 11, or at 17, it stays dry.

    That is a lacquer. An alkyd bears rain when the next coat may go on, after 16 h: only begun at 17 it does."""
    table = DryingTable((SheetRow(20, touch=4, recoat_from=16),), floor=5, generic_type="nitrocellulose")
    raining = year(rain=np.where(HOUR_OF_DAY == 16, 1.0, 0.0))
    assert answer(raining, step=SeasonStep(Gates(), 1.0, table)).median[5] == 5 * 7
    alkyd = replace(table, generic_type="alkyd enamel")
    assert answer(raining, step=SeasonStep(Gates(), 1.0, alkyd)).median[5] == 1 * 7


def test_slower_drying_leaves_fewer_hours():
    table = DryingTable((SheetRow(20, touch=4, recoat_from=16),), floor=5, generic_type="nitrocellulose")
    raining = year(rain=np.where(HOUR_OF_DAY == 16, 1.0, 0.0))
    assert answer(raining, step=SeasonStep(Gates(), 1.0, table, slower=1.5)).median[5] == 3 * 7


def test_cold_weeks_in_which_a_coat_never_dries_are_none_and_not_unknown():
    table = DryingTable((SheetRow(20, touch=4, recoat_from=16),), floor=5)
    found = answer(year(temperature=3.0), step=SeasonStep(Gates(), 1.0, table))
    assert found.median.tolist() == [0] * 52
    assert found.best == []


def test_the_step_with_fewest_hours_holds_the_whole():
    some = year(humidity=in_weeks(20, 29, 50.0, 70.0))
    strict = SeasonStep(Gates(humidity_max=65), 1.0)
    together = seasons.least([answer(some), answer(some, step=strict)])
    assert together.best == [(20, 29)]
    assert together.median[[10, 25]].tolist() == [0, 70]


# The spread of years


def test_the_spread_is_the_years_own():
    """Ten years with 7, 14, … 70 hours in every week; quantiles by numpy's rule, 10 % lies between the first two."""
    years = [year(humidity=np.where(HOUR_OF_DAY - share < 8, 50.0, 95.0)) for share in range(1, 11)]
    found = answer(*years)
    assert (found.low[9], found.median[9], found.high[9]) == pytest.approx((13.3, 38.5, 63.7))
    assert found.years.tolist() == [10] * 52


def test_one_year_alone_has_no_spread():
    found = answer(year(humidity=in_weeks(20, 29, 50.0, 90.0)))
    np.testing.assert_array_equal(found.low, found.high)


# What is not known


def test_half_a_year_speaks_of_its_own_weeks_only():
    half = year(temperature=np.where(np.arange(COUNT) < COUNT / 2, 20.0, np.nan))
    found = answer(half)
    assert found.median[:26].tolist() == [70] * 26
    assert np.isnan(found.median[26:]).all()
    assert found.years.tolist() == [1] * 26 + [0] * 26
    assert found.best == [(0, 25)]


def test_a_whole_year_fills_the_weeks_that_half_a_year_lacks():
    half = year(temperature=np.where(np.arange(COUNT) < COUNT / 2, 20.0, np.nan))
    assert answer(half, year()).years.tolist() == [2] * 26 + [1] * 26


def test_an_unknown_hour_is_never_workable():
    at_noon = np.where((HOUR_OF_DAY == 12) & (np.arange(COUNT) % 168 < 24), np.nan, 20.0)
    assert answer(year(temperature=at_noon)).median[5] == 69


def test_without_years_nothing_is_known():
    found = season([], [], BLAST)
    assert np.isnan(found.median).all()
    assert found.best == []


def test_rain_that_a_file_does_not_tell_leaves_no_week_known():
    untold = year(rain=np.nan)
    assert not seasons.tells_rain(untold.hours)
    assert np.isnan(answer(untold).median).all()


def test_apart_from_rain_such_a_file_still_answers():
    untold = year(rain=np.nan)
    apart = replace(untold, hours=seasons.apart_from_rain(untold.hours))
    assert seasons.tells_rain(apart.hours)
    assert answer(apart).median[5] == 70


def test_the_working_names_gates_and_years():
    told = seasons.weekly_working(SeasonStep(Gates(temperature_min=5), 1.5), answer(year()), "2016 to 2025")
    assert told.result == "70 h in seven days"
    assert ("air and metal", "from 5 °C") in told.inputs
    assert ("years", "2016 to 2025") in told.inputs
    nothing = Season(*(np.full(52, np.nan) for _ in range(3)), years=np.zeros(52, int))
    assert seasons.weekly_working(BLAST, nothing, "none").result == "0 h in seven days"


# Iron through the year


@pytest.mark.parametrize(("length", "shelter"), [(0.006, "outdoor"), (0.05, "outdoor"), (0.05, "still indoor")])
def test_weeks_side_by_side_give_the_iron_of_a_single_run(open_years, length, shelter):
    """Against metal_temperature, hour by hour; it begins in balance with the sky, and the first day differs by that."""
    month = open_years["inland"].between(np.datetime64("1990-03-20T00"), np.datetime64("1990-04-20T00"))
    hours = month if shelter == "outdoor" else month.in_shop(16)
    alone = metal_temperature(hours, length, shelter=shelter, sky=True)
    ours = iron_through([hours], length, shelter)[0]
    assert ours[24:] == pytest.approx(alone[24:], abs=2e-3)


def test_years_side_by_side_are_each_reckoned_alone(open_years):
    a, b, _ = (hours.between(hours.start, hours.start + np.timedelta64(500, "h")) for hours in open_years.values())
    both = iron_through([a, b], 0.01)
    np.testing.assert_array_equal(both[0], iron_through([a], 0.01)[0])
    np.testing.assert_array_equal(both[1], iron_through([b], 0.01)[0])
    assert [len(iron) for iron in both] == [500, 500]


def test_beside_a_gap_heavy_iron_is_unknown_for_longer():
    air = np.full(500, 12.0)
    air[200:230] = np.nan
    hours = Hours.from_arrays(np.datetime64("2025-01-01T00"), temperature=air, humidity=60, wind=2)
    light, heavy = (np.isnan(iron_through([hours], length)[0]) for length in (0.003, 0.03))
    assert light[200:230].all()
    assert not light[:200].any()
    assert light.sum() < heavy.sum() < 80
    np.testing.assert_array_equal(heavy, np.isnan(metal_temperature(hours, 0.03, sky=True)))


def test_a_year_of_which_nothing_is_known_has_no_iron():
    hours = Hours.from_arrays(np.datetime64("2025-01-01T00"), temperature=np.full(300, np.nan))
    assert np.isnan(iron_through([hours], 0.01)[0]).all()
    assert iron_through([], 0.01) == []


def test_iron_too_thick_for_a_three_day_lead_is_refused():
    with pytest.raises(OutsideValidity, match="volume by area"):
        iron_through([year().hours], 0.15)
