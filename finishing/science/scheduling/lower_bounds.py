"""What no schedule can beat: each rack's own way through the weather, and whether there are hands and room enough."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from finishing.science.hours import Flags

from .crews import Hands, hands, teams
from .problem import NEVER, Chain, Minutes, Mode, Problem, Task, TimeLag, TimeWindow

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


class _OwnWays:
    """Works out the ways of all racks of a problem; what several of them share is kept."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self.count = problem, problem.horizon.count
        self.hands: Hands = hands(problem.people, self.count)
        self.lags: dict[tuple[str, str], list[TimeLag]] = {}
        for lag in problem.time_lags:
            self.lags.setdefault((lag.before, lag.after), []).append(lag)
        self._carried: dict[Any, Minutes] = {}

    def of(self, chain: Chain) -> OwnWay:
        may = [[self._alone(task, mode) for mode in task.modes] for task in chain.tasks]
        leads = [[self._leads(chain, n, m) for m in range(len(task.modes))] for n, task in enumerate(chain.tasks)]
        ends: list[list[Minutes]] = [[] for _ in chain.tasks]
        for n in range(len(chain.tasks) - 1, -1, -1):
            for m, mode in enumerate(chain.tasks[n].modes):
                may[n][m], found = self._lead_on(chain, n, mode, may[n][m], leads[n][m], may, ends)
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
        mode: Mode,
        at: Minutes,
        leads: Minutes | None,
        may: list[list[Minutes]],
        ends: list[list[Minutes]],
    ) -> tuple[Minutes, Minutes]:
        """The starts from which the rack can go on, and when it is dry then at the soonest."""
        task = chain.tasks[n]
        done = at + task.minutes
        dry = done if mode.dry is None else mode.dry[done]
        if leads is None:
            return at, dry
        following, soonest = chain.tasks[n + 1], np.full(len(at), NEVER)
        for other, starts, by in zip(following.modes, may[n + 1], ends[n + 1], strict=True):
            opens = leads[done]
            if other.place != mode.stands:
                opens = np.maximum(opens, self._arrives(chain.name, mode.stands, other.place, dry))
            if len(starts):
                found = np.append(by, NEVER)[np.searchsorted(starts, opens)]
                soonest = np.minimum(soonest, found)
        kept = soonest < NEVER
        number = task.modes.index(mode)
        for later, (other_task, other_starts) in enumerate(zip(chain.tasks, may, strict=True)):
            for lag in self.lags.get((task.name, other_task.name), ()) if later > n else ():
                kept &= self._in_time(lag.windows[number], done, other_task, other_starts)
        return at[kept], np.maximum(soonest, dry)[kept]

    def _in_time(self, window: TimeWindow, done: Minutes, after: Task, starts: Iterable[Minutes]) -> Flags:
        """Whether the task after finds a start in the window, by each completion of the one before."""
        found = np.zeros(len(done), bool)
        for at in starts:
            first = np.append(at, NEVER)[np.searchsorted(at, window.opens[done])]
            found |= first + after.minutes <= window.closes[done]
        return found

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
    maker = _OwnWays(problem)
    return [maker.of(chain) for chain in problem.chains]


def earliest_finish(problem: Problem) -> int:
    """Minute before which not everything can be dry by the hours alone, people and room apart."""
    return max(way.earliest for way in own_ways(problem))


# -- enough of everything


