"""What must be done: chains of tasks, the hours in which each may start, people, places, visits. No weather, no rows.

Here, and nowhere else, quantities become whole numbers. Time is counted in slots of 30 or 60 minutes after the start
of the run of hours, and slot i begins i slots after it. What is rounded goes the way that cannot spoil a coat:

    minutes of work, and of carrying      up to whole slots
    drying, settling: "not before"        up
    rust, recoat until: "not after"       down
    allowed hours                         inwards: a start on the half hour needs both hours allowed
    wet area                              up to whole dm²; room for it down
    margin                                down to tenths of a degree
    money                                 up to whole cents

An array by start has a value for each slot: what follows if the task starts there.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from math import ceil, floor
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from finishing.science.hours import Flags
from finishing.science.units import Quantity
from finishing.science.windows import Reason, Reasons

Slots = NDArray[np.int64]

NEVER = 1_000_000  # a slot that does not come
MOST_MARGIN = 1_000  # tenths of a degree: a task that has no margin to keep
TINY = 1e-6  # hours and minutes come from sums of floats


class ProblemError(ValueError):
    """What cannot be planned as it stands; `subject` is the task, rack, person, place or visit it is about."""

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

    def refused(self, hourly: Reasons) -> Reasons:
        """Reasons against starts on whole hours as those against each slot; on the half hour those of both hours."""
        if self.minutes == 60:
            return hourly[: self.count].copy()
        following = np.append(hourly[1:], np.uint16(Reason.NOT_KNOWN))
        return np.column_stack([hourly, hourly | following]).ravel()[: self.count]

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

    working: in which slots, overtime included · kinds: of tasks that they do; None is all
    extra: cents a slot of their work costs beyond their usual hours, a number or one a slot.
    """

    name: str
    working: Flags
    kinds: frozenset[str] | None = None
    extra: Any = 0

    def __post_init__(self) -> None:
        _spread(self, "working", "extra")


@dataclass(frozen=True)
class Workplace:
    """Where work is done. wet_room: dm² that may be wet there at once · at_once: tasks worked there at once."""

    name: str
    wet_room: int | None = None
    at_once: int | None = None


@dataclass(frozen=True)
class VisitOffer:
    """A day that a blasting contractor offers, from slot to slot, for so many cents; blasts one rack at a time."""

    name: str
    begin: int
    end: int
    call_out: int = 0

    def __post_init__(self) -> None:
        demand(self.name, self.begin < self.end, "has no hours")
        demand(self.name, self.call_out >= 0, "a call-out does not cost less than nothing")


@dataclass(frozen=True, eq=False)
class Transport:
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
class Mode:
    """One place where a task may be done, and what follows from each start there.

    may_start: by slot, for air and metal; people's hours are theirs · dry: slot when it may be handled, and its wet
    room is free; None as soon as it is done · stands_in, carried: wheeled there to dry, in that slot
    cost: cents, beyond people's and visits' · margin: tenths of a degree
    refused: by slot, flags of windows.Reason: why it may not start; None where nobody told.
    """

    place: str
    may_start: Flags
    dry: Slots | None = None
    stands_in: str = ""
    carried: Slots | None = None
    cost: Any = 0
    margin: Any = MOST_MARGIN
    refused: Reasons | None = None

    def __post_init__(self) -> None:
        _spread(self, "may_start", "cost", "margin")
        demand(self.place, bool(self.stands_in) == (self.carried is not None), "wheeled where, or when?")

    @property
    def stands(self) -> str:
        """Where it stands afterwards."""
        return self.stands_in or self.place


@dataclass(frozen=True, eq=False)
class Task:
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
    modes: tuple[Mode, ...]
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
        demand(self.name, len(self.modes) > 0, "there is no place for it")
        demand(self.name, self.people >= 0 and self.wet >= 0, "people and wet area are not negative")
        fits = self.pot_life is None or self.slots <= self.pot_life
        demand(self.name, fits, "takes longer than its mix keeps; split the rack")


@dataclass(frozen=True)
class Chain:
    """A rack's tasks in their order. stands_in: where it is now ("" wherever it is wanted) · promised: slot."""

    name: str
    tasks: tuple[Task, ...]
    stands_in: str = ""
    promised: int | None = None

    def __post_init__(self) -> None:
        demand(self.name, len(self.tasks) > 0, "has no steps")


@dataclass(frozen=True, eq=False)
class TimeWindow:
    """By start of the task before: the task after lies whole within opens … closes and outside the closed zone."""

    opens: Slots
    closes: Any = NEVER
    closed_from: Any = NEVER
    closed_until: Any = NEVER

    def __post_init__(self) -> None:
        _spread(self, "opens", "closes", "closed_from", "closed_until")


@dataclass(frozen=True)
class TimeLag:
    """From a task to a later one, of any rack: a window for each mode of the task before.

    kind: "recoat", "rust", "letters": only a word, for telling which rule was broken.
    """

    before: str
    after: str
    windows: tuple[TimeWindow, ...]
    kind: str = "recoat"


