"""What no schedule can beat: each rack's own way through the weather, and whether there are hands and room enough."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from finishing.science.hours import Flags

from .crews import Hands, hands, teams
from .problem import NEVER, Chain, Minutes, Mode, Problem, Task, TimeLag

Flow = Callable[[list[Any]], int]  # how much passes through a network of arcs, from node 0 to node 1
HOUR = 60


@dataclass(frozen=True, eq=False)
class Starts:
    """The starts of a task in one mode that lead on to the end of its rack: minutes, and by when that is dry then."""

    mode: Mode
    at: Minutes
    ends: Minutes


@dataclass(frozen=True, eq=False)
class OwnWay:
    """A rack as if it were alone, for people and room: the starts of each task, mode by mode."""

    chain: Chain
    tasks: tuple[tuple[Starts, ...], ...]

    @property
    def earliest(self) -> int:
        """By when it is dry at the soonest; NEVER where it cannot be."""
        return min((int(starts.ends.min()) for starts in self.tasks[0] if len(starts.at)), default=NEVER)

    def by(self, end: int) -> Iterator[tuple[Task, list[Minutes]]]:
        """Each task with the starts in each mode after which the rack can be dry by then."""
        for task, modes in zip(self.chain.tasks, self.tasks, strict=True):
            yield task, [starts.at[starts.ends <= end] for starts in modes]


class OwnWays:
    """Works out the ways of all racks of a problem; what several of them share is kept."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self.count = problem, problem.horizon.count
        self.hands: Hands = hands(problem)
        self.lags: dict[tuple[str, str], list[TimeLag]] = {}
        for lag in problem.time_lags:
            self.lags.setdefault((lag.before, lag.after), []).append(lag)
        self._carried: dict[Any, Minutes] = {}
        self._known: dict[str, tuple[list[list[Minutes]], list[list[Minutes | None]]]] = {}

    def of(self, chain: Chain, within: Sequence[Flags] | None = None) -> OwnWay:
        """The rack's; within: for each of its tasks the minutes in which it may begin, beside all else."""
        if chain.name not in self._known:
            self._known[chain.name] = (
                [[self._alone(task, mode) for mode in task.modes] for task in chain.tasks],
                [[self._leads(chain, n, m) for m in range(len(task.modes))] for n, task in enumerate(chain.tasks)],
            )
        alone, leads = self._known[chain.name]
        may = [[at if within is None else at[within[n][at]] for at in modes] for n, modes in enumerate(alone)]
        ends: list[list[Minutes]] = [[] for _ in chain.tasks]
        for n in range(len(chain.tasks) - 1, -1, -1):
            for m in range(len(chain.tasks[n].modes)):
                may[n][m], found = self._lead_on(chain, n, m, may, leads, ends)
                ends[n].append(found)
        self._reached(chain, may, leads, ends)
        modes = (
            tuple(Starts(*those) for those in zip(task.modes, at, by, strict=True))
            for task, at, by in zip(chain.tasks, may, ends, strict=True)
        )
        return OwnWay(chain, tuple(modes))

    def _alone(self, task: Task, mode: Mode) -> Minutes:
        """The starts that air, metal and working hours allow, of work that is dry within the horizon."""
        there = np.zeros(self.count, bool)
        for team in teams(self.hands.crews, task.people, task.kind):
            there |= self.hands.at_work(team, task.minutes)
        if task.by_visit:
            visited = np.zeros(self.count, bool)
            for visit in self.problem.visits:
                visited[max(0, visit.begin) : max(0, visit.end - task.minutes + 1)] = True
            there &= visited
        at = np.flatnonzero(there & mode.may_start)
        at = at[(at >= task.not_before) & (at + task.minutes <= self.count)]
        if task.fixed is not None:
            at = at[at == task.fixed]
        return at if mode.dry is None else at[mode.dry[at + task.minutes] <= self.count]

    def _leads(self, chain: Chain, n: int, m: int) -> Minutes | None:
        """By completion in this mode, before when the next task may not begin, carrying apart; None behind the last."""
        task, mode = chain.tasks[n], chain.tasks[n].modes[m]
        if n + 1 == len(chain.tasks):
            return None
        lags = self.lags.get((task.name, chain.tasks[n + 1].name), [])
        done = np.arange(self.count + 1)
        opens: Minutes
        if lags:
            opens = np.max([lag.windows[m].opens for lag in lags], axis=0)
        else:
            opens = done if mode.dry is None else mode.dry
        if mode.carried is not None:
            opens = np.maximum(opens, self._arrives(chain.name, mode.place, mode.stands, mode.carried))
        return np.asarray(np.maximum(opens, done))

    def _arrives(self, rack: str, origin: str, to: str, ready: Minutes) -> Minutes:
        """When a rack that is ready then has settled in another place at the soonest."""
        soonest = np.full(len(ready), NEVER)
        for transport in self.problem.transports_of(rack, origin, to):
            key = id(transport.settles), transport.minutes, transport.people
            if key not in self._carried:
                settled = [self.hands.settled(transport, team) for team in teams(self.hands.crews, transport.people)]
                best = np.min([*settled, np.full(self.count, NEVER)], axis=0)
                self._carried[key] = np.append(np.minimum.accumulate(best[::-1])[::-1], NEVER)
            soonest = np.minimum(soonest, self._carried[key][np.minimum(ready, self.count)])
        return soonest

    def _lead_on(
        self,
        chain: Chain,
        n: int,
        m: int,
        may: list[list[Minutes]],
        leads: list[list[Minutes | None]],
        ends: list[list[Minutes]],
    ) -> tuple[Minutes, Minutes]:
        """The starts from which the rack can go on, and when it is dry then at the soonest."""
        task, mode, at = chain.tasks[n], chain.tasks[n].modes[m], may[n][m]
        done = at + task.minutes
        dry = done if mode.dry is None else mode.dry[done]
        if n + 1 == len(chain.tasks):
            return at, dry
        soonest = np.full(len(at), NEVER)
        following = self._first_starts(chain, n, m, done, may, leads)
        for found, starts, by in zip(following, may[n + 1], ends[n + 1], strict=True):
            soonest = np.minimum(soonest, np.append(by, NEVER)[np.searchsorted(starts, found)])
        kept = (soonest < NEVER) & self._in_time(chain, n, m, done, may, leads)
        return at[kept], np.maximum(soonest, dry)[kept]

    def _first_starts(
        self,
        chain: Chain,
        n: int,
        m: int,
        done: Minutes,
        may: list[list[Minutes]],
        leads: list[list[Minutes | None]],
    ) -> list[Minutes]:
        """By completion in this mode, the first start of the next task in each of its modes; NEVER: there is none."""
        mode, lead, found = chain.tasks[n].modes[m], leads[n][m], []
        dry = done if mode.dry is None else mode.dry[done]
        assert lead is not None  # a task comes after it
        for other, starts in zip(chain.tasks[n + 1].modes, may[n + 1], strict=True):
            opens = lead[done]
            if other.place != mode.stands:
                opens = np.maximum(opens, self._arrives(chain.name, mode.stands, other.place, dry))
            found.append(np.append(starts, NEVER)[np.searchsorted(starts, opens)])
        return found

    def _in_time(
        self,
        chain: Chain,
        n: int,
        m: int,
        done: Minutes,
        may: list[list[Minutes]],
        leads: list[list[Minutes | None]],
    ) -> Flags:
        """Whether each window that it opens is still open when the task at its end can be done at the soonest.

        What is done later is never ready earlier, so the soonest of each task on the way leads to the soonest there.
        """
        task = chain.tasks[n]
        windows = {
            later: [lag.windows[m] for lag in self.lags.get((task.name, chain.tasks[later].name), ())]
            for later in range(n + 1, len(chain.tasks))
        }
        last = max((later for later, those in windows.items() if those), default=n)
        kept = np.ones(len(done), bool)
        starts = self._first_starts(chain, n, m, done, may, leads) if last > n else []
        for later in range(n + 1, last + 1):
            after = chain.tasks[later]
            first = np.min(starts, axis=0)
            for window in windows[later]:
                opened = np.maximum(first, window.opens[done])
                begins = np.min([np.append(at, NEVER)[np.searchsorted(at, opened)] for at in may[later]], axis=0)
                kept &= begins + after.minutes <= window.closes[done]
            if later < last:
                on = [
                    self._first_starts(chain, later, other, np.minimum(at + after.minutes, self.count), may, leads)
                    for other, at in enumerate(starts)
                ]
                beyond = [np.where(at < NEVER, np.array(each), NEVER) for at, each in zip(starts, on, strict=True)]
                starts = list(np.min(beyond, axis=0))
        return kept

    def _reached(
        self,
        chain: Chain,
        may: list[list[Minutes]],
        leads: list[list[Minutes | None]],
        ends: list[list[Minutes]],
    ) -> None:
        """Leaves out the starts that nothing leads to: those before the first moment in which the rack can be there."""
        soonest = {chain.stands_in: chain.tasks[0].not_before}
        for n, task in enumerate(chain.tasks):
            here: dict[str, int] = {}
            for m, mode in enumerate(task.modes):
                ready = min(
                    (
                        at if place in ("", mode.place) else self._there(chain.name, place, mode.place, at)
                        for place, at in soonest.items()
                    ),
                    default=NEVER,
                )
                kept = may[n][m] >= ready
                may[n][m], ends[n][m] = may[n][m][kept], ends[n][m][kept]
                lead = leads[n][m]
                if len(may[n][m]) and lead is not None:
                    first = int(may[n][m][0]) + task.minutes
                    here[mode.stands] = min(here.get(mode.stands, NEVER), int(lead[first]))
            soonest = here

    def _there(self, rack: str, origin: str, to: str, at: int) -> int:
        return int(self._arrives(rack, origin, to, np.array([min(at, self.count)]))[0])


