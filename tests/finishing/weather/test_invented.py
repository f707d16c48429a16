"""Invented weather must be repeatable and plausible; nothing is concluded from it."""

import numpy as np
import pandas as pd
import pvlib
import pytest

from finishing.weather import invented
from finishing.weather.invented import invented_hours


@pytest.fixture(scope="module")
def year():
    return invented_hours("2026-01-01", 24 * 365, seed=3, latitude=52.0)


def by_hour(values):
    return values.reshape(-1, 24).mean(axis=0)


def test_it_says_that_it_is_invented():
    assert "Invented" in invented.ATTRIBUTION


def test_a_seed_repeats_itself_and_another_does_not():
    one, again, other = (invented_hours("2026-05-01", 48, seed) for seed in (7, 7, 8))
    assert (one.temperature == again.temperature).all()
    assert (one.temperature != other.temperature).any()


def test_runs_that_overlap_agree():
    early, late = invented_hours("2026-05-01T03", 96, 7), invented_hours("2026-05-02T17", 96, 7)
    shared = early.between(late.start, early.end)
    for column in ("temperature", "dew_point", "wind", "cloud", "sun", "rain", "rain_chance"):
        assert (getattr(shared, column) == getattr(late, column)[: len(shared)]).all(), column


def test_counted_from_a_first_day_the_same_weather_stands_round_any_day():
    spring = invented_hours("2026-04-30", 96, 7, first_day="2026-05-01", season=135)
    winter = invented_hours("2027-01-09", 96, 7, first_day="2027-01-10", season=135)
    assert (spring.temperature == winter.temperature).all()
    assert (spring.rain == winter.rain).all()


def test_every_hour_is_known_and_air_of_this_earth(year):
    assert year.known.all()
    assert not year.coarse.any()
    assert -20 < year.temperature.min() < 5
    assert 20 < year.temperature.max() < 38
    assert (year.dew_point <= year.temperature).all()


def test_days_warm_and_cool(year):
    hourly = by_hour(year.temperature)
    assert 13 <= hourly.argmax() <= 16
    assert 3 <= hourly.argmin() <= 6
    assert 4 < np.ptp(hourly) < 14


def test_july_is_warmer_than_january_in_the_north_and_colder_in_the_south(year):
    january, july = year.temperature[: 31 * 24].mean(), year.temperature[181 * 24 : 212 * 24].mean()
    assert 10 < july - january < 20
    south = invented_hours("2026-01-01", 24 * 365, seed=3, latitude=-38.0)
    assert south.temperature[: 31 * 24].mean() > south.temperature[181 * 24 : 212 * 24].mean() + 5


def test_clear_nights_are_damp_and_clear_days_dry(year):
    hour, clear = np.arange(len(year)) % 24, year.cloud < 0.3
    assert year.humidity[clear & (hour == 5)].mean() > 90
    assert year.humidity[clear & (hour == 15)].mean() < 65


def test_it_rains_from_cloud_into_damp_air(year):
    wet = year.rain > 0
    assert 0.02 < wet.mean() < 0.2
    assert (year.cloud[wet] >= 0.85).all()
    assert (year.humidity[wet] > 85).all()
    assert (year.rain_chance[wet] > year.rain_chance[~wet].mean()).all()


def test_wetness_makes_it_wetter():
    rain = [invented_hours("2026-01-01", 24 * 200, 5, wetness=wetness).rain.sum() for wetness in (0.1, 0.4, 0.8)]
    assert rain == sorted(rain)
    assert rain[0] < rain[2] / 3


def test_the_sun_stands_where_it_stands_over_a_real_place():
    """Against pvlib's solar position and Haurwitz's clear sky: ours leaves out the equation of time (± 16 min)."""
    hours = invented_hours("2026-06-01", 24 * 30, 3, latitude=52.0, longitude=0.0, wetness=0.0)
    times = pd.DatetimeIndex(hours.times.astype("datetime64[ns]"), tz="UTC")
    zenith = pvlib.solarposition.get_solarposition(times, 52.0, 0.0)["apparent_zenith"]
    clear = pvlib.clearsky.haurwitz(zenith)["ghi"].to_numpy()
    assert (hours.sun <= clear + 40).all()
    assert hours.sun[hours.cloud < 0.1] == pytest.approx(clear[hours.cloud < 0.1], abs=40)
    assert (hours.cloud < 0.1).sum() > 10


def test_it_runs_at_the_poles_and_on_the_equator():
    for latitude in (-90.0, 0.0, 90.0):
        assert invented_hours("2026-12-30", 72, 1, latitude=latitude).known.all()