@dataclass(frozen=True, eq=False)
class Problem:
    """All there is to schedule; cannot exist wrong.

    >>> day = np.ones(9, bool)
    >>> coat = Task("coat 1", "coat", slots=2, modes=(Mode("shop", may_start=day, dry=np.arange(9) + 6),))
    >>> frame, ada = Chain("frame", (coat,)), Person("Ada", day)
    >>> Problem(Grid(60, 9), (frame,), (ada,), (Workplace("shop"),)).tasks["coat 1"].slots
    2
    """

    grid: Grid
    chains: tuple[Chain, ...]
    people: tuple[Person, ...]
    places: tuple[Workplace, ...]
    time_lags: tuple[TimeLag, ...] = ()
    transports: tuple[Transport, ...] = ()
    visits: tuple[VisitOffer, ...] = ()
    tasks: dict[str, Task] = field(init=False)
    _carried: dict[tuple[str, str, str], list[Transport]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        every = [task for chain in self.chains for task in chain.tasks]
        object.__setattr__(self, "tasks", {task.name: task for task in every})
        for words in (self.chains, self.people, self.places, self.visits, every):
            _told_apart(words)
        for person in self.people:
            _by_slot(self.grid, person.name, person.working, person.extra)
        object.__setattr__(self, "_carried", {})
        for transport in self.transports:
            self._check_transport(transport)
            self._carried.setdefault((transport.rack, transport.origin, transport.to), []).append(transport)
        for chain in self.chains:
            self._check_chain(chain)
        for lag in self.time_lags:
            self._check_lag(lag)

    def transports_of(self, rack: str, origin: str, to: str) -> list[Transport]:
        """The ways to carry this rack from a place to another."""
        return [*self._carried.get((rack, origin, to), ()), *self._carried.get(("", origin, to), ())]

    def restricted_to(self, chains: Iterable[Chain]) -> "Problem":
        """The problem of these racks alone, without time lags to others; without visits where none waits for one."""
        kept = tuple(chains)
        tasks = {task.name: task for chain in kept for task in chain.tasks}
        lags = tuple(lag for lag in self.time_lags if {lag.before, lag.after} <= tasks.keys())
        visits = self.visits if any(task.by_visit for task in tasks.values()) else ()
        return replace(self, chains=kept, time_lags=lags, visits=visits)

    def _check_chain(self, chain: Chain) -> None:
        known = {place.name for place in self.places}
        demand(chain.name, chain.stands_in in {"", *known}, f"stands in {chain.stands_in}: which place?")
        for task in chain.tasks:
            demand(task.name, not task.by_visit or bool(self.visits), "waits for a visit, and none is on offer")
            demand(task.name, task.fixed is None or 0 <= task.fixed < self.grid.count, "stays outside these hours")
            for mode in task.modes:
                demand(task.name, {mode.place, mode.stands} <= known, f"at {mode.place}: which place?")
                self._check_mode(task, mode)

    def _check_mode(self, task: Task, mode: Mode) -> None:
        _by_slot(self.grid, task.name, mode.may_start, mode.cost, mode.margin)
        done = np.arange(self.grid.count) + task.slots
        for follows in (mode.dry, mode.carried):
            if follows is not None:
                _by_slot(self.grid, task.name, follows)
                _in_step(task.name, follows)
                demand(task.name, bool(np.all(follows >= done)), "is dry, or carried, before it is done")

    def _check_lag(self, lag: TimeLag) -> None:
        for name in (lag.before, lag.after):
            demand(name, name in self.tasks, "is waited for, and is no step")
        modes = self.tasks[lag.before].modes
        demand(lag.before, len(lag.windows) == len(modes), "has one window for each place")
        for values in (values for window in lag.windows for values in vars(window).values()):
            _by_slot(self.grid, lag.before, values)
            _in_step(lag.before, values)

    def _check_transport(self, transport: Transport) -> None:
        name = f"{transport.origin} to {transport.to}"
        demand(name, transport.slots >= 0 and transport.people >= 0, "time and people are not negative")
        settles = np.broadcast_to(transport.settles, self.grid.count)
        demand(name, bool(np.all(settles >= 0)), "metal does not settle before it is there")


def _told_apart(named: Sequence[Any]) -> None:
    names = [each.name for each in named]
    for name in names:
        demand(name, names.count(name) == 1, "two have this name")


def _by_slot(grid: Grid, subject: str, *arrays: ArrayLike) -> None:
    for values in arrays:
        demand(subject, np.shape(values) == (grid.count,), f"needs one value for each of {grid.count} slots")


def _in_step(subject: str, follows: ArrayLike) -> None:
    """What starts later is never ready earlier: nature keeps this, and schedules lean on it."""
    demand(subject, bool(np.all(np.diff(np.asarray(follows)) >= 0)), "a later start may not be ready earlier")
