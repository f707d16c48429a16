"""Every way to do each task: where, who, coming from where, and in which slots it may then start.

What a single start must keep (allowed hours, working hours, receipts, visits, the settling of carried metal) is kept
here by leaving the start out. Rules between tasks are in rules.py.

A choice fetches its rack at the last moment from which its metal still settles in time. Where its task lets it be
fetched early, `fetched` gives the same choice with an earlier moment, and `Fetching` all the moments that there are.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from typing import Any

import numpy as np

from finishing.science.hours import Flags

from .crews import Hands, Team, teams
from .problem import Chain, Mode, Problem, Slots, Task, Transport

Resource = tuple[str, str]  # what a load is on: ("crew", number), ("wet" | "dust" | "bench", place), ("visit", layer)


@dataclass(frozen=True, eq=False)
class Load:
    """What a start takes of a resource, from begin to before end; by slot in `takes`, by start in `loads`."""

    on: Resource
    amount: int
    begin: Slots
    end: Slots


@dataclass(frozen=True, eq=False)
class Carrying:
    """A move that belongs to a choice: when it begins, by slot of the start, and who does it.

    settled: when the metal has, by slot in which carrying begins; NEVER where the team cannot carry then
    extra: cents by that slot.
    """

    transport: Transport
    begin: Slots
    team: Team
    settled: Slots
    extra: Slots

    @property
    def end(self) -> Slots:
        return self.begin + self.transport.slots

    def loads(self, begin: Any) -> Iterator["Load"]:
        """What carrying takes that begins then."""
        return (Load(("crew", str(crew)), people, begin, begin + self.transport.slots) for crew, people in self.team)


@dataclass(frozen=True, eq=False)
class After:
    """What follows from a start, by slot or by start.

    ready: when the next task may begin there, dryness apart · dry: when it may be handled
    cost: cents, fetching apart · visit: number of the visit that it lies in, −1 where it needs none.
    """

    ready: Slots
    dry: Slots
    cost: Slots
    margin: Slots
    visit: Slots

    def at(self, starts: Slots) -> "After":
        """The same for these starts only."""
        return After(*(values[starts] for values in vars(self).values()))


@dataclass(frozen=True, eq=False)
class Choice:
    """One way to do a task, with its allowed starts in order; starts are counted from 0."""

    task: Task
    mode: int
    comes_from: str
    stands: str
    team: Team
    starts: Slots
    by_slot: After
    takes: tuple[Load, ...]
    carried_in: Carrying | None = None
    carried_out: Carrying | None = None

    def __len__(self) -> int:
        return len(self.starts)

    @cached_property
    def after(self) -> After:
        """What follows from each start."""
        return self.by_slot.at(self.starts)

    @cached_property
    def carried(self) -> Slots | None:
        """When the rack is fetched for each start."""
        return None if self.carried_in is None else self.carried_in.begin[self.starts]

    @property
    def fetched_early(self) -> bool:
        """Its rack is fetched, and there is a choice when."""
        return self.carried_in is not None and self.task.early

    @cached_property
    def loads(self) -> tuple[Load, ...]:
        """What each start takes."""
        own = (replace(load, begin=load.begin[self.starts], end=load.end[self.starts]) for load in self.takes)
        return *own, *(() if self.carried_in is None else self.carried_in.loads(self.carried))

    @property
    def own_loads(self) -> tuple[Load, ...]:
        """The same without what a Fetching takes."""
        return self.loads[: len(self.takes)] if self.fetched_early else self.loads

    @cached_property
    def cost(self) -> Slots:
        """Cents for each start."""
        return self.after.cost if self.carried_in is None else self.after.cost + self.carried_in.extra[self.carried]

    @property
    def own_cost(self) -> Slots:
        """The same without what a Fetching costs."""
        return self.after.cost if self.fetched_early else self.cost

    @cached_property
    def labour(self) -> int:
        """Person-slots that it takes, carrying included."""
        carrying = sum(sum(n for _, n in c.team) * c.transport.slots for c in (self.carried_in, self.carried_out) if c)
        return sum(n for _, n in self.team) * self.task.slots + carrying

    def keep(self, those: Flags) -> "Choice":
        """The same with fewer starts."""
        return self if those.all() else replace(self, starts=self.starts[those])

    def fetched(self, k: int, when: int | None) -> "Choice":
        """The same, its rack fetched at this moment for its k-th start."""
        if self.carried_in is None or self.carried is None or when in (None, self.carried[k]):
            return self
        begin = self.carried_in.begin.copy()
        begin[self.starts[k]] = when
        return self.fetched_at(begin)

    def fetched_at(self, begin: Slots) -> "Choice":
        """The same, its rack fetched at these moments, by slot of the start; −1 where it cannot be."""
        if self.carried_in is None or np.array_equal(begin[self.starts], self.carried_in.begin[self.starts]):
            return self
        return replace(self, carried_in=replace(self.carried_in, begin=begin))

    def fetches(self, k: int) -> int | None:
        """When the rack is fetched for its k-th start."""
        return None if self.carried is None else int(self.carried[k])


@dataclass(frozen=True, eq=False)
class Fetching:
    """One way to carry a rack to a task, for all choices that it serves, with the moments in which it may begin."""

    task: Task
    comes_from: str
    carrying: Carrying
    serves: tuple[Choice, ...]
    starts: Slots

    def __len__(self) -> int:
        return len(self.starts)

    @property
    def own_loads(self) -> tuple[Load, ...]:
        """What each moment takes."""
        return tuple(self.carrying.loads(self.starts))

    @property
    def own_cost(self) -> Slots:
        """Cents for each moment."""
        return self.carrying.extra[self.starts]

    @property
    def settled(self) -> Slots:
        """When the metal has, for each moment."""
        return self.carrying.settled[self.starts]

    def serves_like(self, choice: Choice) -> bool:
        """Whether this choice is one that it serves, perhaps with another moment."""
        return any(choice.by_slot is served.by_slot for served in self.serves)

    def shared_out(self, picks: list[tuple[Choice, int]], moments: list[int]) -> list[tuple[Choice, int]]:
        """The same starts, each fetched at one of these moments: what has settled first for what begins first."""
        picks = sorted(picks, key=lambda pick: int(pick[0].starts[pick[1]]))
        moments = sorted(moments, key=lambda m: int(self.settled[m]))
        return [(c.fetched(k, int(self.starts[m])), k) for (c, k), m in zip(picks, moments, strict=True)]


def fetchings(ways: Sequence[Choice], not_before: Callable[[str], int]) -> Iterator[Fetching]:
    """Of a task's choices; not_before: the earliest moment in which a rack may be fetched from a place."""
    served: dict[int, list[Choice]] = {}
    for choice in ways:
        if choice.carried_in is not None and choice.task.early and len(choice):
            served.setdefault(id(choice.carried_in.settled), []).append(choice)
    for choices in served.values():
        first, carrying = choices[0], choices[0].carried_in
        assert carrying is not None
        last, earliest = (
            max(int(c.starts[-1]) for c in choices),
            max(first.task.not_before, not_before(first.comes_from)),
        )
        possible = (carrying.settled <= last) & (np.arange(len(carrying.settled)) >= earliest)
        yield Fetching(first.task, first.comes_from, carrying, tuple(choices), np.flatnonzero(possible))


