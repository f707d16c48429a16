"""Making paint ready: thinner and additives, base and hardener, pot life, and what to mix for one session.

Paint that is still liquid after its pot life is not usable, and a bigger mix warms itself and lives shorter than the
sheet says.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor
from typing import Any

import numpy as np

from . import constants
from .sources import COMMON_PRACTICE, DATA_SHEET, OUR_JUDGEMENT
from .units import Quantity, units
from .validity import within
from .working import Working

STANDS_OPEN = 60  # minutes that a pot waits for the next rack   [our judgement]
USABLE_SHARE = 0.5  # of the pot life: mix only what is used in that time   [common practice]
NOTHING = Quantity(0, "percent")
_HAIR = 1e-9  # five kits of 1 L hold 5 L, whatever the floats say


@units.wraps("L", ("L", "percent"))
def thinner_volume(paint: Any, thinning: Any) -> Any:
    """Thinner to this much paint; of a two-pack, to base and hardener together.   V_t = V·thinning

    Valid for 0 to 300 %.      Source: [common practice].

    >>> f"{thinner_volume(Quantity(0.83, 'L'), Quantity(10, 'percent')):.3f~P}"
    '0.083 L'
    """
    within("paint", paint, 0, 1e4, "L", OUR_JUDGEMENT)
    within("thinning", thinning, 0, 300, "%", OUR_JUDGEMENT)
    return paint * thinning / 100


@units.wraps("L", ("L", "percent"))
def additive_volume(volume: Any, dose: Any) -> Any:
    """Flow additive to this much paint, or retarder to this much thinner, by the maker's dose.   V_a = V·dose

    A retarder is up to 10 to 20 % of the thinner; both kinds lengthen drying.  Valid for 0 to 50 %.
    Source: [common practice].

    >>> f"{additive_volume(Quantity(0.5, 'L'), Quantity(5, 'percent')).to('mL'):.0f~P}"
    '25 mL'
    """
    within("volume", volume, 0, 1e4, "L", OUR_JUDGEMENT)
    within("dose of additive", dose, 0, 50, "%", OUR_JUDGEMENT)
    return volume * dose / 100


@units.wraps(("L", "L"), ("L", None, None))
def components(mixed: Any, base_parts: float, hardener_parts: float) -> tuple[Any, Any]:
    """Base and hardener of a mix, by volume; to weigh them, `surface.mass` with each density.      Source: [GEOMETRY].

    V_base = V·b/(b + h),  V_hardener = V·h/(b + h)

    >>> base, hardener = components(Quantity(2.5, "L"), 4, 1)
    >>> f"{base:.1f~P} and {hardener:.1f~P}"
    '2.0 L and 0.5 L'
    """
    within("paint", mixed, 0, 1e4, "L", OUR_JUDGEMENT)
    within("parts of base", base_parts, 0.01, 1000, "", DATA_SHEET)
    within("parts of hardener", hardener_parts, 0.01, 1000, "", DATA_SHEET)
    whole = base_parts + hardener_parts
    return mixed * base_parts / whole, mixed * hardener_parts / whole


@dataclass(frozen=True)
class PotLifePoint:
    """One line of the data sheet: °C, hours."""

    temperature: float
    hours: float


@units.wraps("hour", ("degC", None))
def pot_life(temperature: Any, points: Sequence[PotLifePoint]) -> Any:
    """How long a mix stays usable at this temperature; scalars and arrays alike.

    Between the sheet's points ln t runs straight in T. Warmer than the warmest it halves per 10 °C, or falls as fast as
    between the last two points where that is faster. Colder than the coldest it is not lengthened.
    Valid from −10 to 60 °C.      Source: [POT-LIFE-ARTICLE], whose range is 1.5 to 2.5.

    >>> sheet = [PotLifePoint(20, 4)]
    >>> [f"{pot_life(Quantity(degrees, 'degC'), sheet):.1f~P}" for degrees in (10, 20, 30)]
    ['4.0 h', '4.0 h', '2.0 h']
    """
    within("temperature", temperature, -10, 60, "°C", OUR_JUDGEMENT)
    sheet = _in_order(points)
    degrees, hours = [point.temperature for point in sheet], [point.hours for point in sheet]
    inside = np.exp(np.interp(temperature, degrees, np.log(hours)))
    return inside / _shortening(sheet) ** (np.maximum(0, np.asarray(temperature) - degrees[-1]) / 10)


def _in_order(points: Sequence[PotLifePoint]) -> list[PotLifePoint]:
    """The points by temperature; a sheet on which a warmer mix lives longer was typed wrongly."""
    within("number of pot life points", len(points), 1, 20, "points", DATA_SHEET)
    sheet = sorted(points, key=lambda point: point.temperature)
    for point in sheet:
        within("pot life", point.hours, 0.01, 1000, "hours", DATA_SHEET)
    for colder, warmer in pairwise(sheet):
        name = f"pot life at {warmer.temperature:g} °C"
        within(name, warmer.hours, 0, colder.hours, "hours", DATA_SHEET)
        within(
            "temperature of the next pot life point",
            warmer.temperature,
            colder.temperature + 0.1,
            100,
            "°C",
            DATA_SHEET,
        )
    return sheet


def _shortening(sheet: list[PotLifePoint]) -> float:
    """By how much the pot life shrinks for 10 °C beyond the warmest point."""
    steepest = constants.POT_LIFE_QUOTIENT.value
    for colder, warmer in list(pairwise(sheet))[-1:]:
        per_ten = 10 / (warmer.temperature - colder.temperature)
        steepest = max(steepest, (colder.hours / warmer.hours) ** per_ten)
    return steepest


@dataclass(frozen=True)
class Recipe:
    """How a paint is made ready: thinner, additive as shares of it; of a two-pack its parts, pot life, induction, kit.

    `induction` is how long a fresh mix stands before the first stroke [UFC-INDUCTION]; None where the sheet asks for
    nothing. `kit` is what one kit makes; None where base and hardener are weighed or measured out, and for a one-pack.
    """

    thinning: Any = NOTHING
    additive: Any = NOTHING
    parts: tuple[float, float] | None = None
    pot_life: Any = None
    induction: Any = None
    kit: Any = None


@dataclass(frozen=True)
class Mix:
    """One pot: paint is base and hardener together; they are None for a one-pack."""

    paint: Any
    base: Any
    hardener: Any
    thinner: Any
    additive: Any


@dataclass(frozen=True)
class Session:
    """The pots of one session, in order, and what to know about them.

    `use_within` is half the pot life less the time in which the mix stands, counted from the first stroke; None without
    a pot life · `stands` is that time, None without it; `left_over` comes of whole kits and will not keep;
    `kit_too_big` says that even one kit is not used up in that time, so weigh out less or work faster.
    """

    mixes: tuple[Mix, ...]
    use_within: Any
    left_over: Any
    kit_too_big: bool
    stands: Any = None


def mix_for_session(paint: Any, work: Any, recipe: Recipe) -> Session:
    """What to decant or mix for so many litres, put on evenly in so much working time.

    No pot is bigger than what is used in half the pot life, and a kit is never split.      Source: [common practice].

    >>> enamel = mix_for_session(Quantity(0.8, "L"), Quantity(3, "hour"), Recipe(thinning=Quantity(10, "percent")))
    >>> [f"{mix.paint:.2f~P} and {mix.thinner:.2f~P}" for mix in enamel.mixes]
    ['0.80 L and 0.08 L']
    >>> two_pack = Recipe(parts=(4, 1), pot_life=Quantity(2, "hour"), kit=Quantity(1, "L"))
    >>> session = mix_for_session(Quantity(3.5, "L"), Quantity(4, "hour"), two_pack)
    >>> [f"{mix.base:.1f~P} + {mix.hardener:.1f~P}" for mix in session.mixes], f"{session.left_over:.1f~P}"
    (['0.8 L + 0.2 L', '0.8 L + 0.2 L', '0.8 L + 0.2 L', '0.8 L + 0.2 L'], '0.5 L')
    """
    litres, hours = paint.to("L").magnitude, work.to("hour").magnitude
    within("paint", litres, 1e-3, 1e4, "L", OUR_JUDGEMENT)
    within("working time", hours, 0.05, 24, "hours", OUR_JUDGEMENT)
    usable = _usable(recipe)
    at_most = litres if usable is None else litres * usable / hours
    kit = None if recipe.kit is None else recipe.kit.to("L").magnitude
    pots = _even_pots(litres, at_most) if kit is None else _whole_kits(litres, at_most, kit)
    return Session(
        tuple(_mix(pot, recipe) for pot in pots),
        None if usable is None else Quantity(usable, "hour"),
        Quantity(max(0.0, sum(pots) - litres), "L"),
        kit is not None and kit > at_most + _HAIR,
        recipe.induction,
    )


def in_sessions(works: Sequence[tuple[int, int]]) -> list[list[int]]:
    """The numbers of works with one paint, each from minute to minute, by the session in which they lie.

    What begins within STANDS_OPEN minutes of the end of what began before it belongs to the same session.
    Basis: [our judgement].

    >>> in_sessions([(0, 40), (300, 330), (90, 120)])
    [[0, 2], [1]]
    """
    found: list[list[int]] = []
    over = 0
    for number in sorted(range(len(works)), key=lambda number: (works[number], number)):
        begin, end = works[number]
        if not found or begin > over + STANDS_OPEN:
            found.append([])
            over = end
        found[-1].append(number)
        over = max(over, end)
    return found


def _usable(recipe: Recipe) -> float | None:
    """Half the pot life in hours, less what the mix stands before use; None for a paint without one."""
    if recipe.pot_life is None:
        return None
    hours: float = recipe.pot_life.to("hour").magnitude
    within("pot life", hours, 0.01, 1000, "hours", DATA_SHEET)
    stands = 0.0 if recipe.induction is None else float(recipe.induction.to("hour").magnitude)
    within("standing after mixing", 60 * stands, 0, 60 * hours * USABLE_SHARE - 1, "min", DATA_SHEET)
    return hours * USABLE_SHARE - stands


def _even_pots(litres: float, at_most: float) -> list[float]:
    count = ceil(litres / at_most - _HAIR)
    return [litres / count] * count


def _whole_kits(litres: float, at_most: float, kit: float) -> list[float]:
    kits = kits_for(Quantity(litres, "L"), Quantity(kit, "L"))
    together = max(1, floor(at_most / kit + _HAIR))
    full, rest = divmod(kits, together)
    return [together * kit] * full + [rest * kit] * (rest > 0)


def kits_for(paint: Any, kit: Any) -> int:
    """Whole kits that hold this much mixed paint: a kit is never split by eye.      Source: [common practice].

    >>> kits_for(Quantity(5.1, "L"), Quantity(5, "L"))
    2
    """
    within("kit size", kit.to("L").magnitude, 1e-3, 1e3, "L", DATA_SHEET)
    kits: float = (paint / kit).to("").magnitude
    return ceil(kits - _HAIR)


def _mix(litres: float, recipe: Recipe) -> Mix:
    paint = Quantity(litres, "L")
    base, hardener = components(paint, *recipe.parts) if recipe.parts else (None, None)
    return Mix(paint, base, hardener, thinner_volume(paint, recipe.thinning), additive_volume(paint, recipe.additive))


def thinner_working(paint: Any, thinning: Any) -> Working:
    """How `thinner_volume` came about."""
    return Working(
        "thinner",
        "V_t = V · thinning",
        (("paint", f"{paint:.4g~P}"), ("thinning", f"{thinning:.4g~P}")),
        f"{thinner_volume(paint, thinning):.4g~P}",
        COMMON_PRACTICE,
    )


def pot_life_working(temperature: Any, points: Sequence[PotLifePoint]) -> Working:
    """How `pot_life` came about."""
    sheet = tuple((f"pot life at {point.temperature:g} °C", f"{point.hours:g} h") for point in _in_order(points))
    return Working(
        "pot life",
        "ln t straight in T between the sheet's points; t / 2^((T − T_last) / 10) or steeper beyond; never lengthened",
        (("temperature", f"{temperature:.3g~P}"), *sheet),
        f"{pot_life(temperature, points):.3g~P}",
        "POT-LIFE-ARTICLE",
        "A mix bigger than the sheet's lives shorter. Still liquid after the pot life is not usable.",
    )
