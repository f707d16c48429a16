"""Air at the nozzle: what a bore takes and throws at a pressure, and the three pressures that are often mixed up.

Air is free air, as it stands in the yard; pressure is gauge pressure. What was measured while blasting comes first;
where the table ends, choked flow goes on. A nozzle passes less air with abrasive in it than alone.
"""

from dataclasses import dataclass
from math import pi, sqrt
from typing import Any

import numpy as np

from . import constants
from .sources import COMMON_PRACTICE, OUR_JUDGEMENT
from .surface import Range
from .units import Quantity, units
from .validity import within
from .working import Working

_ATMOSPHERE = constants.ATMOSPHERE.value
_RATIO = constants.AIR_HEAT_RATIO.value

# The published table in its own units: bores in inches, pressures in psi, air in cfm, abrasive in lb/h of 100 lb/ft³.
TABLE_BORES = (1 / 8, 3 / 16, 1 / 4, 5 / 16, 3 / 8, 7 / 16, 1 / 2)
TABLE_PRESSURES = (50, 60, 70, 80, 90, 100, 125)
TABLE_AIR = (
    (11, 13, 15, 17, 18.5, 20, 25),
    (26, 30, 33, 38, 41, 45, 55),
    (47, 54, 61, 68, 74, 81, 98),
    (77, 89, 101, 113, 126, 137, 168),
    (108, 126, 143, 161, 173, 196, 237),
    (147, 170, 194, 217, 240, 254, 314),
    (195, 224, 252, 280, 309, 338, 409),
)
TABLE_ABRASIVE = (
    (67, 77, 88, 101, 112, 123, 152),
    (150, 171, 196, 216, 238, 264, 319),
    (268, 312, 354, 408, 448, 494, 608),
    (468, 534, 604, 672, 740, 812, 982),
    (668, 764, 864, 960, 1052, 1152, 1393),
    (896, 1032, 1176, 1312, 1448, 1584, 1931),
    (1160, 1336, 1512, 1680, 1856, 2024, 2459),
)


def _metric(numbers: Any, unit: str, to: str) -> Any:
    return Quantity(np.asarray(numbers, float), unit).to(to).magnitude


_BORES = _metric(TABLE_BORES, "inch", "mm")
_COLUMNS = _metric(TABLE_PRESSURES, "psi", "bar")
# By the square of the bore, and so by area: between two bores the nozzle's area decides, not its width.
_AIR = _metric(TABLE_AIR, "ft**3/minute", "m**3/minute") / _BORES[:, None] ** 2
_ABRASIVE = _metric(TABLE_ABRASIVE, "lb/hour", "kg/hour") / _BORES[:, None] ** 2

NARROWEST, WIDEST = 2.0, 20.0  # mm
LOWEST, HIGHEST = 1.0, float(_COLUMNS[-1])  # bar; below about 0.9 bar the flow is no longer choked
LIGHTEST, HEAVIEST = 100.0, 8000.0  # kg/m³ of medium, poured


def _blasting(bore: Any, pressure: Any) -> None:
    within("nozzle bore", bore, NARROWEST, WIDEST, "mm", OUR_JUDGEMENT)
    within("nozzle pressure", pressure, LOWEST, HIGHEST, "bar", "NOZZLE-TABLE")


@units.wraps("m**3/minute", ("mm", "bar", None))
def choked_air(bore: Any, pressure: Any, discharge: float = constants.NOZZLE_DISCHARGE.value) -> Any:
    """Free air through a bore in which the air runs at the speed of sound; arrays alike.

    ṁ = C·A·p₀·√(γ/(R·T))·(2/(γ + 1))^((γ + 1)/(2(γ − 1))),  V = ṁ/ρ      p₀ absolute, T and ρ of free air at 20 °C
    Valid where the air outside has at most 0.528 of p₀: from 0.91 bar to 20 bar.  Source: [CHOKED-FLOW].
    C = 1 is air alone through a rounded bore, 0.80 is air that carries abrasive [NOZZLE-TABLE].

    >>> f"{choked_air(Quantity(6, 'mm'), Quantity(5, 'bar')):.2f~P}"
    '1.60 m³/min'
    """
    within("bore", bore, 0.1, 100, "mm", OUR_JUDGEMENT)
    within("pressure", pressure, _ATMOSPHERE / _STILL_CHOKED - _ATMOSPHERE, 20, "bar", "CHOKED-FLOW")
    area, absolute = pi * (bore / 1000) ** 2 / 4, (pressure + _ATMOSPHERE) * 1e5
    mass = discharge * area * absolute * _CHOKED
    return 60 * mass / constants.FREE_AIR_DENSITY.value


