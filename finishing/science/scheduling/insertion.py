"""Racks are put in one after the other, each task to the minute as early as it fits into what the others leave free."""

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import product
from random import Random

import numpy as np

from .crews import Hands, Team, hands, teams
from .problem import NEVER, Chain, Mode, Problem, Task, TimeLag, Transport, runs
from .schedule import Carry, Schedule, ScheduledTask

TRIES = 120  # places looked at for the tasks of one rack
FAVOURED = 6  # racks that are tried once more as the first of all
THRIFT = 1  # minutes by which a way may lead on later for each person-minute that it saves


class FreeTime:
    """When somebody, or a visit, is free: stretches that neither touch nor overlap, in order."""

    def __init__(self, begins: list[int], ends: list[int]) -> None:
        self.begins, self.ends = list(begins), list(ends)

    def fit(self, at: int, length: int) -> int:
        """The first minute from `at` on from which it is free for so long; NEVER where it is not.

        >>> ada = FreeTime([480, 780], [720, 1020])
        >>> ada.fit(700, 30), ada.fit(1000, 30)
        (780, 1000000)
        """
        i = bisect_right(self.begins, at) - 1
        if i >= 0 and self.ends[i] - at >= length:
            return at
        for later in range(i + 1, len(self.begins)):
            if self.ends[later] - self.begins[later] >= length:
                return self.begins[later]
        return NEVER

    def fit_back(self, at: int, length: int) -> int:
        """The last minute up to `at` from which it is free for so long; −1 where there is none.

        >>> FreeTime([480, 780], [720, 1020]).fit_back(775, 30)
        690
        """
        for i in range(bisect_right(self.begins, at) - 1, -1, -1):
            if self.ends[i] - self.begins[i] >= length:
                return min(at, self.ends[i] - length)
        return -1

    def take(self, begin: int, end: int) -> None:
        """It is free then, and no longer."""
        i = bisect_right(self.begins, begin) - 1
        first, last = self.begins[i], self.ends[i]
        left = [(b, e) for b, e in ((first, begin), (end, last)) if b < e]
        self.begins[i : i + 1], self.ends[i : i + 1] = [b for b, _ in left], [e for _, e in left]

    def give(self, begin: int, end: int) -> None:
        """It is free again."""
        i = bisect_right(self.begins, begin)
        if i > 0 and self.ends[i - 1] == begin:
            i, begin = i - 1, self.begins[i - 1]
            del self.begins[i], self.ends[i]
        if i < len(self.begins) and self.begins[i] == end:
            end = self.ends[i]
            del self.begins[i], self.ends[i]
        self.begins.insert(i, begin)
        self.ends.insert(i, end)


@dataclass
class Stand:
    """What takes room in a place, from when to when; `limit` None where there is room for everything."""

    limit: int | None
    taken: list[tuple[int, int, int]] = field(default_factory=list)  # begin, end, amount

    def room_from(self, begin: int, end: int, amount: int) -> int:
        """`begin` where there is room then; else the next minute in which something makes room."""
        if self.limit is None or begin >= end:
            return begin
        there = [item for item in self.taken if item[0] < end and begin < item[1]]
        if sum(item[2] for item in there) + amount <= self.limit:
            return begin
        for at in [begin, *(item[0] for item in there if item[0] > begin)]:
            if sum(a for b, e, a in there if b <= at < e) + amount > self.limit:
                return min(e for _, e, _ in there)
        return begin

    def apart_from(self, begin: int, end: int) -> int:
        """`begin` where nothing is there then; else when the last of what is there has gone."""
        return max([begin, *(e for b, e, _ in self.taken if b < end and begin < e)]) if begin < end else begin


@dataclass(frozen=True, eq=False)
class TaskWay:
    """A task in a place, its people and carriers chosen by crew: all but the minute."""

    task: Task
    number: int
    mode: Mode
    origin: str
    team: Team
    fetch: tuple[Transport, Team] | None
    away: tuple[Transport, Team] | None

    @property
    def labour(self) -> int:
        """Person-minutes that it takes, carrying included."""
        carrying = sum(transport.people * transport.minutes for transport, _ in filter(None, (self.fetch, self.away)))
        return self.task.people * self.task.minutes + carrying


