"""The sky over the yard: how cold it is by night, how much sun it lets through by day."""

from typing import Any

import numpy as np

from . import constants as _c
from .hours import Floats, Hours
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
    °C, °C, 0 to 1. Cloud that is not known counts as none: the clear sky is the colder one.

    >>> lost_to_sky(np.array([10.0]), np.array([7.0]), np.array([np.nan])).round(1).tolist()
    [89.7]
    """
    black = _SIGMA * (air + _ZERO) ** 4
    return np.asarray(black * (1 - _sky_emissivity(dew_point, np.nan_to_num(cloud))))


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
