"""From a problem to a schedule, with a lower bound that no schedule can beat. The only room with a solver.

The aims are taken in turn: each is made as small as it goes, held there, and the next one follows. A first schedule
comes by insertion. A few racks are then freed at a time and laid out anew by the solver to the minute, with the rest
where it stands; where there are only a few, all of them, and what comes of that is proven. The same seed and effort
give the same schedule, unless somebody stops earlier: effort counts work, not seconds.

>>> from finishing.science.scheduling.problem import Chain, Horizon, Mode, Person, Task, Workplace

>>> day = np.arange(1440)
>>> coat = Mode("shop", may_start=(day >= 480) & (day < 900), dry=np.arange(1441) + 240)
>>> rack = Chain("frame", (Task("frame, coat 1", "coat", minutes=50, modes=(coat,)),))
>>> people = (Person("Ada", (day >= 540) & (day < 1020)),)
>>> result = solve(Problem(Horizon(1440), (rack,), people, (Workplace("shop"),)))
>>> result.schedule.tasks["frame, coat 1"].begin, result.schedule.finish, result.proven
(540, 830, True)
"""

import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from math import inf
from random import Random
from threading import Event, Thread
from typing import Any

import numpy as np
from ortools.graph.python import max_flow
from ortools.sat.python import cp_model

from finishing.science.mixing import STANDS_OPEN

from .crews import Team
from .days import Cut, DayChoices
from .exact import SEGMENTS, Cutter, Segment
from .feasibility import check_feasibility
from .insertion import Insertion, TaskWay, settle
from .local_search import LocalSearch
from .lower_bounds import OwnWay, capacity_suffices, dearest_call, latest_starts, least_waste, own_ways
from .problem import MOST_MARGIN, NEVER, Chain, Problem, Task, Transport
from .schedule import AIMS, Aim, Carry, Schedule, ScheduledTask
from .stages import first_schedule

EFFORT = 8.0  # of the solver's deterministic seconds
EFFORT_OF_A_SECOND = 0.3  # that somebody is ready to wait: the search goes slower than it counts
FEW = 8  # racks that are freed together; as few are planned all at once
SOME = 14  # racks of which all are freed together now and then
ROUND = 0.6  # of the solver's seconds for one layout of a few racks
LONG_ROUND = 2.5  # of all of them
STALLED = 0.5  # of the seconds that somebody waits, without a better schedule, after which an aim is left
WIDER = 2  # rounds in a row without a better schedule after which some racks are laid out anew all together
VAIN = 12  # rounds in a row without a better schedule after which an aim is left
TURN = 0.0001  # of the solver's seconds that a turn of shuffling counts,
TURN_A_RACK = 0.000005  # and more for each rack
FEW_SHARE, SHARE = 0.005, 0.8  # of the effort that shuffling may take, of some racks and of many

Literal = Any  # the solver's own, which says no more of its types
Expression = Any
Report = Callable[[Schedule], None]
Stop = Callable[[], bool]


@dataclass(frozen=True, eq=False)
class Result:
    """The best schedule found, None where there is none; for each aim in turn no schedule is better than its bound.

    bounds: lower bounds of Schedule.values, each while the aims before it keep the values that the schedule has
    impossible: that there is no schedule at all has been proven.
    """

    schedule: Schedule | None
    aims: tuple[Aim, ...]
    bounds: tuple[int, ...]
    impossible: bool = False

    @property
    def proven(self) -> bool:
        """Nothing is better, in any of the aims."""
        return self.impossible or (self.schedule is not None and self.schedule.values(self.aims) == self.bounds)

    @property
    def open_aim(self) -> Aim | None:
        """The first aim in which a better schedule has not been ruled out."""
        if self.schedule is None:
            return None
        values = self.schedule.values(self.aims)
        return next((a for a, v, b in zip(self.aims, values, self.bounds, strict=True) if v != b), None)

    @property
    def gap(self) -> float:
        """How much better the first aim that is open could be at most, as a share of its value or bound, the larger."""
        if self.schedule is None or self.open_aim is None:
            return 0.0
        value, bound = self.schedule.value(self.open_aim), self.bounds[self.aims.index(self.open_aim)]
        return (value - bound) / max(abs(value), abs(bound))


def solve(
    problem: Problem,
    aims: tuple[Aim, ...] = AIMS,
    *,
    seed: int = 0,
    effort: float = EFFORT,
    first: Schedule | None = None,
    report: Report | None = None,
    stop: Stop | None = None,
) -> Result:
    """The best schedule for these aims in turn.

    first: a schedule of this problem to begin with · report: is told each better schedule, every one checked
    stop: asked often; True keeps the best so far.
    """
    return _Search(problem, aims, seed, effort, report or (lambda _: None), stop or (lambda: False)).run(first)