class Insertion:
    """A schedule that grows: `tasks` has what is put in by now."""

    def __init__(self, problem: Problem, tasks: Iterable[ScheduledTask] = ()) -> None:
        self.problem, self.count, self.thrift = problem, problem.horizon.count, THRIFT
        self.hands: Hands = hands(problem)
        self.free = {person.name: FreeTime(*runs(person.working)) for person in problem.people}
        self.visits = {visit.name: FreeTime([max(0, visit.begin)], [visit.end]) for visit in problem.visits}
        self.bench = {place.name: Stand(place.at_once) for place in problem.places}
        self.wet = {place.name: Stand(place.wet_room) for place in problem.places}
        self.dust = {place.name: Stand(None) for place in problem.places}
        self.lags: dict[str, list[TimeLag]] = {}
        for lag in problem.time_lags:
            self.lags.setdefault(lag.after, []).append(lag)
        self.tasks: dict[str, ScheduledTask] = {}
        self._ways: dict[tuple[str, str, int], list[TaskWay]] = {}
        for scheduled in tasks:
            self.lay(scheduled)

    def schedule(self, racks: set[str] | None = None) -> Schedule:
        """What is put in by now, of all racks or of these."""
        whole = self.problem
        if racks is not None and len(racks) < len(whole.chains):
            whole = whole.restricted_to(chain for chain in whole.chains if chain.name in racks)
        return Schedule(whole, {name: self.tasks[name] for name in whole.tasks})

    # -- racks

    def put(self, chain: Chain, until: int | None = None) -> bool:
        """Put one rack in, or what is left of it; False, and nothing changed, where it finds no place.

        until: of its tasks only the first so many.

        Each task comes as early as it may. Where one comes too late for its window, the one that opened the window is
        put later, as much as it must be at the least; where one finds no time, the one before tries another place.
        """
        names = [task.name for task in chain.tasks[:until]]
        least, banned = [0] * len(names), [set[int]() for _ in names]
        first = i = sum(name in self.tasks for name in names)
        for _ in range(TRIES if first < len(names) else 0):
            pick = self._best(chain, i, least[i], banned[i])
            back = self._later(pick) if pick is not None else None
            if pick is not None and back is None:
                self.lay(pick)
                i += 1
                if i == len(names):
                    return True
                continue
            if back is not None:
                before, minute = back
                at = names.index(before)
                again = minute < NEVER
            if back is None or not again:
                at = i - 1
            if at < first:
                break
            if back is None or not again:
                banned[at].add(self.tasks[names[at]].mode)
            else:
                least[at] = minute
            for name in names[at:i]:
                self.undo(name)
            for later in range(at + 1, len(names)):
                least[later], banned[later] = 0, set()
            i = at
        for name in names[first:i]:
            self.undo(name)
        return first >= len(names)

    def allows(self, chain: Chain) -> bool:
        """Whether this rack could be put in beside what there is by now."""
        return self.put(chain) and bool(self.take(chain))

    def take(self, chain: Chain, first: int = 0) -> list[ScheduledTask]:
        """Take one rack out again, from one of its tasks on."""
        return [self.undo(task.name) for task in chain.tasks[first:]]

    def misses(self, pick: ScheduledTask) -> bool:
        """Whether it comes too late for a window."""
        return self._later(pick) is not None

    def _later(self, pick: ScheduledTask) -> tuple[str, int] | None:
        """The task whose window it misses, and the minute before which that must not begin; None if it misses none."""
        for lag in self.lags.get(pick.task, ()):
            before = self.tasks[lag.before]
            closes = lag.windows[before.mode].closes
            if pick.end > closes[before.end]:
                done = int(np.searchsorted(closes, pick.end))
                minutes = self.problem.tasks[lag.before].minutes
                return lag.before, done - minutes if done <= self.count else NEVER
        return None

    # -- single tasks

    def lay(self, scheduled: ScheduledTask) -> None:
        """Put one task where it is known to fit."""
        self.tasks[scheduled.task] = scheduled
        for name, begin, end in scheduled.attended:
            self.free[name].take(begin, end)
        if scheduled.visit:
            self.visits[scheduled.visit].take(scheduled.begin, scheduled.end)
        for stand, item in self._stands(scheduled):
            stand.taken.append(item)

    def undo(self, name: str) -> ScheduledTask:
        """Take one task out again."""
        scheduled = self.tasks.pop(name)
        for person, begin, end in scheduled.attended:
            self.free[person].give(begin, end)
        if scheduled.visit:
            self.visits[scheduled.visit].give(scheduled.begin, scheduled.end)
        for stand, item in self._stands(scheduled):
            stand.taken.remove(item)
        return scheduled

    def taken(self, scheduled: ScheduledTask) -> Iterator[tuple[str, str, tuple[int, int, int]]]:
        """What a task takes of a place: bench, dust or wet, where, and from when to when how much."""
        task = self.problem.tasks[scheduled.task]
        mode, out = task.modes[scheduled.mode], scheduled.carried_out
        yield "bench", mode.place, (scheduled.begin, scheduled.end, 1)
        if task.dust is not None:
            yield "dust", mode.place, (scheduled.begin, scheduled.end + task.dust, 1)
        if task.wet:
            here = scheduled.dry if out is None else out.begin
            yield "wet", mode.place, (scheduled.begin, here, task.wet)
            if out is not None and scheduled.dry > out.begin:
                yield "wet", out.to, (out.begin, scheduled.dry, task.wet)

    def _stands(self, scheduled: ScheduledTask) -> Iterator[tuple[Stand, tuple[int, int, int]]]:
        of = {"bench": self.bench, "dust": self.dust, "wet": self.wet}
        return ((of[what][place], item) for what, place, item in self.taken(scheduled))

    def ways(self, chain: Chain, number: int, origin: str) -> list[TaskWay]:
        """All ways to do this task of a rack that comes from there."""
        task = chain.tasks[number]
        key = task.name, origin, len(task.modes)
        if key not in self._ways:
            self._ways[key] = list(self._all_ways(chain.name, task, origin))
        return self._ways[key]

    def _all_ways(self, rack: str, task: Task, origin: str) -> Iterator[TaskWay]:
        for n, mode in enumerate(task.modes):
            fetched, leaves = origin not in ("", mode.place), mode.carried is not None
            fetches = list(self._carriers(rack, origin, mode.place)) if fetched else [None]
            aways = list(self._carriers(rack, mode.place, mode.stands)) if leaves else [None]
            for team in teams(self.hands.crews, task.people, task.kind):
                for fetch, away in product(fetches, aways):
                    yield TaskWay(task, n, mode, origin, team, fetch, away)

    def _carriers(self, rack: str, origin: str, to: str) -> Iterator[tuple[Transport, Team]]:
        for transport in self.problem.transports_of(rack, origin, to):
            for team in teams(self.hands.crews, transport.people):
                yield transport, team

    def stood(self, chain: Chain, number: int) -> str:
        """Where the rack stands before this task."""
        if number == 0:
            return chain.stands_in
        before = chain.tasks[number - 1]
        return before.modes[self.tasks[before.name].mode].stands

    def _best(self, chain: Chain, number: int, least: int, banned: set[int]) -> ScheduledTask | None:
        """What leads on earliest of all that fits by now, then the cheapest."""
        best: tuple[int, int, int] | None = None
        found = None
        for way in self.ways(chain, number, self.stood(chain, number)):
            if way.number in banned:
                continue
            pick = self.earliest(chain, number, way, least)
            if pick is not None:
                value = self._leads(chain, number, pick) + self.thrift * way.labour, self._costs(way, pick), pick.begin
                if best is None or value < best:
                    best, found = value, pick
        return found

    def _costs(self, way: TaskWay, pick: ScheduledTask) -> int:
        return int(way.mode.cost[pick.begin])

    def _leads(self, chain: Chain, number: int, pick: ScheduledTask) -> int:
        """From when on the next task may begin."""
        if number + 1 == len(chain.tasks):
            return pick.dry
        lags = [lag for lag in self.lags.get(chain.tasks[number + 1].name, ()) if lag.before == pick.task]
        opens = [int(lag.windows[pick.mode].opens[pick.end]) for lag in lags] or [pick.dry]
        return max(pick.end, self.settled_out(chain, number, pick), *opens)

    def settled_out(self, chain: Chain, number: int, pick: ScheduledTask) -> int:
        """When its metal has settled where it was wheeled on to; 0 where it was not."""
        out = pick.carried_out
        if out is None:
            return 0
        at = min(out.end, self.count - 1)
        minutes = (
            int(np.broadcast_to(transport.settles, self.count)[at])
            for transport in self.problem.transports_of(chain.name, out.origin, out.to)
            if transport.people == len(out.people) and transport.minutes == out.end - out.begin
        )
        return min(out.end + min(minutes), self.count)

    def opens(self, chain: Chain, number: int) -> int:
        """Before which minute this task may not begin, for what is put in of its rack by now."""
        task = chain.tasks[number]
        at, linked = task.not_before, False
        for lag in self.lags.get(task.name, ()):
            before = self.tasks[lag.before]
            at = max(at, int(lag.windows[before.mode].opens[before.end]), before.end)
            linked |= number > 0 and lag.before == chain.tasks[number - 1].name
        if number > 0:
            before = self.tasks[chain.tasks[number - 1].name]
            at = max(at, before.end if linked else before.dry, self.settled_out(chain, number - 1, before))
        return at

    def earliest(self, chain: Chain, number: int, way: TaskWay, least: int = 0) -> ScheduledTask | None:
        """As early as this way goes; None where it does not. Windows that close are not looked at."""
        task, mode, minutes = way.task, way.mode, way.task.minutes
        before = self.tasks[chain.tasks[number - 1].name] if number else None
        handled, rather = (before.dry, before.people) if before else (0, ())
        zones = [(lag.windows[self.tasks[lag.before].mode], self.tasks[lag.before].end)
                 for lag in self.lags.get(task.name, ())]  # fmt: skip
        at = max(least, self.opens(chain, number), task.fixed or 0)
        begins, ends = mode.stretches
        while True:
            i = bisect_right(begins, at) - 1
            if i < 0 or at >= ends[i]:
                if i + 1 == len(begins):
                    return None
                at = begins[i + 1]
            done = at + minutes
            if done > self.count or (task.fixed is not None and at != task.fixed):
                return None
            dry = done if mode.dry is None else int(mode.dry[done])
            if dry > self.count:
                return None
            later, visit = self._place_from(way, at, dry)
            for window, since in zones:
                if done > window.closed_from[since] and at < window.closed_until[since]:
                    later = max(later, int(window.closed_until[since]))
            later = self._team_from(way.team, max(at, later), minutes)
            if later > at:
                if later >= self.count:
                    return None
                at = later
                continue
            fetched = None if way.fetch is None else self._fetch(way, at, max(handled, task.not_before), rather)
            if isinstance(fetched, int):
                if fetched >= self.count:
                    return None
                at = fetched
                continue
            out = None if way.away is None else self._carry_out(way, done, rather)
            if isinstance(out, int):
                at = max(at + 1, out)
                continue
            people = self._who(way.team, at, minutes, rather)
            return ScheduledTask(task.name, way.number, at, done, dry, people, visit, fetched, out)

    def _place_from(self, way: TaskWay, at: int, dry: int) -> tuple[int, str]:
        """When visit, bench, wet room and dust allow it, as far as can be seen from `at`, and the visit's name."""
        task, place, done = way.task, way.mode.place, at + way.task.minutes
        later, visit = at, ""
        if task.by_visit:
            later, visit = min(
                ((diary.fit(at, task.minutes), name) for name, diary in self.visits.items()), default=(NEVER, "")
            )
        later = max(later, self.bench[place].room_from(at, done, 1))
        if task.dust is not None:
            later = max(later, self.wet[place].apart_from(at, done + task.dust))
        if task.wet:
            leaves = dry if way.mode.carried is None else int(way.mode.carried[done])
            later = max(later, self.wet[place].room_from(at, leaves, task.wet), self.dust[place].apart_from(at, leaves))
            if way.mode.carried is not None and leaves < dry:
                stand, dust = self.wet[way.mode.stands], self.dust[way.mode.stands]
                if (shift := max(stand.room_from(leaves, dry, task.wet), dust.apart_from(leaves, dry)) - leaves) > 0:
                    later = max(later, self._start_carried_by(way, leaves + shift))
        return later, visit

    def _start_carried_by(self, way: TaskWay, leaves: int) -> int:
        """The first start from which it is wheeled on no sooner than then."""
        assert way.mode.carried is not None
        done = int(np.searchsorted(way.mode.carried, leaves))
        return done - way.task.minutes if done <= self.count else NEVER

    def _team_from(self, team: Team, at: int, minutes: int) -> int:
        """The first minute from `at` on in which so many of each crew are free for so long."""
        while team:
            later = at
            for crew, people in team:
                times = sorted(self.free[name].fit(at, minutes) for name in self.hands.crews[crew].people)
                later = max(later, times[people - 1])
            if later == at or later >= NEVER:
                return later
            at = later
        return at

    def _who(self, team: Team, at: int, minutes: int, rather: tuple[str, ...]) -> tuple[str, ...]:
        """Who of the crews is free then, rather those who have been at it just before."""
        found: list[str] = []
        for crew, people in team:
            free = [name for name in self.hands.crews[crew].people if self.free[name].fit(at, minutes) == at]
            found += sorted(free, key=lambda name: name not in rather)[:people]
        return tuple(found)

    def _fetch(self, way: TaskWay, at: int, ready: int, rather: tuple[str, ...]) -> Carry | int:
        """The carrying for a start then, as late as can be; or the next start for which it may be possible."""
        assert way.fetch is not None
        transport, team = way.fetch
        last, settled = self.hands.last_carry(transport, team), self.hands.settled(transport, team)
        begin, minutes = int(last[at]), transport.minutes
        free = begin
        if way.task.early:
            while free >= ready and (settled[free] > at or self._team_back(team, free, minutes) < free):
                free = min(free - 1, self._team_back(team, free, minutes))
        if free >= ready and self._team_from(team, free, minutes) == free:
            return Carry(transport.origin, transport.to, free, free + minutes, self._who(team, free, minutes, rather))
        following = self._team_from(team, max(ready, begin), minutes)
        if following >= self.count:
            return NEVER
        return max(at + 1, int(np.searchsorted(last, following)))

    def _team_back(self, team: Team, at: int, minutes: int) -> int:
        """The last minute up to `at` in which so many of each crew are free for so long; −1 where there is none."""
        while team and at >= 0:
            sooner = at
            for crew, people in team:
                times = sorted(self.free[name].fit_back(at, minutes) for name in self.hands.crews[crew].people)
                sooner = min(sooner, times[-people])
            if sooner == at:
                break
            at = sooner
        return at

    def _carry_out(self, way: TaskWay, done: int, rather: tuple[str, ...]) -> Carry | int:
        """The carrying on of what is done by then; or the next start for which it may be possible."""
        assert way.away is not None
        assert way.mode.carried is not None
        transport, team = way.away
        begin = int(way.mode.carried[done])
        if begin + transport.minutes > self.count:
            return NEVER
        free = self._team_from(team, begin, transport.minutes)
        if free > begin:
            return self._start_carried_by(way, free) if free < self.count else NEVER
        who = self._who(team, begin, transport.minutes, rather)
        return Carry(transport.origin, transport.to, begin, begin + transport.minutes, who)