def capacity_suffices(problem: Problem, ways: list[OwnWay], end: int, flow: Flow) -> bool:
    """Whether hands, visits and wet room are enough for all to be dry by then, if work could be cut up as one likes.

    Every rack keeps to starts on its own way through the weather; in each hour no more of a task is done than the
    minutes of it that some start would lay there.
    """
    demands = [_Demand(problem, way, task, modes) for way in ways for task, modes in way.by(end)]
    if not all(demand.possible for demand in demands):
        return False
    hours = -(-problem.horizon.count // HOUR)
    people = _hourly(np.sum([person.working for person in problem.people], axis=0), hours)
    visits = np.zeros(problem.horizon.count)
    for visit in problem.visits:
        visits[max(0, visit.begin) : visit.end] += 1
    rooms = {place.name: place.wet_room for place in problem.places}
    hands_asked = [(d.covered * d.task.people, d.task.people * d.task.minutes) for d in demands if d.task.people]
    hands_asked += [asked for way in ways for asked in _carried(problem, way, end)]
    checks = [
        (people, hands_asked),
        (_hourly(visits, hours), [(d.covered, d.task.minutes) for d in demands if d.task.by_visit]),
    ]
    wet = [d for d in demands if d.task.wet and all(rooms[name] is not None for name in d.stands)]
    if wet:
        room = sum(rooms[name] or 0 for name in {name for d in wet for name in d.stands})
        checks.append((np.full(hours, HOUR * room), [(d.wet_covered, d.least_wet) for d in wet]))
    return all(_enough(room, asked, flow) for room, asked in checks)


def _carried(problem: Problem, way: OwnWay, end: int) -> Iterator[tuple[Any, int]]:
    """Carrying that a rack cannot do without: in which hours, and the least minutes of all hands together."""
    count, rack = problem.horizon.count, way.chain.name
    stands, ready = {way.chain.stands_in} - {""}, 0
    for task, modes in way.by(end):
        used = [(mode, at) for mode, at in zip(task.modes, modes, strict=True) if len(at)]
        comes = {mode.place for mode, _ in used}
        if stands and not stands & comes:
            ways_there = [t for a in stands for b in comes for t in problem.transports_of(rack, a, b)]
            least = min((t.people * t.minutes for t in ways_there), default=0)
            latest = max(int(at[-1]) for _, at in used)
            if least and latest > ready:
                spread = np.zeros(count, np.int64)
                spread[ready:latest] = max(t.people for t in ways_there)
                yield _hourly(spread, -(-count // HOUR)), least
        stands = {mode.stands for mode, _ in used}
        ready = min(int(at[0]) for _, at in used) + task.minutes


def _hourly(by_minute: Any, hours: int) -> Any:
    padded = np.zeros(hours * HOUR, np.int64)
    padded[: len(by_minute)] = by_minute
    return padded.reshape(hours, HOUR).sum(axis=1)


class _Demand:
    """What a task takes, and in which hours how much of it at the most."""

    def __init__(self, problem: Problem, way: OwnWay, task: Task, modes: list[Minutes]) -> None:
        self.task, self.count = task, problem.horizon.count
        self.possible = any(len(at) for at in modes)
        self.modes = [(mode, at) for mode, at in zip(task.modes, modes, strict=True) if len(at)]

    @property
    def covered(self) -> Any:
        """Minutes of each hour in which it may be worked on."""
        return self._spread((at, at + self.task.minutes) for _, at in self.modes)

    @property
    def stands(self) -> set[str]:
        """Where it may lie wet."""
        return {name for mode, _ in self.modes for name in (mode.place, mode.stands)}

    def _dry(self, mode: Mode, at: Minutes) -> Minutes:
        done = at + self.task.minutes
        return done if mode.dry is None else mode.dry[done]

    @property
    def wet_covered(self) -> Any:
        return self.task.wet * self._spread((at, self._dry(mode, at)) for mode, at in self.modes)

    @property
    def least_wet(self) -> int:
        return self.task.wet * min(int((self._dry(mode, at) - at).min()) for mode, at in self.modes)

    def _spread(self, spans: Iterable[tuple[Minutes, Minutes]]) -> Any:
        edges = np.zeros(self.count + 1, np.int64)
        for begin, end in spans:
            np.add.at(edges, begin, 1)
            np.add.at(edges, np.minimum(end, self.count), -1)
        return _hourly(np.cumsum(edges)[: self.count] > 0, -(-self.count // HOUR))


def _enough(room: Any, asked: list[tuple[Any, int]], flow: Flow) -> bool:
    hours = len(room)
    arcs = [_arcs(2 + np.arange(hours), 1, room)]
    for number, (hourly, amount) in enumerate(asked):
        node, used = 2 + hours + number, np.flatnonzero(hourly)
        arcs += [_arcs(0, node, amount), _arcs(node, 2 + used, hourly[used])]
    return not asked or flow(arcs) >= sum(amount for _, amount in asked)


def _arcs(tails: Any, heads: Any, room: Any) -> Any:
    """From, to, and how much may pass: one column an arc."""
    return np.array(np.broadcast_arrays(np.atleast_1d(tails), heads, room))


def dearest_call(problem: Problem) -> int:
    """Where something is to be blasted, what the cheapest visit costs that somebody can use, cents."""
    if not any(task.by_visit for task in problem.tasks.values()):
        return 0
    return min(visit.call_out for visit in problem.visits)