def solve_for(
    seconds: float,
    problem: Problem,
    aims: tuple[Aim, ...] = AIMS,
    *,
    seed: int = 0,
    first: Schedule | None = None,
    report: Report | None = None,
    stop: Stop | None = None,
) -> Result:
    """The best schedule that comes in so many seconds on the clock; sooner where it is proven, or stopped.

    An aim in which nothing better came for STALLED of them is left for the next one.
    """
    until = time.monotonic() + seconds

    def over() -> bool:
        return time.monotonic() > until or (stop is not None and stop())

    effort = EFFORT_OF_A_SECOND * seconds
    search = _Search(problem, aims, seed, effort, report or (lambda _: None), over, STALLED * seconds)
    return search.run(first)


def flow(arcs: list[Any]) -> int:
    """How much passes through a network, from node 0 to node 1."""
    network = max_flow.SimpleMaxFlow()
    tails, heads, room = np.concatenate(arcs, axis=1)
    network.add_arcs_with_capacity(tails.astype(np.int32), heads.astype(np.int32), room)
    network.solve(0, 1)
    return int(network.optimal_flow())


def choose_days(sizes: list[int], cuts: list[Cut]) -> list[int] | None:
    """One choice for each rack, of so many, that keeps all cuts; None where there is none."""
    model = cp_model.CpModel()
    picked = [[model.new_bool_var("") for _ in range(size)] for size in sizes]
    for literals in picked:
        model.add_exactly_one(literals)
    for cut in cuts:
        asked = (cp_model.LinearExpr.weighted_sum(*pair) for pair in zip(picked, cut.asked, strict=True))
        model.add(sum(asked) <= cut.room)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    if solver.solve(model) == cp_model.INFEASIBLE:
        return None
    return [next(n for n, literal in enumerate(literals) if solver.value(literal)) for literals in picked]


