"""A part to be blasted: how fast it comes clean, how long that takes, what is thrown, bought and swept up.

Nobody knows beforehand how much grit a square metre takes: sources say 10 to 60 kg, so each answer is a `Range`, until
the workshop's own log holds enough to answer better.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np

from . import compressor, constants
from .grit import GRADES, SHAPES, STATES, refusal
from .nozzle import HOSE_BY_NOZZLE, Pressures, abrasive_flow, nozzle_air
from .sources import COMMON_PRACTICE, OUR_JUDGEMENT
from .surface import LEAST_AREA, MOST_AREA, Range
from .units import Quantity, units
from .validity import within
from .working import Working

# What a square metre takes: the usual [MEDIA-USE], the ends [common practice].
LEAST_USE, USUAL_USE, MOST_USE = (Quantity(kg, "kg/m**2") for kg in (10.0, 24.4, 60.0))
FULL_PRESSURE, BOTH_RULES_FROM = 100.0, 60.0  # psi
LOST_FOR_A_PSI = 0.015  # of the output   [HOSE-LOSS]
FULL = Range.of(1.0)
OPEN_SHARE = Quantity(70.0, "percent")  # of the clock the nozzle is open: filling, moving, looking   [common practice]
ENOUGH_LOGS = 5  # own figures from fewer would be chance   [our judgement]
SPREAD = (10, 90)  # percentiles of the single figures


@dataclass(frozen=True)
class Abrasive:
    """What goes into the pot. None where it is not known: without a density nothing can be said, and without its
    free silica it is refused."""

    name: str
    kind: str
    bulk_density: Any  # kg/m³, poured
    free_silica: Any  # the most, in percent
    use: Any = None  # kg/m², where somebody knows better than `usual_use`
    cycles: tuple[float, float] = (1.0, 1.0)
    reused: bool = False
    bag: Any = None
    profile: tuple[Any, Any] | None = None


@dataclass
class Refused(ValueError):
    """A job that cannot be done as it was asked: at which field, and why.

    `words` has a {} for each quantity, so that a page may write them in its own units.
    """

    field: str
    words: str
    quantities: tuple[Any, ...] = ()

    def __str__(self) -> str:
        return f"{self.field}: {self.words.format(*(f'{quantity:.3g~P}' for quantity in self.quantities))}"


@dataclass(frozen=True)
class Rig:
    """What stands there to blast with; None where it is not known."""

    bore: Any
    pressures: Pressures
    most_pressure: Any = None
    hose_bore: Any = None
    free_air: Any = None
    other_air: Any = Quantity(0.0, "m**3/minute")


def rig_refusals(rig: Rig) -> list[Refused]:
    """What cannot be right about hose, nozzle and pot."""
    found = []
    if rig.hose_bore is not None and rig.bore >= rig.hose_bore:
        wider = "The nozzle of {} is as wide as the hose of {} or wider: the hose would be the nozzle."
        found.append(Refused("nozzle bore", wider, (rig.bore, rig.hose_bore)))
    if rig.most_pressure is not None and rig.pressures.pot > rig.most_pressure:
        above = "For {} at the nozzle the pot needs {}, and the rig gives {}."
        pressures = rig.pressures.nozzle, rig.pressures.pot, rig.most_pressure
        found.append(Refused("nozzle pressure", above, pressures))
    return found


def hose_too_narrow(rig: Rig) -> bool:
    """Whether the hose is less than three nozzles wide, and wears and throttles.      Source: [HOSE-RULE]."""
    return rig.hose_bore is not None and rig.hose_bore < HOSE_BY_NOZZLE * rig.bore


def medium_refusals(medium: Abrasive) -> list[Refused]:
    """Why a medium cannot be used, or not be reckoned with."""
    found = []
    if medium.bulk_density is None:
        found.append(Refused("bulk density", "Without its bulk density nobody can say what the nozzle throws."))
    harmful = refusal(medium.kind, medium.free_silica)
    if harmful:
        found.append(Refused("free silica", harmful))
    return found


@units.wraps("m**2/hour", ("kg/hour", "kg/m**2", None, None, None))
def cleaning_rate(flow: Any, use: Any, grade: str, state: str, shape: str) -> Any:
    """How fast a face comes clean while the nozzle is open.   rate = flow/use · grade · state · shape

    Valid for 1 to 200 kg/m².      Source: flow/use [MEDIA-USE]; the factors are [our judgement].

    >>> rate = cleaning_rate(Quantity(98, "kg/h"), USUAL_USE, "Sa 2½", "plain rust", "ribbed casting")
    >>> f"{rate:.2f~P}"
    '2.41 m²/h'
    """
    within("use of medium", use, 1, 200, "kg/m²", OUR_JUDGEMENT)
    within("medium thrown", flow, 0.1, 1e5, "kg/h", OUR_JUDGEMENT)
    return flow / use * GRADES[grade].factor * STATES[state].factor * SHAPES[shape]


def pressure_share(pressure: Any) -> Range:
    """Output at a pressure at the nozzle, of that at 100 psi (6.9 bar), as far as two published rules agree.

    1 − 0.015 · (100 − p in psi) [HOSE-LOSS], and (p/6.9 bar)^1.5 [PRESSURE-OUTPUT], the likely one.
    Below 60 psi (4.1 bar) the power alone, from half of it to twice as much: an extrapolation [our judgement].

    >>> share = pressure_share(Quantity(80, "psi"))
    >>> f"{share.low:.2f} to {share.high:.2f}"
    '0.70 to 0.72'
    """
    psi = pressure.to("psi").magnitude
    power = (psi / FULL_PRESSURE) ** 1.5
    if psi < BOTH_RULES_FROM - 0.5:
        return Range(power / 2, power, min(1.0, power * 2))
    straight = 1 - LOST_FOR_A_PSI * (FULL_PRESSURE - psi)
    return Range(min(straight, power), power, max(straight, power))


def rate_range(flow: Any, use: Any, grade: str, state: str, shape: str, of_full: Range = FULL) -> Range:
    """The rate as far as what a square metre takes is known, 10 to 60 kg where 24.4 is usual, and what pressure does.

    flow: of medium at 100 psi · of_full: `pressure_share` of the pressure that it is blasted at

    >>> rate = rate_range(Quantity(98, "kg/h"), USUAL_USE, "Sa 2½", "plain rust", "flat")
    >>> f"{rate.low:.1f~P} to {rate.high:.1f~P}, likely {rate.likely:.1f~P}"
    '1.6 m²/h to 9.8 m²/h, likely 4.0 m²/h'
    """
    uses = use * (MOST_USE / USUAL_USE), use, use * (LEAST_USE / USUAL_USE)
    shares = of_full.low, of_full.likely, of_full.high
    rates = (cleaning_rate(flow, each, grade, state, shape) for each in uses)
    return Range(*(rate * share for rate, share in zip(rates, shares, strict=True)))


@dataclass(frozen=True)
class Own:
    """A figure from the workshop's own log, and from how many entries."""

    figure: Range
    count: int


