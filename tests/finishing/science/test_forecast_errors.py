"""Errors of forecasts by hours ahead: what is put in comes out, and members drawn from them have it again."""

import numpy as np
import pytest

from finishing.science.forecast_errors import REACH, RainScore, draw_members, lead_errors, spread_working
from finishing.science.hours import Hours
from finishing.science.sources import SOURCES

MEMORY, TOGETHER, HOURS = 0.9, 0.6, 120
SPREAD = 1.0 + 2.0 * np.arange(HOURS) / HOURS


def remembered(random, forecasts, hours=HOURS, memory=MEMORY):
    """AR(1) by its definition, one step after the other."""
    rows = np.empty((forecasts, hours))
    rows[:, 0] = random.standard_normal(forecasts)
    for hour in range(1, hours):
        rows[:, hour] = memory * rows[:, hour - 1] + np.sqrt(1 - memory**2) * random.standard_normal(forecasts)
    return rows


@pytest.fixture(scope="module")
def learned():
    """Air foretold half a degree too warm, off by 1 to 3 °C; the dew point half as much; rain known in no hour."""
    random = np.random.default_rng(1)
    own, other = remembered(random, 1500), remembered(random, 1500)
    damp = TOGETHER * own + np.sqrt(1 - TOGETHER**2) * other
    unknown = np.full_like(own, np.nan)
    return lead_errors(0.5 + SPREAD * own, 0.5 * SPREAD * damp, unknown, unknown)


def test_bias_spread_and_memory_are_found_again(learned):
    inside = slice(2, 90)  # at the very end there is nothing further ahead to be taken together with it
    assert learned.air_bias[inside] == pytest.approx(0.5, abs=0.15)
    assert learned.air_spread[inside] == pytest.approx(SPREAD[inside], rel=0.06)
    assert learned.dew_spread[inside] == pytest.approx(0.5 * SPREAD[inside], rel=0.06)
    assert learned.memory == pytest.approx(MEMORY, abs=0.011)
    assert learned.together == pytest.approx(TOGETHER, abs=0.03)


def test_members_have_the_errors_that_were_learned(learned):
    """2,000 members: their mean is the forecast less its bias, their spread and memory those of the errors."""
    told = Hours.from_arrays(np.datetime64("2030-05-01T06"), temperature=np.full(100, 15.0), dew_point=-20.0, rain=0.0)
    drawn = draw_members(told, learned, 1000, seed=3)
    air = np.array([member.temperature for member in drawn])
    assert air.mean(axis=0) == pytest.approx(14.5, abs=0.45)
    assert air.std(axis=0)[5:90] == pytest.approx(SPREAD[5:90], rel=0.12)
    standard = (air - air.mean(axis=0)) / air.std(axis=0)
    assert (standard[:, 1:] * standard[:, :-1]).mean() == pytest.approx(MEMORY, abs=0.02)
    dew = np.array([member.dew_point for member in drawn])
    assert np.corrcoef(air[:, 50], dew[:, 50])[0, 1] == pytest.approx(TOGETHER, abs=0.08)
    again = draw_members(told, learned, 1000, seed=3)
    assert all((one.temperature == two.temperature).all() for one, two in zip(drawn, again, strict=True))


def test_no_member_has_more_water_than_its_air_holds(learned):
    told = Hours.from_arrays(np.datetime64("2030-05-01T06"), temperature=np.full(300, 10.0), humidity=99.0, rain=0.0)
    for member in draw_members(told, learned, 20, seed=1):
        assert (member.dew_point <= member.temperature).all()
        assert (member.humidity <= 100).all()


def test_rain_comes_and_stays_away_as_often_as_it_did():
    """Of hours with rain foretold 60 % were wet, of dry ones 10 %: so it is in the members, hour beside hour."""
    random = np.random.default_rng(2)
    foretold = (random.random((400, 60)) < 0.5).astype(float)
    seen = np.where(random.random((400, 60)) < np.where(foretold == 1, 0.6, 0.1), 1.0, 0.0)
    off = random.standard_normal((400, 60))
    learned = lead_errors(off, off, foretold, seen)
    rain = np.where(np.arange(60) % 2, 2.0, 0.0)
    told = Hours.from_arrays(np.datetime64("2030-05-01T06"), temperature=np.full(60, 15.0), humidity=50, rain=rain)
    wet = np.array([member.rain > 0 for member in draw_members(told, learned, 1000, seed=1)])
    assert wet[:, 1::2].mean() == pytest.approx(0.6, abs=0.03)
    assert wet[:, ::2].mean() == pytest.approx(0.1, abs=0.03)


def test_where_nobody_looked_rain_is_the_forecasts_own(learned):
    rain = np.where(np.arange(60) < 5, 1.5, 0.0)
    told = Hours.from_arrays(np.datetime64("2030-05-01T06"), temperature=np.full(60, 15.0), humidity=50, rain=rain)
    assert all((member.rain == rain).all() for member in draw_members(told, learned, 10, seed=1))


def test_a_handful_of_errors_is_not_enough():
    few = np.ones((3, REACH))
    errors = lead_errors(few, few, few * np.nan, few * np.nan)
    assert not errors.enough
    told = Hours.from_arrays(np.datetime64("2030-05-01T06"), temperature=[15.0], humidity=50, rain=0.0)
    with pytest.raises(ValueError, match="too few"):
        draw_members(told, errors, 10, seed=1)


def test_readings_three_hours_apart_tell_how_long_errors_last():
    every_third = remembered(np.random.default_rng(4), 800)
    every_third[:, np.arange(HOURS) % 3 > 0] = np.nan
    errors = lead_errors(every_third, every_third, every_third * np.nan, every_third * np.nan)
    assert errors.memory == pytest.approx(MEMORY, abs=0.02)


def test_rain_is_scored_as_finleys_tornadoes_were():
    """[FINLEY]: foretold 100, of which 28 came; 23 came unforetold. Detected 0.55, false alarms 0.72."""
    score = RainScore(*(np.array([float(count)]) for count in (28, 72, 23, 2680)))
    assert score.share_foretold[0] == pytest.approx(0.55, abs=0.005)
    assert score.false_alarms[0] == pytest.approx(0.72)
    assert score.known[0] == 2803


def test_its_working_names_a_source(learned):
    assert spread_working(1.5, 40, 24, "air").source in SOURCES