def along(problem: Problem, hands: Hands, chain: Chain) -> Iterator[tuple[str, list[Choice]]]:
    """The choices of a rack's tasks, each reached from wherever the task before may leave it."""
    stands = {chain.stands_in}
    for task in chain.tasks:
        numbered = enumerate(task.modes)
        makers = [_Maker(problem, hands, chain.name, task, number, mode) for number, mode in numbered]
        yield task.name, [way for maker in makers for origin in sorted(stands) for way in maker.ways(origin)]
        stands = {mode.stands for mode in task.modes}


def layers(problem: Problem) -> list[list[int]]:
    """The numbers of the visits, in order of time, those that overlap apart from each other."""
    apart: list[list[int]] = []
    for number in sorted(range(len(problem.visits)), key=lambda n: problem.visits[n].begin):
        begin = problem.visits[number].begin
        free = next((layer for layer in apart if problem.visits[layer[-1]].end <= begin), None)
        if free is None:
            apart.append([number])
        else:
            free.append(number)
    return apart


@dataclass(frozen=True, eq=False)
class _Maker:
    problem: Problem
    hands: Hands
    rack: str
    task: Task
    number: int
    mode: Mode

    @property
    def count(self) -> int:
        return self.problem.grid.count

    def ways(self, origin: str) -> Iterator[Choice]:
        """All choices at this place for a rack that comes from there, with the starts that each has."""
        place, crews, away = self.mode.place, self.hands.crews, self.mode.carried
        ins = list(self._carryings(origin, place)) if origin not in ("", place) else [None]
        outs = [None] if away is None else list(self._carryings(place, self.mode.stands, away))
        visits = layers(self.problem) if self.task.by_visit else [[]]
        for team in teams(crews, self.task.people, self.task.kind):
            for layer, carried_in, carried_out in product(visits, ins, outs):
                choice = self._make(origin, team, layer, carried_in, carried_out)
                if len(choice):
                    yield choice

    def _carryings(self, origin: str, to: str, when: Slots | None = None) -> Iterator[Carrying]:
        """Ways to carry it there: as late as it settles in time, or when it has been said."""
        for transport in self.problem.transports_of(self.rack, origin, to):
            for team in teams(self.hands.crews, transport.people):
                begin = self.hands.last_carry(transport, team) if when is None else when
                extra = self.hands.extra(team, np.arange(self.count), transport.slots)
                yield Carrying(transport, begin, team, self.hands.settled(transport, team), extra)

    def _make(
        self, origin: str, team: Team, layer: list[int], carried_in: Carrying | None, carried_out: Carrying | None
    ) -> Choice:
        slots = np.arange(self.count)
        end = slots + self.task.slots
        dry = end if self.mode.dry is None else self.mode.dry
        visit = self._visit(layer)
        ready = end if carried_out is None else self._settled(carried_out)
        may = self.mode.may_start & (slots >= self.task.not_before) & (dry <= self.count) & (end <= self.count)
        may = may & self.hands.at_work(team, self.task.slots) & ((visit >= 0) | (not self.task.by_visit))
        if self.task.fixed is not None:
            may &= slots == self.task.fixed
        if carried_in is not None:
            may &= carried_in.begin >= self.task.not_before
        if carried_out is not None:
            carriers = self.hands.at_work(carried_out.team, carried_out.transport.slots)
            may &= (carried_out.end <= self.count) & carriers[np.minimum(carried_out.begin, self.count - 1)]
        cost = self.mode.cost + self.hands.extra(team, slots, self.task.slots)
        if carried_out is not None:
            cost = cost + carried_out.extra[np.minimum(carried_out.begin, self.count - 1)]
        loads = tuple(self._loads(team, end, dry, layer, carried_out))
        after = After(ready, dry, cost, self.mode.margin, visit)
        stands = self.mode.stands
        starts = np.flatnonzero(may)
        return Choice(self.task, self.number, origin, stands, team, starts, after, loads, carried_in, carried_out)

    def _visit(self, layer: list[int]) -> Slots:
        """By start, the visit in which the work lies whole."""
        number = np.full(self.count, -1)
        for n in layer:
            visit = self.problem.visits[n]
            number[max(0, visit.begin) : max(0, visit.end - self.task.slots + 1)] = n
        return number

    def _settled(self, carried: Carrying) -> Slots:
        """When it has settled; carried later it may settle sooner, but what is ready never goes back in time."""
        return np.asarray(np.maximum.accumulate(carried.end + carried.transport.settled(carried.end, self.count)))

    def _loads(self, team: Team, end: Slots, dry: Slots, layer: list[int], goes: Carrying | None) -> Iterator[Load]:
        task, place, slots = self.task, self.mode.place, np.arange(self.count)

        def load(what: str, where: str, amount: int, begin: Slots, until: Slots) -> Load:
            return Load((what, where), amount, np.minimum(begin, self.count), np.minimum(until, self.count))

        yield load("bench", place, 1, slots, end)
        yield from (load("crew", str(crew), people, slots, end) for crew, people in team)
        if goes is not None:
            yield from (load("crew", str(crew), people, goes.begin, goes.end) for crew, people in goes.team)
        if layer:
            yield load("visit", str(layer[0]), 1, slots, end)
        if task.dust is not None:
            yield load("dust", place, 1, slots, end + task.dust)
        if task.wet:
            yield load("wet", place, task.wet, slots, dry if goes is None else goes.begin)
        if task.wet and goes is not None:
            yield load("wet", self.mode.stands, task.wet, goes.begin, np.maximum(dry, goes.begin))