def own_ways(problem: Problem) -> list[OwnWay]:
    """Each rack's, in their order."""
    maker = OwnWays(problem)
    return [maker.of(chain) for chain in problem.chains]


def latest_starts(ways: Iterable[OwnWay], end: int) -> dict[str, int]:
    """Each task's last start from which its rack, if it were alone, can be dry by then; only of racks that can."""
    latest: dict[str, int] = {}
    for way in ways:
        for task, modes in way.by(end):
            latest |= {task.name: max(int(at[-1]) for at in modes if len(at))} if any(map(len, modes)) else {}
    return latest


def earliest_finish(problem: Problem) -> int:
    """Minute before which not everything can be dry by the hours alone, people and room apart."""
    return max(way.earliest for way in own_ways(problem))


# -- enough of everything


def capacity_suffices(problem: Problem, ways: list[OwnWay], end: int, flow: Flow) -> bool:
    """Whether hands, visits and wet room are enough for all to be dry by then, if work could be cut up as one likes.

    Every rack keeps to starts on its own way through the weather; in each hour no more of a task is done than the
    minutes of it that some start would lay there, and no more of all tasks than minutes in which one of them may lie.
    """
    demands = [_Demand(problem, way, task, modes) for way in ways for task, modes in way.by(end)]
    if not all(demand.possible for demand in demands):
        return False
    count = problem.horizon.count
    people = np.sum([person.working for person in problem.people], axis=0)
    visits = np.zeros(count, np.int64)
    for visit in problem.visits:
        visits[max(0, visit.begin) : visit.end] += 1
    rooms = {place.name: place.wet_room for place in problem.places}
    blasted = [Asked(d.covered, 1, d.task.minutes) for d in demands if d.task.by_visit]
    if not _enough(visits, blasted, flow):
        return False
    worked = [Asked(d.covered, d.task.people, d.task.people * d.task.minutes) for d in demands if d.task.people]
    worked += [asked for way in ways for asked in _carried(problem, way, end)]
    if not _enough(people, worked, flow):
        return False
    wet = [d for d in demands if d.task.wet and all(rooms[name] is not None for name in d.stands)]
    room = sum(rooms[name] or 0 for name in {name for d in wet for name in d.stands})
    lying = [Asked(d.wet_covered, d.task.wet, d.least_wet) for d in wet]
    return _enough(np.full(count, room), lying, flow)