_STILL_CHOKED = (2 / (_RATIO + 1)) ** (_RATIO / (_RATIO - 1))
_CHOKED = sqrt(_RATIO / (constants.AIR_GAS_CONSTANT.value * constants.FREE_AIR_TEMPERATURE.value)) * (
    2 / (_RATIO + 1)
) ** ((_RATIO + 1) / (2 * (_RATIO - 1)))


@units.wraps("m**3/minute", ("mm", "bar"))
def nozzle_air(bore: Any, pressure: Any) -> Any:
    """Free air that a nozzle takes while it blasts.

    The published table, between its columns straight by absolute pressure and between its bores by area. Below its
    first column, 3.4 bar, scaled by absolute pressure. Outside its bores choked flow with C = 0.80, never more than
    the narrowest bore of the table nor less than the widest.
    Valid for 2 to 20 mm and 1 to 8.6 bar (125 psi) at the nozzle.  Source: [NOZZLE-TABLE], [CHOKED-FLOW].

    >>> f"{nozzle_air(Quantity(6, 'mm'), Quantity(5, 'bar')):.2f~P}"
    '1.58 m³/min'
    """
    _blasting(bore, pressure)
    edge = _of_table(_AIR, float(np.clip(bore, _BORES[0], _BORES[-1])), pressure)
    if bore < _BORES[0]:
        return min(edge, _choked(bore, pressure, constants.NOZZLE_DISCHARGE.value))
    if bore > _BORES[-1]:
        return max(edge, _choked(bore, pressure, constants.NOZZLE_DISCHARGE.value))
    return edge


_choked = choked_air.__wrapped__


@units.wraps("kg/hour", ("mm", "bar", "kg/m**3"))
def abrasive_flow(bore: Any, pressure: Any, bulk_density: Any) -> Any:
    """Medium that a nozzle throws with the valve set as usual: the table's volume, with the medium's own weight.

    ṁ = table · ρ_b / 1602 kg/m³      between, below and outside the table as `nozzle_air`, outside its bores by area
    Valid for 2 to 20 mm, 1 to 8.6 bar and 100 to 8000 kg/m³, poured.  Source: [NOZZLE-TABLE].

    >>> f"{abrasive_flow(Quantity(3 / 16, 'inch'), Quantity(80, 'psi'), Quantity(100, 'lb/ft**3')):.0f~P}"
    '98 kg/h'
    """
    _blasting(bore, pressure)
    within("bulk density", bulk_density, LIGHTEST, HEAVIEST, "kg/m³", OUR_JUDGEMENT)
    return _of_table(_ABRASIVE, bore, pressure) * bulk_density / constants.TABLE_ABRASIVE.value


def _of_table(by_area: Any, bore: float, pressure: float) -> float:
    """The table read at a bore and a pressure; outside, its edge goes on by area and by absolute pressure."""
    column = max(pressure, _COLUMNS[0])
    across = [np.interp(column, _COLUMNS, row) for row in by_area]
    scaled: float = (pressure + _ATMOSPHERE) / (column + _ATMOSPHERE)
    return float(np.interp(bore, _BORES, across)) * bore**2 * scaled


def basis(bore: Any, pressure: Any) -> str:
    """Where a figure of `nozzle_air` comes from, as a sentence.

    >>> basis(Quantity(6, "mm"), Quantity(2.5, "bar"))
    'The printed table begins at 3.4 bar (50 psi): scaled from there by absolute pressure.'
    """
    if not _BORES[0] <= bore.to("mm").magnitude <= _BORES[-1]:
        return "No table has this bore: choked flow, of which abrasive takes a fifth."
    if pressure.to("bar").magnitude < _COLUMNS[0]:
        return "The printed table begins at 3.4 bar (50 psi): scaled from there by absolute pressure."
    return "Between the columns of a printed table, measured while blasting."


