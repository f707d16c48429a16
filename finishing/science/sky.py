"""The sky over the yard: how cold it is by night, how much sun it lets through by day."""

from dataclasses import replace
from typing import Any

import numpy as np

from . import constants as _c
from .hours import Flags, Floats, Hours
from .units import units
from .validity import within

_ZERO = _c.ZERO_CELSIUS.value
_SIGMA = _c.STEFAN_BOLTZMANN.value

DRIEST = -38.0  # °C dew point, where the parabola of the clear sky turns back


@units.wraps("degC", ("degC", "degC", ""))
def sky_temperature(air: Any, dew_point: Any, cloud: Any) -> Any:
    """Temperature at which the sky radiates: far below the air on a clear night, near it under cloud.

    ε_0 = 0.711 + 0.0056·t_d + 0.000073·t_d²      clear sky [MARTIN-BERDAHL], t_d in °C
    ε = (1 − 0.84·n)·ε_0 + 0.84·n                  cloud fraction n [UNSWORTH-MONTEITH]
    T_sky = T_a·ε^¼                                in kelvin
    Dew points below −38 °C are read as −38 °C, where the parabola turns back.

    >>> from finishing.science.units import Quantity as Q
    >>> f"{sky_temperature(Q(10, 'degC'), Q(7, 'degC'), Q(0, '')):.1f~P}"
    '-9.3 °C'
    """
    within("cloud", cloud, 0.0, 1.0, "of the sky", "UNSWORTH-MONTEITH")
    return (np.asarray(air) + _ZERO) * _sky_emissivity(dew_point, cloud) ** 0.25 - _ZERO


def lost_to_sky(air: Floats, dew_point: Floats, cloud: Floats) -> Floats:
    """Heat that a black body as warm as the air loses to a sky that fills its view, W/m², by hour (n).

    q = σ·T_a⁴·(1 − ε)      ε as in sky_temperature
    °C, °C, 0 to 1. Under cloud that is not known nothing is lost: whether that is careful, `careful` decides.

    >>> lost_to_sky(np.array([10.0, 10.0]), np.array([7.0, 7.0]), np.array([0.0, np.nan])).round(1).tolist()
    [89.7, 0.0]
    """
    black = _SIGMA * (air + _ZERO) ** 4
    lost = black * (1 - _sky_emissivity(dew_point, np.nan_to_num(cloud)))
    return np.asarray(np.where(np.isnan(cloud), np.where(np.isnan(lost), np.nan, 0.0), lost))


def clear_sky_sun(hours: Hours, latitude: float, longitude: float) -> Floats:
    """Sun on flat ground under a cloudless sky, W/m², mean of each hour (n): the most there can be, nearly.

    I = 1098·cos z·exp(−0.059 / cos z)      z: angle of the sun from overhead at the middle of the hour [HAURWITZ]
    cos z = sin φ·sin δ + cos φ·cos δ·cos H, declination δ and equation of time by day of the year [SOLAR-GEOMETRY].
    Latitude and longitude in degrees, north and east positive.

    >>> noon = Hours.from_arrays(np.datetime64("2025-06-21T12"), temperature=[20.0])
    >>> clear_sky_sun(noon, 36.0, 0.0).round(-1).tolist()
    [1000.0]
    """
    within("latitude", latitude, -90.0, 90.0, "°", "SOLAR-GEOMETRY")
    within("longitude", longitude, -180.0, 180.0, "°", "SOLAR-GEOMETRY")
    middle = hours.times + np.timedelta64(30, "m")
    day = (middle - middle.astype("datetime64[Y]")) / np.timedelta64(1, "D") + 1
    tilt, minutes = _declination(day), _equation_of_time(day)
    clock = (middle - middle.astype("datetime64[D]")) / np.timedelta64(1, "h")
    angle = np.radians(15 * (clock - 12) + longitude + minutes / 4)
    north = np.radians(latitude)
    height = np.sin(north) * np.sin(tilt) + np.cos(north) * np.cos(tilt) * np.cos(angle)
    up = np.maximum(height, 1e-3)  # the sun below the horizon gives nothing, and divides nothing
    return np.asarray(_c.CLEAR_SUN.value * up * np.exp(-_c.CLEAR_SUN_AIR.value / up) * (height > 0))


def sun_through(cloud: Any) -> Any:
    """The share of a clear sky's sun that comes through a cloud fraction, 0 to 1.

    1 − 0.75·n^3.4      of global radiation, by the hour [KASTEN-CZEPLAK]

    >>> sun_through(np.array([0.0, 0.5, 1.0])).round(3).tolist()
    [1.0, 0.929, 0.25]
    """
    return 1 - _c.CLOUD_DIMMING.value * np.asarray(cloud) ** _c.CLOUD_DIMMING_POWER.value


def sun_told(hours: Hours, latitude: float, longitude: float) -> Floats:
    """Sun on flat ground by hour (n), W/m²: as told, else a clear sky's through the cloud; NaN where neither is."""
    through = clear_sky_sun(hours, latitude, longitude) * sun_through(hours.cloud)
    return np.where(np.isnan(hours.sun), through, hours.sun)


def careful(hours: Hours, latitude: float, longitude: float, sunny: Flags) -> Hours:
    """The hours as metal under the open sky may count on them: no warmer than they are sure to be.

    Sun only where it is `sunny` (n), the place having sun then, and known. A night whose cloud is not known is clear;
    by day a sky that is not known neither warms nor cools.
    """
    sun = np.where(sunny, np.nan_to_num(sun_told(hours, latitude, longitude)), 0.0)
    night = clear_sky_sun(hours, latitude, longitude) <= 0
    return replace(hours, sun=sun, cloud=np.where(np.isnan(hours.cloud) & night, 0.0, hours.cloud))


def warmest(hours: Hours, latitude: float, longitude: float) -> Hours:
    """The same hours with all the warmth that they may have: sun that is not known shines from a clear sky."""
    told = sun_told(hours, latitude, longitude)
    return replace(hours, sun=np.where(np.isnan(told), clear_sky_sun(hours, latitude, longitude), told))


def _sky_emissivity(dew_point: Any, cloud: Any) -> Any:
    dew = np.maximum(dew_point, DRIEST)
    clear = _c.SKY_CONSTANT.value + _c.SKY_SLOPE.value * dew + _c.SKY_CURVE.value * dew * dew
    hidden = _c.CLOUD_SHARE.value * np.asarray(cloud)
    return np.minimum(1.0, (1 - hidden) * clear + hidden)


def _declination(day: Floats) -> Any:
    return np.radians(_c.EARTH_TILT.value) * np.sin(2 * np.pi * (day + 284) / 365)


def _equation_of_time(day: Floats) -> Any:
    """Minutes by which a sundial runs ahead of the clock."""
    turn = 2 * np.pi * (day - 81) / 364
    double, cosine, sine = (constant.value for constant in _c.EQUATION_OF_TIME)
    return double * np.sin(2 * turn) + cosine * np.cos(turn) + sine * np.sin(turn)