def own_rate(logged: Iterable[tuple[Any, Any]], enough: int = ENOUGH_LOGS) -> Own | None:
    """The workshop's own rate from (area, nozzle time) of work alike; None while there are too few.

    Likely is all area by all time; low and high leave the quickest and the slowest tenth out.
    Raises OutsideValidity for an area or a time that cannot be.

    >>> log = [(Quantity(area, "m**2"), Quantity(minutes, "min")) for area, minutes in [(1, 30), (2, 50), (1, 20)] * 2]
    >>> own = own_rate(log)
    >>> f"{own.figure.low:.2f~P} to {own.figure.high:.2f~P}, likely {own.figure.likely:.2f~P}, of {own.count}"
    '2.00 m²/h to 3.00 m²/h, likely 2.40 m²/h, of 6'
    """
    return _own([(_area(area), _hours(time)) for area, time in logged], "m**2/hour", enough)


def own_use(logged: Iterable[tuple[Any, Any]], enough: int = ENOUGH_LOGS) -> Own | None:
    """What a square metre took here, from (medium thrown, area) of work alike; None while there are too few.

    >>> own_use([(Quantity(20, "kg"), Quantity(1, "m**2"))] * 4) is None
    True
    """
    return _own([(_mass(mass), _area(area)) for mass, area in logged], "kg/m**2", enough)


