"""The sky against a published example and an independent solar library."""

import numpy as np
import pandas as pd
import pvlib
import pytest

from finishing.science import sky
from finishing.science.hours import Hours
from finishing.science.metal import metal_temperature
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity

sky_temperature = sky.sky_temperature.__wrapped__

PLACES = {
    "inland": (36.1, -79.95),
    "cold coast": (55.317, -160.517),
    "river plain": (49.52, 8.55),
    "south": (-33.9, 18.4),
    "pole": (85.0, 10.0),
}


def test_the_clear_night_sky_is_far_colder_than_the_air():
    """Air 10 °C, dew point 7 °C: −9.3 °C, worked by hand from the published formula."""
    told = sky.sky_temperature(Quantity(10, "degC"), Quantity(7, "degC"), Quantity(0, ""))
    assert told.to("degC").magnitude == pytest.approx(-9.3, abs=0.05)


def test_cloud_and_damp_warm_the_sky_and_never_beyond_the_air():
    clouds, dews = np.linspace(0, 1, 11), np.linspace(-60, 30, 91)
    assert (np.diff(sky_temperature(15, 5, clouds)) > 0).all()
    assert (np.diff(sky_temperature(30, dews, 0.0)) >= 0).all()
    assert (sky_temperature(35, np.array([30.0, 34.0]), 1.0) <= 35).all()


def day_of(**columns):
    return Hours.from_arrays(np.datetime64("2026-05-12T00"), temperature=np.full(24, 8.0), humidity=78, **columns)


def test_a_sky_that_is_not_known_is_clear_by_night_and_takes_nothing_by_day():
    """It was clear by day too, and wetted iron of a May noon. The rule is the handbook's, [our judgement]."""
    careful = sky.careful(day_of(), 52.4, -1.9, np.zeros(24, bool))
    lost = sky.lost_to_sky(careful.temperature, careful.dew_point, careful.cloud)
    assert (lost[[0, 23]] > 0).all()
    assert (lost[6:18] == 0).all()
    assert sky.lost_to_sky(*(getattr(day_of(), name) for name in ("temperature", "dew_point", "cloud"))).sum() == 0


@pytest.mark.parametrize(("cloud", "share"), [(0.0, 1.0), (0.5, 0.929), (1.0, 0.25)])
def test_sun_comes_through_cloud_where_a_service_tells_no_radiation(cloud, share):
    """1 − 0.75·n^3.4 [KASTEN-CZEPLAK]: 1, 0.929 and 0.25 at no, half and full cover. It was none at all before."""
    hours, clear = day_of(cloud=cloud), sky.clear_sky_sun(day_of(), 52.4, -1.9)
    assert sky.sun_told(hours, 52.4, -1.9) == pytest.approx(share * clear, abs=0.5)
    assert sky.careful(hours, 52.4, -1.9, np.ones(24, bool)).sun.max() > 150
    assert sky.careful(hours, 52.4, -1.9, np.zeros(24, bool)).sun.max() == 0  # a place that says nothing of sun
    told = sky.sun_told(day_of(cloud=cloud, sun=100.0), 52.4, -1.9)
    assert (told == 100).all()


def test_iron_in_a_clear_july_day_is_warm_where_the_place_has_sun():
    """25 mm of iron at 23 °C: told 20 °C before, about 28 °C by the handbook."""
    hours = Hours.from_arrays(
        np.datetime64("2026-07-10T00"), temperature=np.full(24, 23.0), humidity=50, cloud=0.0, wind=2.0
    )
    sunny = sky.careful(hours, 52.4, -1.9, np.ones(24, bool))
    iron = metal_temperature(sunny, 0.0125, sky=True)
    assert iron[13:16].max() == pytest.approx(28, abs=1.5)


def test_sun_that_is_not_known_is_none_or_that_of_a_clear_sky():
    unknown, no_sun = day_of(), np.zeros(24, bool)
    sure, most = sky.careful(unknown, 52.4, -1.9, ~no_sun), sky.warmest(unknown, 52.4, -1.9)
    assert sure.sun.max() == 0
    assert most.sun == pytest.approx(sky.clear_sky_sun(unknown, 52.4, -1.9))
    assert (metal_temperature(most, 0.0125, sky=True) >= metal_temperature(sure, 0.0125, sky=True)).all()


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