@dataclass(frozen=True, eq=False)
class Asked:
    """By minute whether something is taken of what there is, how much at once, and how much in all."""

    minutes: Flags
    at_once: int
    amount: int


def _carried(problem: Problem, way: OwnWay, end: int) -> Iterator[Asked]:
    """Carrying that a rack cannot do without, by the least of all hands together."""
    for ready, latest, minutes, people in carried_between(problem, way, end):
        spread = np.zeros(problem.horizon.count, bool)
        spread[ready:latest] = True
        yield Asked(spread, people, people * minutes)


def carried_between(problem: Problem, way: OwnWay, end: int) -> Iterator[tuple[int, int, int, int]]:
    """From when until when a rack is carried that cannot do without, for how many minutes, and by how many people.

    Where it may be carried in several ways, that is what all of them have in common.
    """
    rack = way.chain.name
    stands, ready = {way.chain.stands_in} - {""}, 0
    for task, modes in way.by(end):
        used = [(mode, at) for mode, at in zip(task.modes, modes, strict=True) if len(at)]
        comes = {mode.place for mode, _ in used}
        if stands and not stands & comes:
            ways_there = [t for a in stands for b in comes for t in problem.transports_of(rack, a, b)]
            minutes, people = (min((getattr(t, name) for t in ways_there), default=0) for name in ("minutes", "people"))
            latest = max(int(at[-1]) for _, at in used)
            if minutes and people and latest > ready:
                yield ready, latest, minutes, people
        stands = {mode.stands for mode, _ in used}
        ready = min(int(at[0]) for _, at in used) + task.minutes