def _area(area: Any) -> float:
    within("area", area.to("m**2").magnitude, LEAST_AREA, MOST_AREA, "m²", OUR_JUDGEMENT)
    return float(area.to("m**2").magnitude)


def _hours(time: Any) -> float:
    within("time", time.to("minute").magnitude, 0.1, 1e5, "min", OUR_JUDGEMENT)
    return float(time.to("hour").magnitude)


def _mass(mass: Any) -> float:
    within("medium thrown", mass.to("kg").magnitude, 1e-3, 1e6, "kg", OUR_JUDGEMENT)
    return float(mass.to("kg").magnitude)


def _own(pairs: list[tuple[float, float]], unit: str, enough: int) -> Own | None:
    if len(pairs) < enough:
        return None
    above, below = np.array(pairs).T
    low, high = np.percentile(above / below, SPREAD)
    likely = np.clip(above.sum() / below.sum(), low, high)
    return Own(Range(*(Quantity(float(figure), unit) for figure in (low, likely, high))), len(pairs))


@dataclass(frozen=True)
class Job:
    """One part, or several alike, blasted with one medium. `gathered`: the medium is swept up and used again.

    `own_rate` and `own_use` stand in for what the books say.
    """

    area: Any
    medium: Abrasive
    rig: Rig
    grade: str = "Sa 2½"
    state: str = "plain rust"
    shape: str = "flat"
    gathered: bool = False
    own_rate: Own | None = None
    own_use: Own | None = None


@dataclass(frozen=True)
class Blast:
    """What a job takes, as ranges; `bags` is None where nobody said what a bag holds."""

    rate: Range
    nozzle_time: Range
    clock_time: Range
    thrown: Range
    bought: Range
    bags: Range | None
    air: Range
    air_rate: Any
    flow: Any
    compressor: Any
    duty: Any  # None where the compressor is not known

    @property
    def waste(self) -> Range:
        """Spent grit to get rid of: all that was bought ends there, and what came off comes on top of it."""
        return self.bought


def refusals(job: Job) -> list[Refused]:
    """All that stands against a job, each at its field."""
    return [*medium_refusals(job.medium), *rig_refusals(job.rig)]


def blast(job: Job) -> Blast:
    """Time, medium, air and waste of a job.

    time = area/rate,  thrown = flow · time,  bought = thrown/cycles where it is gathered,  air = air rate · time;
    the clock runs longer by the share of it that the nozzle is open: 70 %, or less where the compressor is too small.
    Raises the first of `refusals`, and OutsideValidity.      Source: [MEDIA-USE], [NOZZLE-TABLE], [common practice].

    >>> glass = Abrasive("medium crushed glass", "crushed glass", Quantity(1360, "kg/m**3"), Quantity(1, "percent"))
    >>> rig = Rig(Quantity(6, "mm"), Pressures(Quantity(5, "bar"), Quantity(0.15, "bar")))
    >>> done = blast(Job(Quantity(4.2, "m**2"), glass, rig, shape="ribbed casting"))
    >>> f"{done.clock_time.likely:.1f~P}, {done.thrown.likely:.0f~P}, {done.air.likely:.0f~P}"
    '2.0 h, 176 kg, 132 m³'
    """
    for refused in refusals(job):
        raise refused
    area, rig = Quantity(_area(job.area), "m**2"), job.rig
    flow = abrasive_flow(rig.bore, rig.pressures.nozzle, job.medium.bulk_density)
    air_rate = nozzle_air(rig.bore, rig.pressures.nozzle)
    rate = job.own_rate.figure if job.own_rate else _by_the_books(job)
    time = _each(rate, lambda speed: (area / speed).to("hour"))
    thrown = _each(time, lambda hours: (flow * hours).to("kg"), turned=False)
    if job.own_use:
        thrown = _each(job.own_use.figure, lambda use: (use * area).to("kg"), turned=False)
    bought = to_buy(thrown, job.medium, job.gathered)
    duty = None if rig.free_air is None else compressor.duty(rig.free_air, air_rate + rig.other_air)
    share = OPEN_SHARE if duty is None else min(OPEN_SHARE, duty)
    return Blast(
        rate=rate,
        nozzle_time=time,
        clock_time=_each(time, lambda hours: (hours / share).to("hour"), turned=False),
        thrown=thrown,
        bought=bought,
        bags=bags(bought, job.medium.bag),
        air=_each(time, lambda hours: (air_rate * hours).to("m**3"), turned=False),
        air_rate=air_rate,
        flow=flow,
        compressor=compressor.compressor_needed(air_rate, rig.other_air),
        duty=duty,
    )