class _Search:
    """One problem on its way to its best schedule."""

    def __init__(
        self,
        problem: Problem,
        aims: tuple[Aim, ...],
        seed: int,
        effort: float,
        report: Report,
        stopped: Stop,
        patience: float = inf,
    ) -> None:
        self.problem, self.seed, self.left = problem, seed, effort
        self.aims = (*aims, Aim.LABOUR)
        self.report, self.stopped, self.patience = report, stopped, patience
        self.gained_at = time.monotonic()
        self.held: dict[Aim, int] = {}
        self.schedule: Schedule | None = None
        self.random = Random(seed)

    def run(self, first: Schedule | None) -> Result:
        """First a schedule, then each aim in its turn."""
        first = first or first_schedule(self.problem)
        if first is not None:
            self._keep(first)
        self.ways = {way.chain.name: way for way in own_ways(self.problem)}
        self.cutter = Cutter(self.problem)
        if self.schedule is None:
            impossible = not self._alone() or self._lay_out(self.problem.chains, None) is False
        if self.schedule is None:
            return Result(None, self.aims[:-1], tuple(0 for _ in self.aims[:-1]), impossible=impossible)
        bounds = [self._best(aim) for aim in self.aims]
        sooner = _as_soon_as_may_be(self.schedule)
        if sooner is not None and sooner.tasks != self.schedule.tasks and self._no_worse(sooner):
            self.schedule = sooner
            self.report(sooner)
        return Result(self.schedule, self.aims[:-1], tuple(bounds[:-1]))

    def stop(self) -> bool:
        """Whether an aim is to be left: somebody stops, or nothing better came for too long."""
        return self.stopped() or time.monotonic() > self.gained_at + self.patience

    def _no_worse(self, schedule: Schedule) -> bool:
        assert self.schedule is not None
        no_worse = schedule.values(self.aims) <= self.schedule.values(self.aims)
        return no_worse and not check_feasibility(schedule)

    def _alone(self) -> bool:
        """Whether each rack could be done if it were alone."""
        return all(way.earliest < NEVER for way in self.ways.values())

    def _value(self, aim: Aim) -> int:
        assert self.schedule is not None
        return self.schedule.value(aim)

    def _keep(self, schedule: Schedule) -> bool:
        """Makes a better schedule the incumbent; RuntimeError if it breaks a rule, which is a fault of ours."""
        if self.schedule is not None and schedule.values(self.aims) >= self.schedule.values(self.aims):
            return False
        if broken := check_feasibility(schedule):
            raise RuntimeError(f"this plan breaks its rules: {'; '.join(map(str, broken))}")
        self.schedule, self.gained_at = schedule, time.monotonic()
        self.report(schedule)
        return True

    # -- one aim

    def _best(self, aim: Aim) -> int:
        """Makes this aim as small as it goes and holds it; gives its bound."""
        self.gained_at = time.monotonic()
        bound = self._bound(aim)
        racks = len(self.problem.chains)
        if aim is Aim.FINISH and self._open(aim, bound):
            ways = list(self.ways.values())
            bound = self._least_end(bound, lambda end: capacity_suffices(self.problem, ways, end, flow))
        if aim is Aim.FINISH and 1 < racks <= SOME and self._open(aim, bound):
            days = DayChoices(self.problem, self._value(aim))
            bound = self._least_end(bound, lambda end: days.suffice(end, choose_days))
        if self._open(aim, bound) and racks > 1:  # few are sooner laid out anew all together
            self._shuffle(aim, bound, SHARE if racks > SOME else FEW_SHARE)
        if self._open(aim, bound) and len(self.problem.chains) <= FEW:
            bound = self._all_at_once(aim, bound)
        elif self._open(aim, bound):
            self._few_at_a_time(aim, bound)
        self.held[aim] = self._value(aim)
        return min(bound, self._value(aim))

    def _open(self, aim: Aim, bound: int) -> bool:
        return self._value(aim) > bound and self.left > 0 and not self.stop()

    def _bound(self, aim: Aim) -> int:
        """What no schedule can be better in, seen at once."""
        ways, chains = self.ways, self.problem.chains
        if aim is Aim.LATENESS:
            return sum(max(0, ways[c.name].earliest - c.promised) for c in chains if c.promised is not None)
        if aim is Aim.FINISH:
            return max(way.earliest for way in ways.values())
        starts = [(t, m) for way in ways.values() for t, m in zip(way.chain.tasks, way.tasks, strict=True)]
        if aim is Aim.COST:
            least = (min(int(s.mode.cost[s.at].min()) for s in modes if len(s.at)) for _, modes in starts)
            wage = min((int(person.wage.min()) for person in self.problem.people), default=0)
            hands = sum(task.people * (task.minutes * wage // 60) for task, _ in starts)
            return sum(least) + hands + dearest_call(self.problem) + least_waste(self.problem)
        if aim is Aim.LABOUR:
            return sum(task.people * task.minutes for task, _ in starts)
        most = (max(int(s.mode.margin[s.at].max()) for s in modes if len(s.at)) for _, modes in starts)
        return -min(most)

    def _least_end(self, low: int, enough: Callable[[int], bool]) -> int:
        """The earliest end, no sooner than `low`, by which there is enough of what somebody asks about."""
        high, step = self._value(Aim.FINISH), 1
        while low < high and not self.stop():
            middle = max(high - step, (low + high) // 2)  # what there is may be best already
            step *= 8
            if enough(middle):
                high = middle
            else:
                low = middle + 1
        return low

    def _shuffle(self, aim: Aim, bound: int, share: float) -> None:
        assert self.schedule is not None
        latest = latest_starts(self.ways.values(), bound) if aim is Aim.FINISH else {}
        local_search = LocalSearch(self.schedule, self.aims[: self.aims.index(aim) + 1], self.seed, latest)

        def better(schedule: Schedule) -> bool:
            self._keep(schedule)
            return self._value(aim) > bound

        turn = TURN + TURN_A_RACK * len(self.problem.chains)
        turns = int(share * self.left / turn)
        self.left -= turn * local_search.run(turns, better, self.stop)

    def _all_at_once(self, aim: Aim, bound: int) -> int:
        """All racks anew; the bound that comes of it, if nothing had to be taken together."""
        least = self._lay_out(self.problem.chains, aim, self.left)
        return bound if least is None or isinstance(least, bool) else max(bound, least)

    def _few_at_a_time(self, aim: Aim, bound: int) -> None:
        """A few racks at a time, most often those that decide the aim and some beside them."""
        vain, number = 0, 0
        while self._open(aim, bound) and vain < VAIN:
            before = self._value(aim)
            whole = len(self.problem.chains) <= SOME and vain % WIDER == WIDER - 1
            chosen = self.problem.chains if whole else self._chosen(aim, number)
            self._lay_out(chosen, aim, min(LONG_ROUND if whole else ROUND, self.left))
            number += 1
            vain = 0 if self._value(aim) < before else vain + 1

    def _chosen(self, aim: Aim, number: int) -> tuple[Chain, ...]:
        assert self.schedule is not None
        schedule = self.schedule
        chains = sorted(self.problem.chains, key=lambda chain: -schedule.done(chain.name))
        near = chains[: 2 * FEW] if number % 3 else chains
        first = chains[:1] if aim in (Aim.FINISH, Aim.LATENESS) else []
        if number % 3 == 0 and first:
            return tuple(chains[:FEW])
        others = [chain for chain in near if chain not in first]
        return (*first, *self.random.sample(others, min(len(others), FEW - len(first))))

    def _lay_out(self, free: tuple[Chain, ...], aim: Aim | None, effort: float | None = None) -> int | bool | None:
        """These racks anew, the rest where it stands. A bound of the aim; False: impossible; None: nothing proven."""
        effort = self.left if effort is None else effort
        model = IntervalModel(self.problem, self.ways, self.cutter, free, self.schedule, aim, self.held)
        if not model.possible:
            return False
        whole = len(free) == len(self.problem.chains)
        bound, spent = model.solve(self.seed, effort, self.stop, self._keep_and_shift)
        self.left -= max(spent, 0.01)
        return bound if whole and model.exact else None

    def _keep_and_shift(self, schedule: Schedule) -> bool:
        """Keeps it, and what comes of it when each task begins as soon as it may."""
        kept = self._keep(schedule)
        shifted = _as_soon_as_may_be(schedule)
        return (shifted is not None and self._keep(shifted)) or kept


def _as_soon_as_may_be(schedule: Schedule) -> Schedule | None:
    """The same ways, each task put in anew in the order of their beginnings; None where a window closes over that."""
    problem = schedule.problem
    insertion = Insertion(problem)
    number = {task.name: (chain, n) for chain in problem.chains for n, task in enumerate(chain.tasks)}
    for done in sorted(schedule.tasks.values(), key=lambda s: (s.begin, s.end)):
        chain, n = number[done.task]
        if n > 0 and chain.tasks[n - 1].name not in insertion.tasks:
            return None
        ways = insertion.ways(chain, n, insertion.stood(chain, n))
        picks = (insertion.earliest(chain, n, way) for way in ways if way.number == done.mode)
        pick = min((p for p in picks if p is not None), key=lambda p: p.begin, default=None)
        if pick is None or insertion.misses(pick):
            return None
        insertion.lay(pick)
    return insertion.schedule()


class _Laid:
    """A task to be laid out: its start, and which segment it lies in."""

    def __init__(self, model: cp_model.CpModel, task: Task, segments: list[Segment]) -> None:
        self.task, self.segments = task, segments
        self.start = model.new_int_var(min(s.first for s in segments), max(s.last for s in segments), "")
        self.chosen: list[Literal] = [model.new_bool_var("") for _ in segments] if len(segments) > 1 else [1]
        if len(segments) > 1:
            model.add_exactly_one(self.chosen)
            model.add(self.start >= self.sum(lambda s: s.first))
            model.add(self.start <= self.sum(lambda s: s.last))

    def sum(self, number: Callable[[Segment], int]) -> Expression:
        """The number of the chosen segment."""
        numbers = [number(segment) for segment in self.segments]
        if len(set(numbers)) == 1:
            return numbers[0]
        return cp_model.LinearExpr.weighted_sum(self.chosen, numbers)

    def at(self, number: Callable[[Segment], int]) -> Expression:
        """The minute so long after its start."""
        return self.start + self.sum(number)

    @property
    def dry(self) -> Expression:
        return self.at(lambda s: s.dry)

    def groups(self, key: Callable[[Segment], Any]) -> dict[Any, list[int]]:
        """The segments by what they have in common; those of which nothing is to be said (None) left out."""
        found: dict[Any, list[int]] = defaultdict(list)
        for number, segment in enumerate(self.segments):
            if (said := key(segment)) is not None:
                found[said].append(number)
        return found


class IntervalModel:
    """Some racks as exact intervals, the rest of a schedule as what it takes."""

    def __init__(
        self,
        problem: Problem,
        ways: dict[str, OwnWay],
        cutter: Cutter,
        free: tuple[Chain, ...],
        schedule: Schedule | None,
        aim: Aim | None,
        held: dict[Aim, int],
    ) -> None:
        self.problem, self.ways, self.cutter, self.free = problem, ways, cutter, free
        self.schedule, self.aim, self.held = schedule, aim, held
        self.model = cp_model.CpModel()
        self.inserter = Insertion(problem)
        self.laid: dict[str, _Laid] = {}
        self.moments: dict[tuple[str, int, Team], Any] = {}  # of racks that may be fetched early
        self.visited: dict[str, list[tuple[str, Literal]]] = {}
        self.loads: dict[tuple[str, str], list[tuple[Any, int]]] = defaultdict(list)
        self.booked: dict[str, list[Literal]] = defaultdict(list)
        names = {task.name for chain in free for task in chain.tasks}
        self.rest = [s for s in schedule.tasks.values() if s.task not in names] if schedule is not None else []
        self.possible = all(self._cut(chain) for chain in free)
        if not self.possible:
            return
        self.exact = all(segment.exact for laid in self.laid.values() for segment in laid.segments)
        for chain in free:
            self._link(chain)
        for laid in self.laid.values():
            self._take(laid)
        for scheduled in self.rest:
            self._stays(scheduled)
        self._limit()
        self._seek()

    # -- racks

    def _cut(self, chain: Chain) -> bool:
        by, margin = self._latest(chain), -self.held.get(Aim.MARGIN, 0)
        if self.aim is Aim.MARGIN and self.schedule is not None:
            margin = self.schedule.margin
        origins = {chain.stands_in}
        for n, (task, starts) in enumerate(self.ways[chain.name].by(by)):
            options = [way for origin in sorted(origins) for way in self.inserter.ways(chain, n, origin)]
            options = [way for way in options if len(starts[way.number])]
            segments = [
                segment
                for way in options
                for segment in self.cutter.segments(
                    way, starts[way.number], max(4, SEGMENTS // len(options)), by, margin
                )
            ]
            if not segments:
                return False
            self.laid[task.name] = _Laid(self.model, task, segments)
            origins = {segment.way.mode.stands for segment in segments}
        return True

    def _latest(self, chain: Chain) -> int:
        """By when this rack may be dry at the latest."""
        count = self.problem.horizon.count
        by = self.held.get(Aim.FINISH, count)
        if self.aim is Aim.FINISH and self.schedule is not None:
            by = self.schedule.finish
        if self.held.get(Aim.LATENESS) == 0 and chain.promised is not None:
            by = min(by, chain.promised)
        return by

    def _link(self, chain: Chain) -> None:
        numbered = list(enumerate(self.problem.time_lags))
        own = {task.name for task in chain.tasks}
        for before, task in zip(chain.tasks, chain.tasks[1:], strict=False):
            first, then = self.laid[before.name], self.laid[task.name]
            linked = any((lag.before, lag.after) == (before.name, task.name) for _, lag in numbered)
            self.model.add(then.start >= first.at(lambda s: s.settled))
            if not linked:
                self.model.add(then.start >= first.dry)
            stands, comes = first.groups(lambda s: s.way.mode.stands), then.groups(lambda s: s.way.origin)
            if len(stands) > 1 or len(comes) > 1:
                for place in stands.keys() | comes.keys():
                    left = [first.chosen[i] for i in stands.get(place, ())]
                    found = [then.chosen[i] for i in comes.get(place, ())]
                    self.model.add(sum(left) == sum(found))
        for number, lag in numbered:
            if lag.before in own:
                self._window(number, self.laid[lag.before], self.laid[lag.after])
        for n, task in enumerate(chain.tasks):
            self._fetch(self.laid[task.name], self.laid[chain.tasks[n - 1].name] if n else None)

    def _window(self, number: int, first: _Laid, then: _Laid) -> None:
        never, minutes = 2 * self.problem.horizon.count, then.task.minutes
        self.model.add(then.start >= first.at(lambda s: s.opens[number]))
        if any(s.closes[number] < never for s in first.segments):
            self.model.add(then.start + minutes <= first.at(lambda s: s.closes[number]))
        if any(s.shut[number] < never for s in first.segments):
            ahead = self.model.new_bool_var("")
            shut, until = first.at(lambda s: s.shut[number]), first.at(lambda s: s.until[number])
            self.model.add(then.start + minutes <= shut).only_enforce_if(ahead)
            self.model.add(then.start >= until).only_enforce_if(~ahead)

    def _fetch(self, laid: _Laid, before: _Laid | None) -> None:
        for (transport, team), numbers in laid.groups(lambda s: s.way.fetch).items():
            there = self._any(laid, numbers)
            if laid.task.early:
                start = self._moment(laid, transport, team, there)
                length: Any = transport.minutes
            else:
                start, length = self._span(laid, numbers, there, transport.minutes, lambda s: s.fetched or (0, 0))
            if before is not None:
                self._if(there, self.model.add(start >= before.dry))
            self._carried(team, start, length, there)

    def _moment(self, laid: _Laid, transport: Transport, team: Team, there: Literal) -> Any:
        """When a rack is fetched that may be fetched early."""
        parts = self.cutter.fetchings(transport, team, laid.task.not_before, SEGMENTS)
        start = self.model.new_int_var(-1, self.problem.horizon.count, "")
        chosen = [self.model.new_bool_var("") for _ in parts]
        self.model.add(sum(chosen) == there)
        costs = [part.cost for part in parts]
        for part, picked in zip(parts, chosen, strict=True):
            self.model.add(start >= part.first).only_enforce_if(picked)
            self.model.add(start <= part.last).only_enforce_if(picked)
            self.model.add(start + part.settled <= laid.start).only_enforce_if(picked)
        self.moments[laid.task.name, id(transport), team] = start, chosen, costs
        return start

    def _span(
        self, laid: _Laid, numbers: list[int], there: Literal, minutes: int, ends: Callable[[Segment], tuple[int, int]]
    ) -> tuple[Any, Any]:
        """Start and length of a carrying that is said by the segment, wide enough for each start in it."""
        spans = [ends(laid.segments[i]) for i in numbers]
        start = self.model.new_int_var(0, 2 * self.problem.horizon.count, "")
        lows = cp_model.LinearExpr.weighted_sum([laid.chosen[i] for i in numbers], [low for low, _ in spans])
        self._if(there, self.model.add(start == laid.start + lows))
        wider = [high - low for low, high in spans]
        if not any(wider):
            return start, minutes
        length = self.model.new_int_var(minutes, minutes + max(wider), "")
        more = cp_model.LinearExpr.weighted_sum([laid.chosen[i] for i in numbers], wider)
        self._if(there, self.model.add(length == minutes + more))
        return start, length

    # -- what is taken

    def _any(self, laid: _Laid, numbers: list[int]) -> Literal:
        """Whether one of these segments is chosen."""
        if len(numbers) == len(laid.segments):
            return 1
        if len(numbers) == 1:
            return laid.chosen[numbers[0]]
        found = self.model.new_bool_var("")
        self.model.add(sum(laid.chosen[i] for i in numbers) == found)
        return found

    def _if(self, there: Literal, constraint: Any) -> None:
        if not isinstance(there, int):
            constraint.only_enforce_if(there)

    def _interval(self, start: Any, length: Any, there: Literal) -> Any:
        end: Any = start + length
        if not isinstance(length, int):
            end = self.model.new_int_var(0, 4 * self.problem.horizon.count, "")
            self._if(there, self.model.add(end == start + length))
        if isinstance(there, int):
            return self.model.new_interval_var(start, length, end, "")
        return self.model.new_optional_interval_var(start, length, end, there, "")

    def _carried(self, team: Team, start: Any, length: Any, there: Literal) -> None:
        for crew, people in team:
            self.loads["crew", str(crew)].append((self._interval(start, length, there), people))

    def _take(self, laid: _Laid) -> None:
        task = laid.task
        for team, numbers in laid.groups(lambda s: s.way.team).items():
            self._carried(team, laid.start, task.minutes, self._any(laid, numbers))
        for (transport, team), numbers in laid.groups(lambda s: s.way.away).items():
            there = self._any(laid, numbers)
            span = self._span(laid, numbers, there, transport.minutes, lambda s: s.away or (0, 0))
            self._carried(team, *span, there)
        for place, numbers in laid.groups(lambda s: s.way.mode.place).items():
            there = self._any(laid, numbers)
            self.loads["bench", place].append((self._interval(laid.start, task.minutes, there), 1))
            if task.dust is not None:
                self.loads["dust", place].append((self._interval(laid.start, task.minutes + task.dust, there), 1))
        if task.wet:
            self._lie_wet(laid)
        if task.by_visit:
            self._visit(laid)

    def _lie_wet(self, laid: _Laid) -> None:
        task = laid.task
        for (place, stands, goes), numbers in laid.groups(
            lambda s: (s.way.mode.place, s.way.mode.stands, s.away is not None)
        ).items():
            there = self._any(laid, numbers)
            leaves = [s.away[1] if s.away else s.dry for s in (laid.segments[i] for i in numbers)]
            length = self._length(laid, numbers, leaves, there)
            self.loads["wet", place].append((self._interval(laid.start, length, there), task.wet))
            if goes:
                comes = [s.away[0] if s.away else 0 for s in (laid.segments[i] for i in numbers)]
                stays = [max(0, laid.segments[i].dry - low) for i, low in zip(numbers, comes, strict=True)]
                start, _ = self._span(laid, numbers, there, 0, lambda s: (s.away[0], s.away[0]) if s.away else (0, 0))
                length = self._length(laid, numbers, stays, there)
                self.loads["wet", stands].append((self._interval(start, length, there), task.wet))

    def _length(self, laid: _Laid, numbers: list[int], values: list[int], there: Literal) -> Any:
        if len(set(values)) == 1:
            return values[0]
        length = self.model.new_int_var(min(values), max(values), "")
        chosen = cp_model.LinearExpr.weighted_sum([laid.chosen[i] for i in numbers], values)
        self._if(there, self.model.add(length == chosen))
        return length

    def _visit(self, laid: _Laid) -> None:
        chosen = []
        for visit in self.problem.visits:
            if visit.end - visit.begin < laid.task.minutes:
                continue
            picked = self.model.new_bool_var("")
            self.model.add(laid.start >= visit.begin).only_enforce_if(picked)
            self.model.add(laid.start + laid.task.minutes <= visit.end).only_enforce_if(picked)
            self.loads["visit", visit.name].append((self._interval(laid.start, laid.task.minutes, picked), 1))
            self.booked[visit.name].append(picked)
            chosen.append((visit.name, picked))
        self.model.add_exactly_one([picked for _, picked in chosen])
        self.visited[laid.task.name] = chosen

    def _stays(self, scheduled: ScheduledTask) -> None:
        """What a task takes that is not laid out anew."""

        def fixed(on: str, where: str, begin: int, end: int, amount: int = 1) -> None:
            if end > begin:
                interval = self.model.new_fixed_size_interval_var(begin, end - begin, "")
                self.loads[on, where].append((interval, amount))

        for name, begin, end in scheduled.attended:
            fixed("crew", str(self.cutter.hands.crew_of[name]), begin, end)
        if scheduled.visit:
            fixed("visit", scheduled.visit, scheduled.begin, scheduled.end)
            self.booked[scheduled.visit].append(1)
        for what, place, (begin, end, amount) in self.inserter.taken(scheduled):
            fixed(what, place, begin, end, amount)

    def _limit(self) -> None:
        limits: dict[tuple[str, str], int | None] = {
            ("crew", str(n)): len(crew.people) for n, crew in enumerate(self.cutter.hands.crews)
        }
        for place in self.problem.places:
            limits["bench", place.name], limits["wet", place.name] = place.at_once, place.wet_room
        for on, loads in self.loads.items():
            limit = 1 if on[0] == "visit" else limits.get(on)
            if limit is not None and on[0] != "dust":
                self.model.add_cumulative([interval for interval, _ in loads], [amount for _, amount in loads], limit)
        for place in self.problem.places:
            for dusty, _ in self.loads.get(("dust", place.name), ()):
                for wet, _ in self.loads.get(("wet", place.name), ()):
                    self.model.add_no_overlap([dusty, wet])

    # -- aims

    def _seek(self) -> None:
        sums = {aim: self._sum(aim) for aim in {*self.held, *([self.aim] if self.aim else [])}}
        for aim, value in self.held.items():
            if aim not in (Aim.MARGIN, Aim.FINISH):
                self.model.add(sums[aim] <= value)
        if self.aim is not None:
            self.model.minimize(sums[self.aim])

    def _sum(self, aim: Aim) -> Expression:
        if aim is Aim.FINISH:
            rest = max((s.dry for s in self.rest), default=0)
            finish = self.model.new_int_var(rest, self.problem.horizon.count, "")
            for laid in self.laid.values():
                self.model.add(finish >= laid.dry)
            return finish
        if aim is Aim.LATENESS:
            return self._lateness()
        if aim is Aim.MARGIN:
            rest = min((self._mode(s).margin[s.begin] for s in self.rest), default=MOST_MARGIN)
            margin = self.model.new_int_var(0, int(rest), "")
            for laid in self.laid.values():
                self.model.add(margin <= laid.sum(lambda s: s.margin))
            return -margin
        if aim is Aim.LABOUR:
            rest = sum(end - begin for s in self.rest for _, begin, end in s.attended)
            return rest + sum(laid.sum(lambda s: s.way.labour) for laid in self.laid.values())
        return self._cost()

    def _mode(self, scheduled: ScheduledTask) -> Any:
        return self.problem.tasks[scheduled.task].modes[scheduled.mode]

    def _lateness(self) -> Expression:
        total: Expression = 0
        free = {chain.name for chain in self.free}
        for chain in self.problem.chains:
            if chain.promised is None:
                continue
            if chain.name not in free and self.schedule is not None:
                total += max(0, self.schedule.done(chain.name) - chain.promised)
                continue
            late = self.model.new_int_var(0, self.problem.horizon.count, "")
            for task in chain.tasks:
                self.model.add(late >= self.laid[task.name].dry - chain.promised)
            total += late
        return total

    def _cost(self) -> Expression:
        total: Expression = self._waste() + sum(laid.sum(lambda s: s.cost) for laid in self.laid.values())
        for _, chosen, costs in self.moments.values():
            total += sum(cost * picked for cost, picked in zip(costs, chosen, strict=True) if cost)
        if self.rest:
            kept = {s.task for s in self.rest}
            chains = [c for c in self.problem.chains if c.tasks[0].name in kept]
            alone = Schedule(self.problem.restricted_to(chains), {s.task: s for s in self.rest})
            total += alone.starts + alone.wages
        for visit in self.problem.visits:
            picked = self.booked.get(visit.name, [])
            if any(isinstance(literal, int) for literal in picked):
                total += visit.call_out
            elif picked:
                booked = self.model.new_bool_var("")
                self.model.add_max_equality(booked, picked)
                total += visit.call_out * booked
        return total

    def _waste(self) -> Expression:
        """Of each session of a paint, by the coat that begins it: one that follows no other closely enough."""
        cents, coats = self.problem.session_waste, list[tuple[Task, Any, dict[str, Literal]]]()
        for laid in self.laid.values():
            if cents.get(laid.task.paint):
                by_place = laid.groups(lambda s: s.way.mode.place).items()
                coats.append((laid.task, laid.start, {place: self._any(laid, numbers) for place, numbers in by_place}))
        for scheduled in self.rest:
            task = self.problem.tasks[scheduled.task]
            if cents.get(task.paint):
                coats.append((task, scheduled.begin, {self._mode(scheduled).place: 1}))
        total: Expression = 0
        for number, (task, start, places) in enumerate(coats):
            follows: list[Literal] = []
            for other_number, (other, begun, there) in enumerate(coats):
                if other.paint == task.paint and other is not task:
                    later = int(other_number > number)  # of two that begin in one minute only one follows
                    for place in places.keys() & there.keys():
                        follows.append(self._follows(start, begun, later, other.minutes, (places[place], there[place])))
            begins = self.model.new_bool_var("")
            self.model.add(begins + sum(follows) >= 1)
            total += cents[task.paint] * begins
        return total

    def _follows(self, start: Any, begun: Any, later: int, minutes: int, there: tuple[Literal, Literal]) -> Literal:
        """Whether a coat, in one place with another of its paint, begins behind it while its pot still stands."""
        if isinstance(start, int) and isinstance(begun, int):
            return int(begun + later <= start <= begun + minutes + STANDS_OPEN)
        follows = self.model.new_bool_var("")
        self.model.add(begun + later <= start).only_enforce_if(follows)
        self.model.add(start <= begun + minutes + STANDS_OPEN).only_enforce_if(follows)
        for literal in there:
            if not isinstance(literal, int):
                self.model.add_implication(follows, literal)
        return follows

    # -- what comes of it

    def solve(
        self, seed: int, effort: float, stop: Stop, keep: Callable[[Schedule], object]
    ) -> tuple[int | bool | None, float]:
        """The bound, False if there is no such schedule, None if that was left open; and the effort spent."""
        solver = cp_model.CpSolver()
        # With one worker and its own clock the solver does the same for the same seed.
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.max_deterministic_time = effort
        solver.parameters.symmetry_level = 0
        if not self.exact:  # where nothing will be proven, a relaxation holds up more than it tells
            solver.parameters.linearization_level = 0
        self._hint()
        reporter = _Reporter(self, keep)
        with _stopping(solver, stop):
            status = solver.solve(self.model, reporter)
        spent = float(solver.response_proto.deterministic_time)
        if status == cp_model.INFEASIBLE:
            return False, spent
        if status == cp_model.UNKNOWN and not self.model.has_objective():
            return None, spent
        return int(np.ceil(solver.best_objective_bound - 1e-6)) if self.model.has_objective() else None, spent

    def _hint(self) -> None:
        """Goes on from the schedule that there is."""
        for name, laid in self.laid.items():
            now = self.schedule.tasks[name] if self.schedule is not None else None
            if now is None:
                continue
            self.model.add_hint(laid.start, now.begin)
            fits = [s.way.number == now.mode and s.first <= now.begin <= s.last for s in laid.segments]
            if len(fits) > 1 and any(fits):
                for number, picked in enumerate(laid.chosen):
                    self.model.add_hint(picked, number == fits.index(True))

    def schedule_of(self, value: Callable[[Any], int]) -> Schedule:
        """What the solver's numbers say, exactly: carriers come when the minute says, and people are told by name."""
        tasks = {scheduled.task: scheduled for scheduled in self.rest}
        ways: dict[str, TaskWay] = {}
        for name, laid in self.laid.items():
            at = value(laid.start)
            way = next(s.way for s, c in zip(laid.segments, laid.chosen, strict=True) if isinstance(c, int) or value(c))
            done = at + laid.task.minutes
            dry = done if way.mode.dry is None else int(way.mode.dry[done])
            visit = next((v for v, picked in self.visited.get(name, ()) if value(picked)), "")
            fetched, away = None, None
            if way.fetch is not None:
                transport, team = way.fetch
                if laid.task.early:
                    begin = value(self.moments[name, id(transport), team][0])
                else:
                    begin = int(self.cutter.hands.last_carry(transport, team)[at])
                fetched = Carry(transport.origin, transport.to, begin, begin + transport.minutes)
            if way.away is not None and way.mode.carried is not None:
                transport, team = way.away
                begin = int(way.mode.carried[done])
                away = Carry(transport.origin, transport.to, begin, begin + transport.minutes)
            tasks[name] = ScheduledTask(name, way.number, at, done, dry, (), visit, fetched, away)
            ways[name] = way
        return settle(self.problem, tasks, ways)


class _Reporter(cp_model.CpSolverSolutionCallback):
    """Is told each schedule that the solver finds."""

    def __init__(self, model: IntervalModel, keep: Callable[[Schedule], object]) -> None:
        super().__init__()
        self._model, self._keep = model, keep

    def on_solution_callback(self) -> None:
        self._keep(self._model.schedule_of(self.value))


@contextmanager
def _stopping(solver: cp_model.CpSolver, stop: Stop) -> Iterator[None]:
    """Asks meanwhile whether to stop; where asking itself fails, that ends the search and is raised here."""
    over = Event()
    failed: list[Exception] = []

    def watch() -> None:
        try:
            while not over.wait(0.05):
                if stop():
                    solver.stop_search()
        except Exception as error:
            failed.append(error)
            solver.stop_search()

    watcher = Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        over.set()
        watcher.join()
    if failed:
        raise failed[0]
