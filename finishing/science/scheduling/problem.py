"""What must be done: chains of tasks, the minutes in which each may start, people, places, visits. No weather, no rows.

Here, and nowhere else, quantities become whole numbers. Time is counted in minutes from a zero moment on; minute i
begins i minutes after it. What is rounded goes the way that cannot spoil a coat:

    minutes of work, and of carrying      up
    drying, settling: "not before"        up
    rust, recoat until: "not after"       down
    wet area                              up to whole dm²; room for it down
    margin                                down to tenths of a degree
    money                                 up to whole cents

An array by start has a value for each minute of the horizon: what holds if the task starts there. An array by
completion has one value more, and says what follows if the task is done by that minute: so one array, worked out once
for a paint in a place, serves every rack there, however long the work on it takes.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import ceil, floor
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from finishing.science.hours import Flags
from finishing.science.units import Quantity
from finishing.science.windows import Reasons

Minutes = NDArray[np.int64]

NEVER = 1_000_000  # a minute that does not come
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
class Horizon:
    """The minutes that are planned in, `count` of them.

    >>> Horizon(2880).work(50.2), Horizon(2880).not_before([1.2, float("inf")]).tolist()
    (51, [72, 1000000])
    """

    count: int

    def __post_init__(self) -> None:
        demand("time", self.count > 0, "there are no hours to plan in")

    def work(self, time: Any) -> int:
        """Minutes that work takes, a number or a quantity, up."""
        minutes = float(time.to("minute").magnitude if isinstance(time, Quantity) else time)
        return max(0, ceil(minutes - TINY))

    def not_before(self, hours: ArrayLike) -> Minutes:
        """Hours after the zero moment as minutes, up; what is not known or never comes is NEVER."""
        return self._minutes(np.ceil(60 * np.asarray(hours, float) - TINY))

    def not_after(self, hours: ArrayLike) -> Minutes:
        """Hours after the zero moment as minutes, down; inf, or NaN where a sheet sets no end, is NEVER."""
        return self._minutes(np.floor(60 * np.asarray(hours, float) + TINY))

    @property
    def hours(self) -> Any:
        """When each minute begins, hours after the zero moment: where arrays by start are to be asked for."""
        return np.arange(self.count) / 60

    def _minutes(self, minutes: Any) -> Minutes:
        whole = np.where(np.isfinite(minutes), np.clip(np.nan_to_num(minutes), -NEVER, NEVER), NEVER)
        return np.asarray(whole, np.int64)


def square_decimetres(area: float) -> int:
    """Wet area, up."""
    return ceil(100 * area - TINY)


def room(area: float) -> int:
    """Room for wet area in dm², down."""
    return floor(100 * area + TINY)


def tenths(margin: ArrayLike) -> NDArray[np.int16]:
    """°C as tenths, down; what is not known is no margin."""
    return np.asarray(np.floor(10 * np.nan_to_num(np.asarray(margin, float)) + TINY), np.int16)


def cents(money: ArrayLike) -> Minutes:
    """Money in whole cents, up."""
    return np.asarray(np.ceil(100 * np.asarray(money, float) - TINY), np.int64)


def _spread(each: Any, like: str, *names: str) -> None:
    """Numbers that stand for every minute become one value a minute."""
    for name in names:
        object.__setattr__(each, name, np.broadcast_to(np.asarray(getattr(each, name)), np.shape(getattr(each, like))))


def runs(flags: Flags) -> tuple[list[int], list[int]]:
    """Where the true stretches begin, and where each is over.

    >>> runs(np.array([False, True, True, False, True]))
    ([1, 4], [3, 5])
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], np.asarray(flags, bool), [False]])))
    return edges[::2].tolist(), edges[1::2].tolist()


@dataclass(frozen=True, eq=False)
class Person:
    """Somebody who does one thing at a time.

    working: in which minutes, overtime included · kinds: of tasks that they do; None is all
    wage: cents that an hour of their work costs, a number or one a minute.
    """

    name: str
    working: Flags
    kinds: frozenset[str] | None = None
    wage: Any = 0

    def __post_init__(self) -> None:
        _spread(self, "working", "wage")


@dataclass(frozen=True)
class Workplace:
    """Where work is done. wet_room: dm² that may be wet there at once · at_once: tasks worked there at once."""

    name: str
    wet_room: int | None = None
    at_once: int | None = None


