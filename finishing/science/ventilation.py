"""Air against solvent vapour: how much of it keeps what a litre of solvent gives off from burning.

It says nothing about health: what may be breathed is many times less than what burns.
"""

from dataclasses import dataclass
from typing import Any

from . import constants
from .sources import OUR_JUDGEMENT
from .units import units
from .validity import within
from .working import Working

SAFE_SHARE = 4  # a quarter of the lower explosive limit   [DILUTION-AIR]


@dataclass(frozen=True)
class Solvent:
    """Density in kg/L, molar mass in g/mol, lower explosive limit in per cent of the air."""

    density: float
    molar_mass: float
    explosive_from: float
    source: str = "SOLVENT-PROPERTIES"


SOLVENTS = {
    "toluene": Solvent(0.867, 92.1, 1.1),
    "xylene": Solvent(0.870, 106.2, 1.0),
    "acetone": Solvent(0.790, 58.1, 2.5),
    "white spirit": Solvent(0.780, 140.0, 0.6),
    "butyl acetate": Solvent(0.880, 116.2, 1.2),
}


@units.wraps("m**3", ("L", None))
def vapour(liquid: Any, solvent: Solvent) -> Any:
    """What a solvent becomes as vapour at 20 °C.   V = 1000·ρ/M·0.024055 m³/mol      Source: [SOLVENT-PROPERTIES].

    >>> from finishing.science.units import Quantity
    >>> f"{vapour(Quantity(1, 'L'), SOLVENTS['toluene']):.3f~P}"
    '0.226 m³'
    """
    within("solvent", liquid, 0, 1000, "L", OUR_JUDGEMENT)
    return liquid * 1000 * solvent.density / solvent.molar_mass * constants.MOLAR_VOLUME.value


@units.wraps("m**3", ("L", None))
def dilution_air(liquid: Any, solvent: Solvent) -> Any:
    """Fresh air that keeps the vapour of so much solvent below a quarter of its lower explosive limit.

    4·V·(100 − LEL)/LEL      spread over the time in which it dries; health asks for far more
    Source: [DILUTION-AIR].

    >>> from finishing.science.units import Quantity
    >>> f"{dilution_air(Quantity(1, 'L'), SOLVENTS['white spirit']):.0f~P}"
    '89 m³'
    """
    within("explosive limit", solvent.explosive_from, 0.1, 20, "%", "SOLVENT-PROPERTIES")
    return SAFE_SHARE * _vapour(liquid, solvent) * (100 - solvent.explosive_from) / solvent.explosive_from


_vapour = vapour.__wrapped__


def dilution_working(liquid: Any, name: str) -> Working:
    """How `dilution_air` came about."""
    solvent = SOLVENTS[name]
    return Working(
        f"air against the vapour of {name}",
        "4 · V · (100 − LEL) / LEL,  V = 1000 · ρ / M · 0.024055 m³",
        (
            ("solvent that dries off", f"{liquid:.3g~P}"),
            ("density, ρ", f"{solvent.density:g} kg/L"),
            ("molar mass, M", f"{solvent.molar_mass:g} g/mol"),
            ("lower explosive limit, LEL", f"{solvent.explosive_from:g} %"),
        ),
        f"{dilution_air(liquid, solvent):.3g~P}",
        "DILUTION-AIR",
        "Against fire only, and only where the air is stirred. Health limits need far more air.",
    )
