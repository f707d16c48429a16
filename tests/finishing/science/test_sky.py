"""The sky against a published example and an independent solar library."""

import numpy as np
import pandas as pd
import pvlib
import pytest

from finishing.science import sky
from finishing.science.hours import Hours
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity

sky_temperature = sky.sky_temperature.__wrapped__

PLACES = {"inland": (36.1, -79.95), "cold coast": (55.317, -160.517), "south": (-33.9, 18.4), "pole": (85.0, 10.0)}


def test_the_clear_night_sky_is_far_colder_than_the_air():
    """Air 10 °C, dew point 7 °C: −9.3 °C, worked by hand from the published formula."""
    told = sky.sky_temperature(Quantity(10, "degC"), Quantity(7, "degC"), Quantity(0, ""))
    assert told.to("degC").magnitude == pytest.approx(-9.3, abs=0.05)


def test_cloud_and_damp_warm_the_sky_and_never_beyond_the_air():
    clouds, dews = np.linspace(0, 1, 11), np.linspace(-60, 30, 91)
    assert (np.diff(sky_temperature(15, 5, clouds)) > 0).all()
    assert (np.diff(sky_temperature(30, dews, 0.0)) >= 0).all()
    assert (sky_temperature(35, np.array([30.0, 34.0]), 1.0) <= 35).all()


def test_unknown_cloud_counts_as_the_colder_clear_sky():
    unknown, clear = sky.lost_to_sky(np.full(2, 10.0), np.full(2, 7.0), np.array([np.nan, 0.0]))
    assert unknown == clear > 0


def test_heat_lost_is_that_between_air_and_sky():
    lost = sky.lost_to_sky(np.array([10.0]), np.array([7.0]), np.array([0.3]))[0]
    there = sky_temperature(10.0, 7.0, 0.3) + 273.15
    assert lost == pytest.approx(5.670374e-8 * (283.15**4 - there**4))


@pytest.mark.parametrize("place", PLACES)
def test_clear_sun_agrees_with_a_solar_library(place):
    """pvlib: its own sun position and the same clear sky, through a year at the middle of each hour."""
    latitude, longitude = PLACES[place]
    hours = Hours.from_arrays(np.datetime64("2025-01-01T00"), temperature=np.zeros(8760))
    middles = pd.DatetimeIndex(hours.times.astype("datetime64[s]") + np.timedelta64(30, "m"), tz="UTC")
    zenith = pvlib.solarposition.get_solarposition(middles, latitude, longitude)["zenith"]
    reference = pvlib.clearsky.haurwitz(zenith)["ghi"].to_numpy()
    ours = sky.clear_sky_sun(hours, latitude, longitude)
    assert np.abs(ours - reference).max() < 25
    assert np.abs(ours - reference).mean() < 5


def test_the_sun_of_a_real_year_seldom_passes_the_clear_sky(open_years):
    """Edges of broken cloud do add a little; by more than a tenth in fewer than one sunny hour of fifty."""
    for name, hours in open_years.items():
        clear = sky.clear_sky_sun(hours, *PLACES[name])
        sunny = hours.sun > 50
        assert np.mean(hours.sun[sunny] > 1.1 * clear[sunny] + 20) < 0.02


@pytest.mark.parametrize(("latitude", "longitude"), [(91, 0), (0, 181)])
def test_a_place_off_the_globe_is_refused(latitude, longitude):
    hours = Hours.from_arrays(np.datetime64("2025-01-01T00"), temperature=[0.0])
    with pytest.raises(OutsideValidity):
        sky.clear_sky_sun(hours, latitude, longitude)