def thrown_on(area: Any, use: Any, grade: str, state: str, shape: str) -> Range:
    """What a job takes of a medium, whatever throws it.   area · use / (grade · state · shape), use as in `rate_range`

    Source: use [MEDIA-USE], [common practice]; the factors are [our judgement].

    >>> thrown = thrown_on(Quantity(4.2, "m**2"), USUAL_USE, "Sa 2½", "plain rust", "ribbed casting")
    >>> f"{thrown.likely:.1f~P}"
    '170.8 kg'
    """
    per_area = area.to("m**2") / (GRADES[grade].factor * STATES[state].factor * SHAPES[shape])
    uses = use * (LEAST_USE / USUAL_USE), use, use * (MOST_USE / USUAL_USE)
    return Range(*((each * per_area).to("kg") for each in uses))


def _by_the_books(job: Job) -> Range:
    """The rate at full pressure, and what is left of it at this one."""
    full = abrasive_flow(job.rig.bore, Quantity(FULL_PRESSURE, "psi"), job.medium.bulk_density)
    share = pressure_share(job.rig.pressures.nozzle)
    return rate_range(full, usual_use(job.medium), job.grade, job.state, job.shape, share)


def usual_use(medium: Abrasive) -> Any:
    """What a square metre takes of it: as its sheet or a log says, else the usual by weight of an abrasive as heavy as
    the table's: a dense one throws more kilograms and cleans no more for it.      Source: [MEDIA-USE]; density [J].

    >>> grit = Abrasive("grit", "steel grit", Quantity(200, "lb/ft**3"), Quantity(0, "percent"))
    >>> f"{usual_use(grit):.1f~P}"
    '48.8 kg/m²'
    """
    if medium.use is not None:
        return medium.use
    return USUAL_USE * (medium.bulk_density / Quantity(constants.TABLE_ABRASIVE.value, "kg/m**3")).to("")


def triggers(job: Job) -> list[str]:
    """Which cautions a job asks for, by their keys."""
    asked = ["blasting", "blast hose and pot", "breathing air", "noise", "static"]
    if job.state == "thick old paint":
        asked += ["old paint", "chromate"]
    return asked + triggers_of(job.medium.kind)


def triggers_of(kind: str) -> list[str]:
    """Which cautions a medium of this kind asks for beside those of all blasting.

    >>> triggers_of("mineral slag"), triggers_of("garnet")
    (['beryllium'], [])
    """
    return {"mineral slag": ["beryllium"], "bicarbonate": ["wet stripping"]}.get(kind, [])


def _each(figures: Range, how: Any, turned: bool = True) -> Range:
    """A range through a formula; `turned` where more of the one is less of the other."""
    low, high = (figures.high, figures.low) if turned else (figures.low, figures.high)
    return Range(how(low), how(figures.likely), how(high))


