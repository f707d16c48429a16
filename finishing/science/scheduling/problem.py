"""What must be done: chains of steps, the hours in which each may start, people, places, visits. No weather, no rows.

Here, and nowhere else, quantities become whole numbers. Time is counted in slots of 30 or 60 minutes after the start
of the run of hours, and slot i begins i slots after it. What is rounded goes the way that cannot spoil a coat:

    minutes of work, and of carrying      up to whole slots
    drying, settling: "not before"        up
    rust, recoat until: "not after"       down
    allowed hours                         inwards: a start on the half hour needs both hours allowed
    wet area                              up to whole dm²; room for it down
    margin                                down to tenths of a degree
    money                                 up to whole cents

An array by start has a value for each slot: what follows if the step starts there.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil, floor
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from finishing.science.hours import Flags
from finishing.science.units import Quantity

Slots = NDArray[np.int64]

NEVER = 1_000_000  # a slot that does not come
MOST = 1_000  # tenths of a degree: a step that has no margin to keep
TINY = 1e-6  # hours and minutes come from sums of floats


class ProblemError(ValueError):
    """What cannot be planned as it stands; `subject` is the step, rack, person, place or visit it is about."""

    def __init__(self, subject: str, message: str) -> None:
        super().__init__(f"{subject}: {message}")
        self.subject, self.message = subject, message


def demand(subject: str, holds: bool, message: str) -> None:
    """Raise ProblemError unless it holds."""
    if not holds:
        raise ProblemError(subject, message)


@dataclass(frozen=True)
class Grid:
    """How time is cut: `count` slots of `minutes` each.

    >>> Grid(30, count=96).work(50), Grid(60, count=48).not_before([1.2, float("inf")]).tolist()
    (2, [2, 1000000])
    """

    minutes: int
    count: int

    def __post_init__(self) -> None:
        demand("time", self.minutes in (30, 60), "is cut into slots of 30 or of 60 minutes")
        demand("time", self.count > 0, "there are no hours to plan in")

    def work(self, time: Any) -> int:
        """Slots that work takes: minutes or a quantity, up."""
        minutes = float(time.to("minute").magnitude if isinstance(time, Quantity) else time)
        return max(0, ceil(minutes / self.minutes - TINY))

    def not_before(self, hours: ArrayLike) -> Slots:
        """Hours after the start of the run as slots, up; what is not known or never comes is NEVER."""
        return self._slots(np.ceil(self._cut(hours) - TINY))

    def not_after(self, hours: ArrayLike) -> Slots:
        """Hours after the start of the run as slots, down; inf, or NaN where a sheet sets no end, is NEVER."""
        return self._slots(np.floor(self._cut(hours) + TINY))

    def allowed(self, hourly: ArrayLike) -> Flags:
        """Flags for starts on whole hours as flags for each slot, inwards."""
        flags = np.asarray(hourly, bool)
        if self.minutes == 60:
            return flags[: self.count]
        following = np.append(flags[1:], False)
        return np.column_stack([flags, flags & following]).ravel()[: self.count]

    def present(self, hourly: ArrayLike) -> Flags:
        """Flags for whole hours (somebody is at work) as flags for each slot."""
        return np.asarray(np.repeat(np.asarray(hourly, bool), 60 // self.minutes)[: self.count])

    @property
    def hours(self) -> Any:
        """When each slot begins, hours after the start of the run: where arrays by start are to be asked for."""
        return np.arange(self.count) * self.minutes / 60

    def _cut(self, hours: ArrayLike) -> Any:
        return np.asarray(hours, float) * 60 / self.minutes

    def _slots(self, slots: Any) -> Slots:
        whole = np.where(np.isfinite(slots), np.clip(np.nan_to_num(slots), -NEVER, NEVER), NEVER)
        return np.asarray(whole, np.int64)


def square_decimetres(area: float) -> int:
    """Wet area, up."""
    return ceil(100 * area - TINY)


def room(area: float) -> int:
    """Room for wet area in dm², down."""
    return floor(100 * area + TINY)


def tenths(margin: ArrayLike) -> Slots:
    """°C as tenths, down; what is not known is no margin."""
    return np.asarray(np.floor(10 * np.nan_to_num(np.asarray(margin, float)) + TINY), np.int64)


def cents(money: ArrayLike) -> Slots:
    """Money in whole cents, up."""
    return np.asarray(np.ceil(100 * np.asarray(money, float) - TINY), np.int64)


def _spread(each: Any, like: str, *names: str) -> None:
    """Numbers that stand for every slot become one value a slot."""
    for name in names:
        object.__setattr__(each, name, np.broadcast_to(np.asarray(getattr(each, name)), np.shape(getattr(each, like))))


@dataclass(frozen=True, eq=False)
class Person:
    """Somebody who does one thing at a time.

    working: in which slots, overtime included · kinds: of steps that they do; None is all
    extra: cents a slot of their work costs beyond their usual hours, a number or one a slot.
    """

    name: str
    working: Flags
    kinds: frozenset[str] | None = None
    extra: Any = 0

    def __post_init__(self) -> None:
        _spread(self, "working", "extra")


@dataclass(frozen=True)
class Place:
    """Where work is done. wet_room: dm² that may be wet there at once · at_once: steps worked there at once."""

    name: str
    wet_room: int | None = None
    at_once: int | None = None


@dataclass(frozen=True)
class Visit:
    """A day that a blasting contractor offers, from slot to slot, for so many cents; blasts one rack at a time."""

    name: str
    begin: int
    end: int
    call_out: int = 0

    def __post_init__(self) -> None:
        demand(self.name, self.begin < self.end, "has no hours")
        demand(self.name, self.call_out >= 0, "a call-out does not cost less than nothing")


@dataclass(frozen=True, eq=False)
class Move:
    """Carrying from a place to another. settles: slots from arrival until the margin holds, one number or by slot.

    rack: the only one that is carried so; "" any.
    """

    origin: str
    to: str
    slots: int
    people: int = 1
    settles: Any = 0
    rack: str = ""

    def settled(self, arrived: Slots, count: int) -> Slots:
        """Slots from each arrival until the margin holds."""
        return np.broadcast_to(self.settles, count)[np.minimum(arrived, count - 1)]


@dataclass(frozen=True, eq=False)
class Option:
    """One place where a step may be done, and what follows from each start there.

    may_start: by slot, for air and metal; people's hours are theirs · dry: slot when it may be handled, and its wet
    room is free; None as soon as it is done · stands_in, carried: wheeled there to dry, in that slot
    cost: cents, beyond people's and visits' · margin: tenths of a degree.
    """

    place: str
    may_start: Flags
    dry: Slots | None = None
    stands_in: str = ""
    carried: Slots | None = None
    cost: Any = 0
    margin: Any = MOST

    def __post_init__(self) -> None:
        _spread(self, "may_start", "cost", "margin")
        demand(self.place, bool(self.stands_in) == (self.carried is not None), "wheeled where, or when?")

    @property
    def stands(self) -> str:
        """Where it stands afterwards."""
        return self.stands_in or self.place


@dataclass(frozen=True, eq=False)
class Step:
    """One thing done to a rack.

    slots: of work · people: needed at once · wet: dm² that lie wet · dust: slots that sweeping and settling take after
    it, for what fouls the air (None: clean) · by_visit: only in a visit that is booked
    not_before: a receipt, before which its rack is not carried either
    pot_life: slots that a mix keeps · fixed: slot in which it is running or has been promised to stay
    early: its rack may be fetched long before it. Otherwise it is fetched at the last moment for its carriers, since
    what is bare or drying fares as the air does where it stands, and its windows are told for where it stood.
    """

    name: str
    kind: str
    slots: int
    options: tuple[Option, ...]
    people: int = 1
    wet: int = 0
    dust: int | None = None
    by_visit: bool = False
    not_before: int = 0
    pot_life: int | None = None
    fixed: int | None = None
    early: bool = False

    def __post_init__(self) -> None:
        demand(self.name, self.slots > 0, "takes no time")
        demand(self.name, len(self.options) > 0, "there is no place for it")
        demand(self.name, self.people >= 0 and self.wet >= 0, "people and wet area are not negative")
        fits = self.pot_life is None or self.slots <= self.pot_life
        demand(self.name, fits, "takes longer than its mix keeps; split the rack")


@dataclass(frozen=True)
class Chain:
    """A rack's steps in their order. stands_in: where it is now ("" wherever it is wanted) · promised: slot."""

    name: str
    steps: tuple[Step, ...]
    stands_in: str = ""
    promised: int | None = None

    def __post_init__(self) -> None:
        demand(self.name, len(self.steps) > 0, "has no steps")


