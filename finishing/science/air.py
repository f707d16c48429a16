"""Moist air: how much water it holds, when it wets a surface, and how far a surface is from that.

Each function takes scalars or arrays alike. Below 0 °C the water formula is kept and the tool says frost;
paint gates have stopped the work by then.
"""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import constants
from .sources import OUR_JUDGEMENT
from .units import Quantity, units
from .validity import OutsideValidity, within
from .working import Working, decimals_to_reckon

_E0 = constants.MAGNUS_PRESSURE.value
_A = constants.MAGNUS_SLOPE.value
_B = constants.MAGNUS_OFFSET.value
_WATER = constants.VAPOUR_CONTENT.value
_ZERO = constants.ZERO_CELSIUS.value

LOWEST, HIGHEST = -40.0, 50.0  # °C
DRIEST = 0.001  # an instrument that shows 0 % is broken, and no dew point belongs to it
ROUNDING = 0.05  # °C: what rounding may lift a dew point above its own air


@units.wraps("hectopascal", "degC")
def saturation_pressure(temperature: Any) -> Any:
    """Pressure of water vapour in saturated air, over water.

    e_s = e_0 · exp(a·t / (b + t))      t in °C, Magnus form
    Valid from −40 to 50 °C.  Source: [AE1996].

    >>> from finishing.science.units import Quantity
    >>> f"{saturation_pressure(Quantity(20, 'degC')):.2f~P}"
    '23.33 hPa'
    """
    within("temperature", temperature, LOWEST, HIGHEST, "°C", "AE1996")
    return _E0 * np.exp(_A * np.asarray(temperature) / (_B + np.asarray(temperature)))


@units.wraps("degC", ("degC", ""))
def dew_point(temperature: Any, humidity: Any) -> Any:
    """Temperature at which this air, cooled at constant pressure, begins to wet a surface.

    t_d = b·γ / (a − γ),   γ = ln(RH) + a·t / (b + t)      t in °C, RH from 0 to 1
    Valid from −40 to 50 °C and from 0.1 to 100 % humidity.  Source: [AE1996].

    >>> from finishing.science.units import Quantity
    >>> f"{dew_point(Quantity(20, 'degC'), Quantity(60, 'percent')):.1f~P}"
    '12.0 °C'
    """
    within("temperature", temperature, LOWEST, HIGHEST, "°C", "AE1996")
    within("humidity", 100 * np.asarray(humidity), 100 * DRIEST, 100.0, "%", OUR_JUDGEMENT)
    t = np.asarray(temperature)
    gamma = np.log(humidity) + _A * t / (_B + t)
    return _B * gamma / (_A - gamma)


@units.wraps("", ("degC", "degC"))
def humidity_from_dew_point(temperature: Any, dew_point: Any) -> Any:
    """Relative humidity of air of which temperature and dew point are known.

    RH = e_s(t_d) / e_s(t)      0 to 1
    Valid where both lie from −40 to 50 °C and the dew point is not above the air.  Source: [AE1996].

    >>> from finishing.science.units import Quantity
    >>> f"{humidity_from_dew_point(Quantity(20, 'degC'), Quantity(12, 'degC')).to('percent').magnitude:.0f} %"
    '60 %'
    """
    _not_above_the_air(temperature, dew_point)
    return np.minimum(1.0, _pressure(dew_point) / _pressure(temperature))


@units.wraps("", ("degC", "degC"))
def humidity_at_surface(surface: Any, dew_point: Any) -> Any:
    """Relative humidity of the air that touches a surface colder or warmer than the room.

    RH_s = min(1, e_s(t_d) / e_s(t_s))      0 to 1; 1 is a wet surface
    Valid for dew points up to 50 °C. A surface hotter than 50 °C is read as 50 °C and a dew point below −40 °C as
    −40 °C: both say too damp and so err safely.  Source: [AE1996].

    >>> from finishing.science.units import Quantity
    >>> f"{humidity_at_surface(Quantity(16, 'degC'), Quantity(10.69, 'degC')).to('percent').magnitude:.1f} %"
    '70.7 %'
    """
    dew, touching = np.maximum(dew_point, LOWEST), np.clip(surface, LOWEST, HIGHEST)
    return np.minimum(1.0, _pressure(dew) / _pressure(touching))


