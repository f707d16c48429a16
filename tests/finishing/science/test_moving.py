"""A piece wheeled from one air into another."""

import numpy as np
import pytest

from finishing.science.hours import Hours
from finishing.science.metal import metal_temperature
from finishing.science.moving import moves, stretches

EIGHT = np.datetime64("2025-03-01T08")


def steady(count=12, temperature=18.0, humidity=50.0):
    return Hours.from_arrays(EIGHT, temperature=np.full(count, temperature), humidity=humidity, rain=0.0)


def test_a_cold_casting_carried_into_a_warm_shop():
    """5 °C into 18 °C and 50 % (dew point 7.42 °C), L 20 mm, h 8: settled after 1.24 h, wet on arrival.

    Exact solution of the lumped model, [INCROPERA] ch. 5, worked by hand; the chord between hours is late, never early.
    """
    moved = moves(np.full(12, 5.0), steady(), 0.020, "still indoor")
    assert 1.24 <= moved.settles[0] <= 1.24 + 0.06
    assert moved.sweats[0]
    assert moved.rust_spent[0] == 1


def test_a_piece_as_warm_as_the_shop_is_safe_at_once():
    moved = moves(np.full(12, 18.0), steady(), 0.020, "still indoor")
    assert moved.safe.all()
    assert not moved.sweats.any()
    assert (moved.rust_spent == 0).all()


def test_a_piece_a_little_cold_spends_budget_but_stays_dry():
    """10 °C metal: 2.6 °C above the dew point, air touching it at 84 %, and an hour later at 70 %: a quarter of the
    hour in the band from 80 % and the rest in that from 70 %. An hour read at its ends alone spent all."""
    moved = moves(np.full(12, 10.0), steady(), 0.020, "still indoor", salt_shift=0)
    assert 0 < moved.settles[0] < 1
    assert not moved.sweats[0]
    assert moved.rust_spent[0] == pytest.approx(3 / 12 + 9 / 12 / 2)


def test_each_hour_of_moving_equals_a_run_begun_there():
    rising = np.linspace(4, 16, 12)
    moved = moves(rising, steady(), 0.015, "still indoor")
    for hour in (0, 3, 7):
        alone = metal_temperature(steady(12 - hour), 0.015, rising[hour], "still indoor")
        least = np.min(alone[: int(np.ceil(moved.settles[hour])) + 1] - 7.42)
        assert moved.coldest[hour] == pytest.approx(least, abs=0.02)


def test_heavier_iron_never_settles_sooner():
    light, heavy = (moves(np.full(12, 5.0), steady(), length, "still indoor") for length in (0.005, 0.03))
    assert (heavy.settles >= light.settles).all()


@pytest.mark.parametrize("unknown", ["here", "there"])
def test_what_is_not_known_is_never_safe(unknown):
    start, shop = np.full(12, 18.0), steady()
    if unknown == "here":
        start[3] = np.nan
    else:
        shop.temperature[3] = shop.dew_point[3] = np.nan
    moved = moves(start, shop, 0.020, "still indoor")
    assert not moved.safe[3]
    assert moved.sweats[3]
    assert moved.rust_spent[3] == 1


def test_over_whole_open_weeks_no_hour_fails(open_years):
    for year in open_years.values():
        week = year.between(year.times[2000], year.times[2168])
        outside = metal_temperature(week, 0.01, sky=True)
        moved = moves(outside, week.in_shop(16.0), 0.01, "still indoor")
        assert (moved.settles >= 0).all()
        assert ((moved.rust_spent >= 0) & (moved.rust_spent <= 1)).all()


def test_a_good_time_ends_where_the_chord_meets_the_level():
    assert stretches([4.0, 2.0, -2.0, 2.0]) == [(0.0, 1.5), (2.5, 3.0)]
    assert stretches([1.0, 0.0, -1.0]) == [(0.0, 1.0)]
    assert stretches([-1.0, -1.0]) == []


@pytest.mark.parametrize(
    ("above", "allowed"),
    [([2.0, 2.0, np.nan, 2.0, 2.0], True), ([2.0] * 5, [True, False, False, True, True])],
)
def test_what_is_not_known_or_not_allowed_is_never_in_a_good_time(above, allowed):
    assert stretches(above, allowed) == [(0.0, 1.0), (3.0, 4.0)]


def test_pieces_asked_for_together_equal_each_alone():
    leaving = np.linspace(4, 16, 12) + np.array([[0.0], [3.0], [1.0]])
    leaving[2, 4] = np.nan
    lengths, shifts = np.array([0.005, 0.03, 0.015]), np.array([0.0, 10.0, 20.0])
    together = moves(leaving, steady(), lengths, "still indoor", salt_shift=shifts)
    for n in range(3):
        alone = moves(leaving[n], steady(), lengths[n], "still indoor", salt_shift=shifts[n])
        for name in ("settles", "coldest", "sweats", "rust_spent"):
            np.testing.assert_allclose(getattr(together, name)[n], getattr(alone, name))