@dataclass(frozen=True, eq=False)
class Window:
    """By start of the step before: the step after lies whole within opens … closes and outside the closed zone."""

    opens: Slots
    closes: Any = NEVER
    closed_from: Any = NEVER
    closed_until: Any = NEVER

    def __post_init__(self) -> None:
        _spread(self, "opens", "closes", "closed_from", "closed_until")


@dataclass(frozen=True)
class Link:
    """From a step to a later one, of any rack: a window for each option of the step before.

    kind: "recoat", "rust", "letters": only a word, for telling which rule was broken.
    """

    before: str
    after: str
    windows: tuple[Window, ...]
    kind: str = "recoat"


@dataclass(frozen=True, eq=False)
class Problem:
    """All there is to plan; cannot exist wrong.

    >>> day = np.ones(9, bool)
    >>> coat = Step("coat 1", "coat", slots=2, options=(Option("shop", may_start=day, dry=np.arange(9) + 6),))
    >>> Problem(Grid(60, 9), (Chain("frame", (coat,)),), (Person("Ada", day),), (Place("shop"),)).steps["coat 1"].slots
    2
    """

    grid: Grid
    chains: tuple[Chain, ...]
    people: tuple[Person, ...]
    places: tuple[Place, ...]
    links: tuple[Link, ...] = ()
    moves: tuple[Move, ...] = ()
    visits: tuple[Visit, ...] = ()
    steps: dict[str, Step] = field(init=False)
    _carried: dict[tuple[str, str, str], list[Move]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        every = [step for chain in self.chains for step in chain.steps]
        object.__setattr__(self, "steps", {step.name: step for step in every})
        for words in (self.chains, self.people, self.places, self.visits, every):
            _told_apart(words)
        for person in self.people:
            _by_slot(self.grid, person.name, person.working, person.extra)
        object.__setattr__(self, "_carried", {})
        for move in self.moves:
            self._check_move(move)
            self._carried.setdefault((move.rack, move.origin, move.to), []).append(move)
        for chain in self.chains:
            self._check_chain(chain)
        for link in self.links:
            self._check_link(link)

    def moves_of(self, rack: str, origin: str, to: str) -> list[Move]:
        """The ways to carry this rack from a place to another."""
        return [*self._carried.get((rack, origin, to), ()), *self._carried.get(("", origin, to), ())]

    def _check_chain(self, chain: Chain) -> None:
        known = {place.name for place in self.places}
        demand(chain.name, chain.stands_in in {"", *known}, f"stands in {chain.stands_in}: which place?")
        for step in chain.steps:
            demand(step.name, not step.by_visit or bool(self.visits), "waits for a visit, and none is on offer")
            demand(step.name, step.fixed is None or 0 <= step.fixed < self.grid.count, "stays outside these hours")
            for option in step.options:
                demand(step.name, {option.place, option.stands} <= known, f"at {option.place}: which place?")
                self._check_option(step, option)

    def _check_option(self, step: Step, option: Option) -> None:
        _by_slot(self.grid, step.name, option.may_start, option.cost, option.margin)
        done = np.arange(self.grid.count) + step.slots
        for follows in (option.dry, option.carried):
            if follows is not None:
                _by_slot(self.grid, step.name, follows)
                _in_step(step.name, follows)
                demand(step.name, bool(np.all(follows >= done)), "is dry, or carried, before it is done")

    def _check_link(self, link: Link) -> None:
        for name in (link.before, link.after):
            demand(name, name in self.steps, "is waited for, and is no step")
        options = self.steps[link.before].options
        demand(link.before, len(link.windows) == len(options), "has one window for each place")
        for values in (values for window in link.windows for values in vars(window).values()):
            _by_slot(self.grid, link.before, values)
            _in_step(link.before, values)

    def _check_move(self, move: Move) -> None:
        name = f"{move.origin} to {move.to}"
        demand(name, move.slots >= 0 and move.people >= 0, "time and people are not negative")
        settles = np.broadcast_to(move.settles, self.grid.count)
        demand(name, bool(np.all(settles >= 0)), "metal does not settle before it is there")


def _told_apart(named: Sequence[Any]) -> None:
    names = [each.name for each in named]
    for name in names:
        demand(name, names.count(name) == 1, "two have this name")


def _by_slot(grid: Grid, subject: str, *arrays: ArrayLike) -> None:
    for values in arrays:
        demand(subject, np.shape(values) == (grid.count,), f"needs one value for each of {grid.count} slots")


def _in_step(subject: str, follows: ArrayLike) -> None:
    """What starts later is never ready earlier: nature keeps this, and plans lean on it."""
    demand(subject, bool(np.all(np.diff(np.asarray(follows)) >= 0)), "a later start may not be ready earlier")
