"""What the compressor gives: how large it should be, how long one too small can feed a nozzle, and the water it drops.

Air is free air, as it stands in the yard; pressure is gauge pressure.
"""

from math import inf
from typing import Any

from . import air, constants
from .sources import COMMON_PRACTICE, OUR_JUDGEMENT
from .units import units
from .validity import within
from .working import Working

_ATMOSPHERE = constants.ATMOSPHERE.value
LEAST_AIR, MOST_AIR = 1e-3, 100.0  # m³/min


@units.wraps("m**3/minute", ("m**3/minute", "m**3/minute"))
def compressor_needed(nozzle: Any, other: Any) -> Any:
    """Free air that a compressor should give: all that draws from it, and half as much in reserve.   1.5·ΣV

    Other tools and an air-fed helmet count; the air to breathe is dried and filtered again.
    Source: [COMPRESSOR-RESERVE].

    >>> from finishing.science.units import Quantity
    >>> f"{compressor_needed(Quantity(1.6, 'm**3/min'), Quantity(0.3, 'm**3/min')):.2f~P}"
    '2.85 m³/min'
    """
    within("nozzle air", nozzle, 0, MOST_AIR, "m³/min", OUR_JUDGEMENT)
    within("other air", other, 0, MOST_AIR, "m³/min", OUR_JUDGEMENT)
    return constants.COMPRESSOR_RESERVE.value * (nozzle + other)


@units.wraps("percent", ("m**3/minute", "m**3/minute"))
def duty(free_air: Any, need: Any) -> Any:
    """Share of the time in which a compressor too small for the nozzle can feed it.   min(100 %, FAD/need)

    Source: what goes in comes out [common practice].

    >>> from finishing.science.units import Quantity
    >>> f"{duty(Quantity(0.4, 'm**3/min'), Quantity(1.6, 'm**3/min')):.0f~P}"
    '25 %'
    """
    within("free air", free_air, LEAST_AIR, MOST_AIR, "m³/min", OUR_JUDGEMENT)
    within("air needed", need, LEAST_AIR, 10 * MOST_AIR, "m³/min", OUR_JUDGEMENT)
    return 100 * min(1.0, free_air / need)


@units.wraps("m**3", ("L", "bar", "bar"))
def receiver_air(volume: Any, full: Any, empty: Any) -> Any:
    """Free air that a receiver gives between two pressures.   V·(p_full − p_empty)/p₀      Source: [AIR-PROPERTIES].

    >>> from finishing.science.units import Quantity
    >>> f"{receiver_air(Quantity(500, 'L'), Quantity(10, 'bar'), Quantity(6, 'bar')):.2f~P}"
    '1.97 m³'
    """
    within("receiver", volume, 1, 1e5, "L", OUR_JUDGEMENT)
    within("pressure when full", full, 0.1, 50, "bar", OUR_JUDGEMENT)
    within("pressure when empty", empty, 0, full, "bar", OUR_JUDGEMENT)
    return volume / 1000 * (full - empty) / _ATMOSPHERE


@units.wraps("minute", ("m**3", "m**3/minute", "m**3/minute"))
def receiver_run(stored: Any, free_air: Any, need: Any) -> Any:
    """How long a nozzle runs from a full receiver while the compressor goes on.   t = stored/(need − FAD)

    Without end where the compressor gives what is needed.      Source: what goes in comes out [common practice].

    >>> from finishing.science.units import Quantity
    >>> f"{receiver_run(Quantity(1.974, 'm**3'), Quantity(0.4, 'm**3/min'), Quantity(1.6, 'm**3/min')):.1f~P}"
    '1.6 min'
    """
    within("free air", free_air, 0, MOST_AIR, "m³/min", OUR_JUDGEMENT)
    return inf if free_air >= need else stored / (need - free_air)


@units.wraps("L/hour", ("m**3/minute", "degC", "", "bar", "degC"))
def condensate(free_air: Any, temperature: Any, humidity: Any, pressure: Any, cooled_to: Any) -> Any:
    """Water that drops out of the air in receiver and hose: what the trap must catch, or the grit cakes.

    w = V·(w_in − w_sat(t)·p₀/p)      w_in of the air drawn in, w_sat at the temperature the pressed air has cooled to
    Valid from −40 to 50 °C.  Source: [AE1996], gas law.

    >>> from finishing.science.units import Quantity
    >>> yard = Quantity(20, "degC"), Quantity(60, "percent")
    >>> f"{condensate(Quantity(3, 'm**3/min'), *yard, Quantity(8, 'bar'), Quantity(20, 'degC')):.1f~P}"
    '1.5 L/h'
    """
    within("free air", free_air, 0, MOST_AIR, "m³/min", OUR_JUDGEMENT)
    within("line pressure", pressure, 0, 20, "bar", OUR_JUDGEMENT)
    held = _water(cooled_to, 1.0) * _ATMOSPHERE / (pressure + _ATMOSPHERE)
    return 60 * free_air * max(0.0, _water(temperature, humidity) - held) / 1000


_water = air.water_content.__wrapped__


def compressor_working(nozzle: Any, other: Any) -> Working:
    """How `compressor_needed` came about."""
    return Working(
        "compressor",
        "V = 1.5 · (nozzle + all else that draws air)",
        (("nozzle", f"{nozzle:.3g~P}"), ("all else", f"{other:.3g~P}")),
        f"{compressor_needed(nozzle, other):.3g~P}",
        "COMPRESSOR-RESERVE",
        "The half in reserve goes as the nozzle wears: 1.6 mm (1/16 in) more on 6.4 mm takes 56 % more air.",
    )


def duty_working(free_air: Any, need: Any) -> Working:
    """How `duty` came about."""
    return Working(
        "share of the time the compressor can feed the nozzle",
        "min(100 %, compressor / need)",
        (("compressor", f"{free_air:.3g~P}"), ("need", f"{need:.3g~P}")),
        f"{duty(free_air, need):.0f~P}",
        COMMON_PRACTICE,
        "Below 100 % the pressure falls while blasting: stop and let the receiver fill.",
    )


def receiver_working(stored: Any, free_air: Any, need: Any) -> Working:
    """How `receiver_run` came about."""
    run = receiver_run(stored, free_air, need)
    return Working(
        "run from a full receiver",
        "t = stored / (need − compressor)",
        (("stored air", f"{stored:.3g~P}"), ("compressor", f"{free_air:.3g~P}"), ("need", f"{need:.3g~P}")),
        "without end" if run.magnitude == inf else f"{run:.2g~P}",
        COMMON_PRACTICE,
    )