# -- schedules


def longest_first(problem: Problem) -> list[Chain]:
    """Racks that can be done at all, by promise, those without one last, and then by how late each alone is dry."""
    alone, ends = Insertion(problem), {}
    for chain in problem.chains:
        if alone.put(chain):
            ends[chain.name] = max(task.dry for task in alone.take(chain))
    last = problem.horizon.count
    possible = [chain for chain in problem.chains if chain.name in ends]
    return sorted(possible, key=lambda c: (c.promised if c.promised is not None else last, -ends[c.name]))


def rack_by_rack(problem: Problem, queue: list[Chain]) -> Schedule | None:
    """Whole racks in this order; one that finds no place is tried once more as the first of all. None if in vain."""
    favoured: set[str] = set()
    while True:
        insertion = Insertion(problem)
        failed = next((chain for chain in queue if not insertion.put(chain)), None)
        if failed is None:
            return insertion.schedule()
        if failed.name in favoured or len(favoured) == FAVOURED:
            return None
        favoured.add(failed.name)
        queue.sort(key=lambda chain: chain is not failed)


def schedule_what_fits(problem: Problem, turns: int = 1, seed: int = 0) -> Schedule | None:
    """As many racks as find a place, in the best of so many orders; None where none does.

    Those that find none in one order come first in the next, and the others change places a little.
    """
    random, order = Random(seed), longest_first(problem)
    best: list[Chain] = []
    schedule = None
    for _ in range(turns):
        insertion = Insertion(problem)
        fit = [chain for chain in order if insertion.put(chain)]
        if len(fit) > len(best):
            best, schedule = fit, insertion.schedule({chain.name for chain in fit})
        if len(fit) == len(order):
            break
        rank = {chain.name: n + random.uniform(0, len(fit)) for n, chain in enumerate(fit)}
        order = sorted(order, key=lambda chain: rank.get(chain.name, -1.0))
    return schedule