def to_buy(thrown: Range, medium: Abrasive, gathered: bool) -> Range:
    """How much medium for what is thrown: by its cycles where it is gathered and can be used again.

    >>> garnet = Abrasive("garnet", "garnet", Quantity(2200, "kg/m**3"), None, cycles=(2, 2.5), reused=True)
    >>> f"{to_buy(Range.of(Quantity(170.8, 'kg')), garnet, gathered=True).likely:.1f~P}"
    '75.9 kg'
    """
    fewest, most = medium.cycles if gathered and medium.reused else (1.0, 1.0)
    return Range(thrown.low / most, thrown.likely / ((fewest + most) / 2), thrown.high / fewest)


def bags(bought: Range, bag: Any) -> Range | None:
    """Whole bags that hold it; None where nobody said what a bag holds.

    >>> bags(Range.of(Quantity(75.9, "kg")), Quantity(25, "kg")).likely
    4
    """
    if bag is None:
        return None
    within("bag", bag.to("kg").magnitude, 0.1, 5000, "kg", OUR_JUDGEMENT)
    return Range(*(ceil((kg / bag).to("").magnitude - 1e-9) for kg in (bought.low, bought.likely, bought.high)))


def _told(figures: Range, digits: str = ".3g") -> str:
    return f"{figures.likely:{digits}~P}, {figures.low:{digits}~P} to {figures.high:{digits}~P}"


def rate_working(job: Job, done: Blast) -> Working:
    """How the rate of a job came about."""
    if job.own_rate:
        logged = f"From {job.own_rate.count} entries of the workshop's own log; a tenth at either end left out."
        return Working("cleaning rate", "all area / all nozzle time", (), _told(done.rate), OUR_JUDGEMENT, logged)
    share, use = pressure_share(job.rig.pressures.nozzle), usual_use(job.medium)
    full = abrasive_flow(job.rig.bore, Quantity(FULL_PRESSURE, "psi"), job.medium.bulk_density)
    beyond = job.rig.pressures.nozzle.to("psi").magnitude < BOTH_RULES_FROM - 0.5
    told = "Below 4.1 bar (60 psi) no rule goes: the share is extrapolated, from half to twice. " if beyond else ""
    return Working(
        "cleaning rate",
        "rate = flow at 6.9 bar / use · share at this pressure · grade · state · shape",
        (
            ("medium thrown at 6.9 bar (100 psi)", f"{full:.3g~P}"),
            ("use on plain steel", f"{use:.3g~P}, as 10 to 60 where 24.4 kg/m² is usual"),
            (f"share at {job.rig.pressures.nozzle:.3g~P}", f"{share.likely:.2f}, {share.low:.2f} to {share.high:.2f}"),
            (f"grade {job.grade}", f"{GRADES[job.grade].factor:g}"),
            (job.state, f"{STATES[job.state].factor:g}"),
            (job.shape, f"{SHAPES[job.shape]:g}"),
        ),
        _told(done.rate),
        "PRESSURE-OUTPUT",
        f"{told}The three factors are our own judgement; enter area and minutes in the log, and your own figures take"
        " over.",
    )


def time_working(job: Job, done: Blast) -> Working:
    """How the time on the clock came about."""
    return Working(
        "time on the clock",
        "t = area / rate / share of the clock that the nozzle is open",
        (("area", f"{job.area:.3g~P}"), ("rate", _told(done.rate)), ("nozzle open", _told(done.nozzle_time, ".2g"))),
        _told(done.clock_time, ".2g"),
        COMMON_PRACTICE,
        "The nozzle is open 70 % of the clock, less where the compressor cannot keep up.",
    )


def medium_working(job: Job, done: Blast) -> Working:
    """How the medium to buy came about."""
    again = job.gathered and job.medium.reused
    cycles = "{:g} to {:g}".format(*job.medium.cycles) if again else "1, used once"
    return Working(
        "medium to buy",
        "kg = thrown / cycles,  thrown = flow · time the nozzle is open, or own use · area",
        (("medium thrown", _told(done.thrown)), ("cycles", cycles)),
        _told(done.bought),
        "MEDIA-TABLE",
        "All of it is waste in the end, with what it took off: rust, skin, and lead where there was old paint.",
    )
