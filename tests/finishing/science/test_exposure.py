"""Bare iron in two places, in steady air whose budget is worked out in the head: 55 % takes an eighth of it an hour."""

import numpy as np
import pytest

from finishing.science.exposure import StandingIron, finish_by, finish_by_among, finish_by_carried
from finishing.science.hours import Hours
from finishing.science.moving import Moves
from finishing.science.rust import Exposure

CLEAN = Exposure(salt_shift=0)
START = np.array([0.0])


def standing(humidity, rain=0.0, count=48):
    hours = Hours.from_arrays(
        np.datetime64("2026-05-12T00"), temperature=np.full(count, 20.0), humidity=humidity, rain=rain
    )
    return StandingIron(hours, hours.temperature[None])


def arriving(settles=0.0, sweats=False, spent=0.0, count=48):
    return Moves(np.full(count, settles), np.full(count, 5.0), np.full(count, sweats), np.full(count, spent))


def carried(here, there, when=2.0, hours=1.0, **coming):
    return float(finish_by_carried(here, [there], CLEAN, START, np.array([when]), hours, arriving(**coming))[0])


def test_where_it_stays_the_budget_alone_decides():
    assert finish_by(standing(55.0), CLEAN, START).tolist() == [7.75]
    assert finish_by_among([standing(55.0)], CLEAN, START).tolist() == [7.75]


def test_carried_into_like_air_it_keeps_as_long_as_if_it_had_stayed_and_been_carried():
    """Two of eight hours are gone, one more is spent on carrying it, and six are left, less a quarter."""
    assert carried(standing(55.0), standing(55.0)) == 8.75


def test_it_keeps_what_it_spent_before():
    """Two hours of 65 % take half of it; an hour later four hours of 55 % are left."""
    assert carried(standing(65.0), standing(55.0)) == pytest.approx(2 + 1 + 4 - 0.25)


def test_settling_spends_and_takes_its_time():
    """Two of eight hours gone, an eighth while it settles for an hour, and five are left from four o'clock on."""
    assert carried(standing(55.0), standing(55.0), settles=1.0, spent=1 / 8) == 8.75


@pytest.mark.parametrize(
    "lost",
    [{"sweats": True}, {"spent": 1.0}, {"when": np.inf}, {"when": 9.0}],
    ids=["sweats", "spent", "never", "late"],
)
def test_iron_that_does_not_arrive_sound_has_no_time_at_all(lost):
    assert carried(standing(55.0), standing(55.0), **lost) == 0.0


def test_rain_in_the_place_it_comes_to_ends_it():
    wet = np.where(np.arange(48) >= 5, 1.0, 0.0)
    assert carried(standing(38.0), standing(38.0, rain=wet)) == 4.75


def test_wet_work_begins_with_half_the_budget():
    wet = Exposure(salt_shift=0, wet_work=True)
    assert finish_by_among([standing(55.0), standing(38.0)], wet, START) == pytest.approx([3.75])