@dataclass(frozen=True)
class VisitOffer:
    """A day that a blasting contractor offers, from minute to minute, for so many cents; blasts one rack at a time."""

    name: str
    begin: int
    end: int
    call_out: int = 0

    def __post_init__(self) -> None:
        demand(self.name, self.begin < self.end, "has no hours")
        demand(self.name, self.call_out >= 0, "a call-out does not cost less than nothing")


@dataclass(frozen=True, eq=False)
class Transport:
    """Carrying from a place to another. settles: minutes from arrival until the margin holds, one number or by minute.

    rack: the only one that is carried so; "" any.
    """

    origin: str
    to: str
    minutes: int
    people: int = 1
    settles: Any = 0
    rack: str = ""


@dataclass(frozen=True, eq=False)
class Mode:
    """One place where a task may be done, and what follows there.

    may_start: by start, for air and metal; people's hours are theirs · dry: by completion, when it may be handled and
    its wet room is free; None as soon as it is done · stands_in, carried: wheeled there to dry, then, by completion
    cost: cents by start, beyond people's and visits' · margin: by start, tenths of a degree
    refused: by start, flags of windows.Reason: why it may not start; None where nobody told.
    """

    place: str
    may_start: Flags
    dry: Minutes | None = None
    stands_in: str = ""
    carried: Minutes | None = None
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

    @cached_property
    def stretches(self) -> tuple[list[int], list[int]]:
        """Where the stretches begin in which it may start, and where each is over."""
        return runs(self.may_start)


@dataclass(frozen=True, eq=False)
class Task:
    """One thing done to a rack.

    minutes: of work · people: needed at once · wet: dm² that lie wet · dust: minutes that sweeping and settling take
    after it, for what fouls the air (None: clean) · by_visit: only in a visit that is booked
    not_before: a receipt, before which its rack is not carried either
    pot_life: minutes that a mix keeps · fixed: minute in which it is running or has been promised to stay
    early: its rack may be fetched long before it. Otherwise it is fetched at the last moment for its carriers, since
    what is bare or drying fares as the air does where it stands, and its windows are told for where it stood.
    paint: of a coat, what is mixed once for all that get it one after the other.
    """

    name: str
    kind: str
    minutes: int
    modes: tuple[Mode, ...]
    people: int = 1
    wet: int = 0
    dust: int | None = None
    by_visit: bool = False
    not_before: int = 0
    pot_life: int | None = None
    fixed: int | None = None
    early: bool = False
    paint: str = ""

    def __post_init__(self) -> None:
        demand(self.name, self.minutes > 0, "takes no time")
        demand(self.name, len(self.modes) > 0, "there is no place for it")
        demand(self.name, self.people >= 0 and self.wet >= 0, "people and wet area are not negative")
        fits = self.pot_life is None or self.minutes <= self.pot_life
        demand(self.name, fits, "takes longer than its mix keeps; split the rack")


@dataclass(frozen=True)
class Chain:
    """A rack's tasks in their order. stands_in: where it is now ("" wherever it is wanted) · promised: minute."""

    name: str
    tasks: tuple[Task, ...]
    stands_in: str = ""
    promised: int | None = None

    def __post_init__(self) -> None:
        demand(self.name, len(self.tasks) > 0, "has no steps")


@dataclass(frozen=True, eq=False)
class TimeWindow:
    """By completion of the task before: the one after lies whole in opens … closes and outside the closed zone."""

    opens: Minutes
    closes: Any = NEVER
    closed_from: Any = NEVER
    closed_until: Any = NEVER

    def __post_init__(self) -> None:
        _spread(self, "opens", "closes", "closed_from", "closed_until")


@dataclass(frozen=True)
class TimeLag:
    """From a task to a later one of its rack: a window for each mode of the task before.

    kind: "recoat", "rust", "letters": only a word, for telling which rule was broken.
    """

    before: str
    after: str
    windows: tuple[TimeWindow, ...]
    kind: str = "recoat"