@units.wraps("delta_degC", ("degC", "degC"))
def margin(surface: Any, dew_point: Any) -> Any:
    """How far a surface is from being wet: at zero and below, dew forms.

    m = t_s − t_d
    Valid for any temperatures.  Source: the definition; 3 °C to paint is [IMO-PSPC].

    >>> from finishing.science.units import Quantity
    >>> f"{margin(Quantity(16, 'degC'), Quantity(10.69, 'degC')):.2f~P}"
    '5.31 Δ°C'
    """
    return np.asarray(surface) - np.asarray(dew_point)


TOUCHING = 1e-6  # °C: a dew point of saturated air meets that air's temperature only so closely


def sweats(margin: ArrayLike) -> NDArray[np.bool_]:
    """Whether metal so far above its dew point (°C) is wet with dew; what is not known (NaN) is not told as wet.

    >>> sweats([2.0, 0.0, -1.0, float("nan")]).tolist()
    [False, True, True, False]
    """
    return np.asarray(np.asarray(margin, float) <= TOUCHING)


@units.wraps("gram / meter ** 3", ("degC", ""))
def water_content(temperature: Any, humidity: Any) -> Any:
    """Water that a cubic metre of this air carries.

    w = C · RH · e_s(t) / T      C = 216.674 g·K/(m³·hPa), T in kelvin, RH from 0 to 1
    Valid from −40 to 50 °C and from 0 to 100 % humidity.  Source: gas law of water vapour, [AE1996] for e_s.

    >>> from finishing.science.units import Quantity
    >>> f"{water_content(Quantity(20, 'degC'), Quantity(100, 'percent')):.2f~P}"
    '17.25 g/m³'
    """
    within("humidity", 100 * np.asarray(humidity), 0.0, 100.0, "%", OUR_JUDGEMENT)
    return _WATER * np.asarray(humidity) * _pressure(temperature) / (np.asarray(temperature) + _ZERO)


def dew_point_working(temperature: Any, humidity: Any) -> Working:
    """What a page opens behind a dew point; quantities in.

    >>> from finishing.science.units import Quantity
    >>> dew_point_working(Quantity(20, "degC"), Quantity(60, "percent")).result
    '12.0 °C'
    """
    return Working(
        name="Dew point",
        formula="t_d = b·γ / (a − γ),  γ = ln(RH) + a·t / (b + t)",
        inputs=(
            ("air", f"{Quantity(temperature).to('degC'):.1f~P}"),
            ("humidity", f"{Quantity(humidity).to('percent').magnitude:.0f} %"),
            ("a", f"{_A:g}"),
            ("b", f"{_B:g} °C"),
        ),
        result=f"{dew_point(temperature, humidity):.1f~P}",
        source="AE1996",
        note="A reading 3 % wrong in humidity moves the dew point of 20 °C, 80 % air by about 0.6 °C.",
    )


def margin_working(surface: Any, dew_point: Any) -> Working:
    """What a page opens behind a dew-point margin; quantities in.

    >>> from finishing.science.units import Quantity
    >>> margin_working(Quantity(16, "degC"), Quantity(10.7, "degC")).result
    '5.3 °C, 71 % at the metal'
    """
    between = margin(surface, dew_point).magnitude
    damp = humidity_at_surface(surface, dew_point).to("percent").magnitude
    met = tuple(float(Quantity(value).to("degC").magnitude) for value in (surface, dew_point))
    decimals = max(
        decimals_to_reckon(met, lambda metal, dew: metal - dew, shown=1),
        decimals_to_reckon(met, lambda metal, dew: 100 * float(humidity_at_surface.__wrapped__(metal, dew)), shown=0),
    )
    return Working(
        name="Dew-point margin",
        formula="m = t_s − t_d",
        inputs=(
            ("metal", f"{met[0]:.{decimals}f} °C"),
            ("dew point", f"{met[1]:.{decimals}f} °C"),
        ),
        result=f"{between:.1f} °C, {damp:.0f} % at the metal",
        source="IMO-PSPC",
        note="3 °C says only that the metal is not wet; bare iron stays bright from about 10 °C on.",
    )


_pressure = saturation_pressure.__wrapped__


def _not_above_the_air(temperature: Any, dew_point: Any) -> None:
    air, dew = np.broadcast_arrays(np.asarray(temperature, float), np.asarray(dew_point, float))
    above = dew > air + ROUNDING
    if above.any():
        raise OutsideValidity("dew point", float(dew[above][0]), LOWEST, float(air[above][0]), "°C", OUR_JUDGEMENT)
