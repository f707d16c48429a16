"""Moist air: how much water it holds, when it wets a surface, and how far a surface is from that.

Each function takes scalars or arrays alike. Below 0 °C the water formula is kept and the tool says frost;
paint gates have stopped the work by then.
"""

from typing import Any

import numpy as np

from . import constants
from .units import units
from .validity import within

_E0 = constants.MAGNUS_PRESSURE.value
_A = constants.MAGNUS_SLOPE.value
_B = constants.MAGNUS_OFFSET.value

LOWEST, HIGHEST = -40.0, 50.0  # °C


@units.wraps("hectopascal", "degC")
def saturation_pressure(temperature: Any) -> Any:
    """Pressure of water vapour in saturated air, over water.

    e_s = e_0 · exp(a·t / (b + t))      t in °C, Magnus form
    Valid from −40 to 50 °C.  Source: [AE1996].

    >>> from finishing.science.units import Quantity
    >>> f"{saturation_pressure(Quantity(20, 'degC')):.2f}"
    '23.33 hPa'
    """
    within("temperature", temperature, LOWEST, HIGHEST, "°C", "AE1996")
    return _E0 * np.exp(_A * np.asarray(temperature) / (_B + np.asarray(temperature)))