@units.wraps("", ("mm", "mm"))
def wear(new_bore: Any, worn_bore: Any) -> Any:
    """How much more air a worn nozzle takes: its area by the new one's.   (d_worn/d_new)²      Source: [GEOMETRY].

    >>> f"{wear(Quantity(1 / 4, 'inch'), Quantity(5 / 16, 'inch')).magnitude:.4f}"
    '1.5625'
    """
    within("nozzle bore", new_bore, NARROWEST, WIDEST, "mm", OUR_JUDGEMENT)
    within("worn bore", worn_bore, new_bore, 2 * WIDEST, "mm", OUR_JUDGEMENT)
    return (worn_bore / new_bore) ** 2


@units.wraps("mm", ("m**3/minute", "bar"))
def widest_bore(free_air: Any, pressure: Any) -> Any:
    """The widest nozzle that a compressor carries all day at this pressure, nothing else drawing air.

    `nozzle_air` turned round by halving.  Valid where it is; less air than 2 mm takes raises OutsideValidity.

    >>> f"{widest_bore(Quantity(1.58, 'm**3/minute'), Quantity(5, 'bar')):.1f~P}"
    '6.0 mm'
    """
    takes = nozzle_air.__wrapped__
    within("free air", free_air, takes(NARROWEST, pressure), takes(WIDEST, pressure), "m³/min", "NOZZLE-TABLE")
    low, high = NARROWEST, WIDEST
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if takes(middle, pressure) <= free_air else (low, middle)
    return low


HOSE_LOSS = Range(*(Quantity(bar, "bar") for bar in (0.15, 0.5, 1.1)))  # 15 m of 38, 32 and 25 mm   [HOSE-LOSS]
RIG_GIVES = Quantity(8.0, "bar")  # what a page takes where nobody says   [common practice]
HOSE_BY_NOZZLE = 3  # a blast hose is at least so many nozzles wide   [HOSE-RULE]


@dataclass(frozen=True)
class Pressures:
    """The three that are often mixed up: at the nozzle, in the pot, and the difference that feeds the medium.

    The nozzle is what the work feels. The line at the pot stands higher by what the hose loses, and the pot above
    the line by the difference that pushes medium into it.
    """

    nozzle: Any
    feed_difference: Any
    hose_loss: Any = HOSE_LOSS.likely

    @property
    def line(self) -> Any:
        """In the hose where the medium joins the air."""
        return self.nozzle + self.hose_loss

    @property
    def pot(self) -> Any:
        """What the pot's gauge shows.

        >>> f"{Pressures(Quantity(5, 'bar'), Quantity(0.15, 'bar')).pot:.2f~P}"
        '5.65 bar'
        """
        return self.line + self.feed_difference


def nozzle_air_working(bore: Any, pressure: Any) -> Working:
    """How `nozzle_air` came about."""
    alone = choked_air(bore, pressure)
    return Working(
        "air at the nozzle",
        "printed table by bore and absolute pressure; check: V = 60·C·A·p₀·0.0404/√T / ρ",
        (("bore", f"{bore.to('mm'):.3g~P}"), ("pressure at the nozzle", f"{pressure.to('bar'):.3g~P}")),
        f"{nozzle_air(bore, pressure):.3g~P}",
        "NOZZLE-TABLE",
        f"{basis(bore, pressure)} Choked flow with C = 0.80 gives {alone:.3g~P}.",
    )


def pot_working(pressures: Pressures) -> Working:
    """How `Pressures.pot` came about."""
    return Working(
        "pressure in the pot",
        "pot = nozzle + hose loss + feed difference",
        (
            ("at the nozzle", f"{pressures.nozzle:.3g~P}"),
            ("lost in the hose", f"{pressures.hose_loss:.3g~P}"),
            ("difference that feeds the medium", f"{pressures.feed_difference:.3g~P}"),
        ),
        f"{pressures.pot:.3g~P}",
        COMMON_PRACTICE,
        "A needle gauge in the hose just behind the nozzle measures what the work feels.",
    )