def _hourly(by_minute: Any) -> Minutes:
    return np.asarray(np.add.reduceat(by_minute, np.arange(0, len(by_minute), HOUR), dtype=np.int64))


class _Demand:
    """What a task takes, and in which minutes how much of it at the most."""

    def __init__(self, problem: Problem, way: OwnWay, task: Task, modes: list[Minutes]) -> None:
        self.task, self.count = task, problem.horizon.count
        self.possible = any(len(at) for at in modes)
        self.modes = [(mode, at) for mode, at in zip(task.modes, modes, strict=True) if len(at)]

    @property
    def covered(self) -> Flags:
        """By minute whether it may be worked on."""
        return self._spread((at, at + self.task.minutes) for _, at in self.modes)

    @property
    def stands(self) -> set[str]:
        """Where it may lie wet."""
        return {name for mode, _ in self.modes for name in (mode.place, mode.stands)}

    def _dry(self, mode: Mode, at: Minutes) -> Minutes:
        done = at + self.task.minutes
        return done if mode.dry is None else mode.dry[done]

    @property
    def wet_covered(self) -> Flags:
        return self._spread((at, self._dry(mode, at)) for mode, at in self.modes)

    @property
    def least_wet(self) -> int:
        return self.task.wet * min(int((self._dry(mode, at) - at).min()) for mode, at in self.modes)

    def _spread(self, spans: Iterable[tuple[Minutes, Minutes]]) -> Flags:
        edges = np.zeros(self.count + 1, np.int64)
        for begin, end in spans:
            np.add.at(edges, begin, 1)
            np.add.at(edges, np.minimum(end, self.count), -1)
        return np.asarray(np.cumsum(edges)[: self.count] > 0)


def _enough(room: Minutes, asked: list[Asked], flow: Flow) -> bool:
    if not asked:
        return True
    wanted, most = sum(one.amount for one in asked), np.zeros(len(room), np.int64)
    for one in asked:
        most[one.minutes] += one.at_once
    hourly = _hourly(np.minimum(room, most))
    if hourly.sum() < wanted:
        return False
    arcs = [_arcs(2 + np.arange(len(hourly)), 1, hourly)]
    for number, one in enumerate(asked):
        node, may = 2 + len(hourly) + number, one.at_once * _hourly(one.minutes)
        used = np.flatnonzero(may)
        arcs += [_arcs(0, node, one.amount), _arcs(node, 2 + used, may[used])]
    return flow(arcs) >= wanted


def _arcs(tails: Any, heads: Any, room: Any) -> Any:
    """From, to, and how much may pass: one column an arc."""
    return np.array(np.broadcast_arrays(np.atleast_1d(tails), heads, room))


def dearest_call(problem: Problem) -> int:
    """Where something is to be blasted, what the cheapest visit costs that somebody can use, cents."""
    if not any(task.by_visit for task in problem.tasks.values()):
        return 0
    return min(visit.call_out for visit in problem.visits)


def least_waste(problem: Problem) -> int:
    """Cents of paint that stays behind where each paint has one session."""
    return sum(problem.session_waste.get(paint, 0) for paint in {task.paint for task in problem.tasks.values()})