@dataclass(frozen=True, eq=False)
class Problem:
    """All there is to schedule; cannot exist wrong.

    session_waste: cents by paint, of what stays in pot and gun after each session of it.

    >>> day = np.ones(600, bool)
    >>> coat = Task("coat 1", "coat", minutes=45, modes=(Mode("shop", may_start=day, dry=np.arange(601) + 240),))
    >>> frame, ada = Chain("frame", (coat,)), Person("Ada", day)
    >>> Problem(Horizon(600), (frame,), (ada,), (Workplace("shop"),)).tasks["coat 1"].minutes
    45
    """

    horizon: Horizon
    chains: tuple[Chain, ...]
    people: tuple[Person, ...]
    places: tuple[Workplace, ...]
    time_lags: tuple[TimeLag, ...] = ()
    transports: tuple[Transport, ...] = ()
    visits: tuple[VisitOffer, ...] = ()
    session_waste: Mapping[str, int] = field(default_factory=dict)
    tasks: dict[str, Task] = field(init=False)
    seen: dict[int, Any] = field(default_factory=dict, repr=False)  # arrays that were checked, and by whom to be shared
    hands: dict[tuple[tuple[Person, ...], int], Any] = field(default_factory=dict, repr=False)  # kept by crews.hands
    _carried: dict[tuple[str, str, str], list[Transport]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        every = [task for chain in self.chains for task in chain.tasks]
        object.__setattr__(self, "tasks", {task.name: task for task in every})
        for words in (self.chains, self.people, self.places, self.visits, every):
            _told_apart(words)
        for person in self.people:
            _by_start(self.horizon, person.name, person.working, person.wage)
        object.__setattr__(self, "_carried", {})
        for transport in self.transports:
            self._check_transport(transport)
            self._carried.setdefault((transport.rack, transport.origin, transport.to), []).append(transport)
        for chain in self.chains:
            self._check_chain(chain)
        places = {task.name: (chain.name, n) for chain in self.chains for n, task in enumerate(chain.tasks)}
        for lag in self.time_lags:
            self._check_lag(lag, places)

    def transports_of(self, rack: str, origin: str, to: str) -> list[Transport]:
        """The ways to carry this rack from a place to another."""
        return [*self._carried.get((rack, origin, to), ()), *self._carried.get(("", origin, to), ())]

    def restricted_to(self, chains: Iterable[Chain]) -> "Problem":
        """The problem of these racks alone; without visits where none waits for one."""
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
            demand(task.name, task.fixed is None or 0 <= task.fixed < self.horizon.count, "stays outside these hours")
            for mode in task.modes:
                demand(task.name, {mode.place, mode.stands} <= known, f"at {mode.place}: which place?")
                self._check_mode(task, mode)

    def _check_mode(self, task: Task, mode: Mode) -> None:
        _by_start(self.horizon, task.name, mode.may_start, mode.cost, mode.margin)
        for follows in (mode.dry, mode.carried):
            if follows is not None and id(follows) not in self.seen:
                self._check_completion(task.name, follows)
                done = np.arange(self.horizon.count + 1)
                demand(task.name, bool(np.all(follows >= done)), "is dry, or carried, before it is done")

    def _check_lag(self, lag: TimeLag, places: dict[str, tuple[str, int]]) -> None:
        for name in (lag.before, lag.after):
            demand(name, name in self.tasks, "is waited for, and is no step")
        (rack, first), (other, second) = places[lag.before], places[lag.after]
        demand(lag.after, rack == other and first < second, "waits for what does not come before it on its rack")
        modes = self.tasks[lag.before].modes
        demand(lag.before, len(lag.windows) == len(modes), "has one window for each place")
        for window in lag.windows:
            for values in (window.opens, window.closes, window.closed_from, window.closed_until):
                self._check_completion(lag.before, values)

    def _check_completion(self, subject: str, follows: ArrayLike) -> None:
        """What is done later is never ready earlier: nature keeps this, and schedules lean on it."""
        if id(follows) in self.seen:
            return
        self.seen[id(follows)] = follows
        right = np.shape(follows) == (self.horizon.count + 1,)
        demand(subject, right, f"needs one value for each of {self.horizon.count} minutes, and the end")
        demand(subject, bool(np.all(np.diff(np.asarray(follows)) >= 0)), "done later it may not be ready earlier")

    def _check_transport(self, transport: Transport) -> None:
        name = f"{transport.origin} to {transport.to}"
        demand(name, transport.minutes >= 0 and transport.people >= 0, "time and people are not negative")
        if id(transport.settles) not in self.seen:
            self.seen[id(transport.settles)] = transport.settles
            settles = np.broadcast_to(transport.settles, self.horizon.count)
            demand(name, bool(np.all(settles >= 0)), "metal does not settle before it is there")


def _told_apart(named: Sequence[Any]) -> None:
    for name, times in Counter(each.name for each in named).items():
        demand(name, times == 1, "two have this name")


def _by_start(horizon: Horizon, subject: str, *arrays: ArrayLike) -> None:
    for values in arrays:
        demand(subject, np.shape(values) == (horizon.count,), f"needs one value for each of {horizon.count} minutes")