def schedule_beside(schedule: Schedule, problem: Problem) -> Schedule:
    """The racks of a schedule as they stand, and of the others of the problem those that find a place beside them."""
    insertion, there = Insertion(problem, schedule.tasks.values()), {chain.name for chain in schedule.problem.chains}
    others = [chain for chain in longest_first(problem) if chain.name not in there]
    return insertion.schedule(there | {chain.name for chain in others if insertion.put(chain)})


def settle(problem: Problem, tasks: dict[str, ScheduledTask], ways: dict[str, TaskWay]) -> Schedule:
    """Tasks and their carryings with people told by name: of a crew whoever was on the rack before, if they are free.

    ways: of the tasks whose people are still to be told, the teams; the others keep their crews.
    """
    known = hands(problem)
    rack_of: dict[str, str] = {}
    for chain in problem.chains:
        rack_of |= dict.fromkeys((task.name for task in chain.tasks), chain.name)
    asked = sorted(
        (begin, end, name, part, team)
        for name, scheduled in tasks.items()
        for part, begin, end, team in _parts(known, scheduled, ways.get(name))
    )
    free = {person.name: 0 for person in problem.people}
    last: dict[str, set[str]] = {}
    who: dict[tuple[str, str], tuple[str, ...]] = {}
    for begin, end, name, part, team in asked:
        picked: list[str] = []
        for crew, people in team:
            there = [p for p in known.crews[crew].people if free[p] <= begin and p not in picked]
            there.sort(key=lambda p: (p not in last.get(rack_of[name], ()), free[p], p))
            picked += there[:people]
        free |= dict.fromkeys(picked, end)
        last[rack_of[name]] = set(picked)
        who[name, part] = tuple(picked)
    return Schedule(problem, {name: _told(tasks[name], who) for name in problem.tasks})


def _parts(known: Hands, scheduled: ScheduledTask, way: TaskWay | None) -> Iterator[tuple[str, int, int, Team]]:
    """What people do for a task, from when to when, and as which team."""
    carries = (("in", scheduled.carried_in, way and way.fetch), ("out", scheduled.carried_out, way and way.away))
    yield "work", scheduled.begin, scheduled.end, way.team if way else _team(known, scheduled.people)
    for part, carry, carrying in carries:
        if carry is not None:
            yield part, carry.begin, carry.end, carrying[1] if carrying else _team(known, carry.people)


def _team(known: Hands, people: tuple[str, ...]) -> Team:
    return tuple(sorted(Counter(known.crew_of[name] for name in people).items()))


def _told(scheduled: ScheduledTask, who: dict[tuple[str, str], tuple[str, ...]]) -> ScheduledTask:
    def carried(carry: Carry | None, part: str) -> Carry | None:
        return carry and replace(carry, people=who[scheduled.task, part])

    return replace(
        scheduled,
        people=who[scheduled.task, "work"],
        carried_in=carried(scheduled.carried_in, "in"),
        carried_out=carried(scheduled.carried_out, "out"),
    )
