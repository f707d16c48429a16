"""A problem laid out: the choices of every task, and what each leaves open to the tasks that follow it.

`narrow` leaves out the starts that no neighbour along a time lag can meet, and so keeps small what is to be decided.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from heapq import heappop, heappush
from typing import Any

import numpy as np

from finishing.science.hours import Flags

from .choices import Carrying, Choice, Fetching, Resource, along, fetchings, layers
from .crews import Crew, Hands, Team
from .problem import NEVER, Chain, Problem, Slots
from .schedule import Carry, Schedule, ScheduledTask


@dataclass(frozen=True, eq=False)
class Follow:
    """What the start of the task after must keep, for each start of a choice before it."""

    opens: Slots
    latest: Slots
    shut_after: Slots  # no start after this …
    shut_until: Slots  # … and before this


@dataclass(frozen=True)
class Tie:
    """Two tasks of which one follows the other; `next` to each other in a rack, or linked by a window, or both."""

    before: str
    after: str
    neighbours: bool
    lag: int | None


@dataclass(frozen=True, eq=False)
class SearchSpace:
    """A problem laid out: the choices of each task, and who follows whom.

    many: for how many racks a task is counted, by its name; where it is not said, for one
    most: how much there is of what only counted racks take.
    """

    problem: Problem
    crews: tuple[Crew, ...]
    choices: dict[str, list[Choice]]
    ties: tuple[Tie, ...]
    many: dict[str, int] = field(default_factory=dict)
    most: dict[Resource, int] = field(default_factory=dict)
    _follows: dict[tuple[Tie, int], tuple[Choice, Follow]] = field(default_factory=dict, init=False)

    def times(self, task: str) -> int:
        """For how many racks this task is counted."""
        return self.many.get(task, 1)

    def allows(self, chain: Chain) -> bool:
        """Whether each task of this rack has some start, as if it were alone."""
        return all(self.choices[task.name] for task in chain.tasks)

    def follow(self, tie: Tie, before: Choice) -> Follow:
        """What this choice leaves open to the task after it."""
        key = tie, id(before.starts)
        if key not in self._follows:
            # the choice is kept beside its answer: an id is only its own as long as it lives
            self._follows[key] = before, self.followed_by(tie, before)
        return self._follows[key][1]

    def followed_by(self, tie: Tie, before: Choice) -> Follow:
        """The same for a choice that is asked about only once."""
        end, slots = before.starts + before.task.slots, self.problem.tasks[tie.after].slots
        if tie.lag is None:
            never = np.full(len(before), NEVER)
            return Follow(np.maximum(before.after.ready, before.after.dry), never, never, never)
        window = self.problem.time_lags[tie.lag].windows[before.mode]
        opens, closes, shut, until = (
            values[before.starts] for values in (window.opens, window.closes, window.closed_from, window.closed_until)
        )
        opens = np.maximum(opens, before.after.ready if tie.neighbours else end)
        return Follow(opens, closes - slots, shut - slots, until)

    def fetchings(self, task: str) -> list[Fetching]:
        """The ways to carry a rack to this task."""
        befores = self.choices.get(self._before.get(task, ""), [])

        def not_before(place: str) -> int:
            return min((int(c.after.dry[0]) for c in befores if c.stands == place and len(c)), default=0)

        return list(fetchings(self.choices[task], not_before))

    @cached_property
    def _before(self) -> dict[str, str]:
        return {tie.after: tie.before for tie in self.ties if tie.neighbours}

    def resources(self) -> dict[Resource, int | None]:
        """How much there is of each resource; None where there is no limit."""
        people = {("crew", str(i)): len(crew.people) for i, crew in enumerate(self.crews)}
        places = {("bench", place.name): place.at_once for place in self.problem.places}
        wet = {("wet", place.name): place.wet_room for place in self.problem.places}
        visits = {("visit", str(layer[0])): 1 for layer in layers(self.problem)}
        return {**people, **places, **wet, **visits, **self.most}


def search_space(problem: Problem) -> SearchSpace:
    """All choices of all tasks; a task left without one makes the problem impossible."""
    hands = Hands(problem)
    choices = {name: ways for chain in problem.chains for name, ways in along(problem, hands, chain)}
    return SearchSpace(problem, hands.crews, choices, tuple(_ties(problem)))


def subspace(space: SearchSpace, problem: Problem) -> SearchSpace:
    """The search space of some of the racks, or of all: what may be chosen for them stays what it is."""
    return SearchSpace(
        problem, space.crews, {name: space.choices[name] for name in problem.tasks}, tuple(_ties(problem))
    )


def _ties(problem: Problem) -> list[Tie]:
    linked: dict[tuple[str, str], list[int]] = {}
    for number, lag in enumerate(problem.time_lags):
        linked.setdefault((lag.before, lag.after), []).append(number)
    pairs = [(a.name, b.name) for chain in problem.chains for a, b in zip(chain.tasks, chain.tasks[1:], strict=False)]
    ties = [Tie(*pair, True, number) for pair in pairs for number in linked.get(pair, [None])]
    return ties + [Tie(*pair, False, n) for pair, numbers in linked.items() if pair not in pairs for n in numbers]


def within(space: SearchSpace, by: int, promised: bool = False) -> SearchSpace:
    """What is left when everything is dry by a slot, and every rack by its promise where promises are to be kept."""
    limits = {
        task.name: min(by, chain.promised) if promised and chain.promised is not None else by
        for chain in space.problem.chains
        for task in chain.tasks
    }
    kept = {name: [c.keep(c.after.dry <= limits[name]) for c in ways] for name, ways in space.choices.items()}
    return narrow(replace(space, choices=kept))


def narrow(space: SearchSpace) -> SearchSpace:
    """Without the starts that no start of a neighbour can meet; repeated until nothing more falls away."""
    choices = {name: [c for c in ways if len(c)] for name, ways in space.choices.items()}
    asked = list(reversed(space.ties))
    while asked:
        changed: set[str] = set()
        for tie in asked:
            changed |= _narrow(space, choices, tie)
        asked = [tie for tie in asked[::-1] if tie.before in changed or tie.after in changed]
    return replace(space, choices=choices)


class _Alike:
    """Choices of a task that lead on alike, or are led to alike, as one with the starts of all of them."""

    def __init__(self, choices: list[Choice], count: int) -> None:
        self.any, self.met = np.zeros(count, bool), np.zeros(count, bool)  # by slot: may begin, and meets a neighbour
        for choice in choices:
            self.any[choice.starts] = True
        self.whole = replace(choices[0], starts=np.flatnonzero(self.any))

    def meets(self, those: Flags) -> None:
        """Those of its starts meet a neighbour."""
        self.met[self.whole.starts[those]] = True


def _narrow(space: SearchSpace, choices: dict[str, list[Choice]], tie: Tie) -> set[str]:
    befores = _grouped(space, choices[tie.before], lambda c: (c.mode, c.carried_out and id(c.carried_out.transport)))
    after_from = (
        (lambda c: (c.comes_from, c.carried_in and id(c.carried_in.begin))) if tie.neighbours else (lambda _: ())
    )
    afters = _grouped(space, choices[tie.after], after_from)
    for before in dict.fromkeys(befores):
        follow = space.followed_by(tie, before.whole)
        for after in dict.fromkeys(afters):
            if not tie.neighbours or after.whole.comes_from == before.whole.stands:
                before.meets(_has_after(follow, before.whole, after.whole, tie.neighbours))
                after.meets(_has_before(follow, before.whole, after.whole, tie.neighbours))
    fewer = set()
    for name, groups in ((tie.before, befores), (tie.after, afters)):
        if any((group.any & ~group.met).any() for group in groups):
            kept = (c.keep(group.met[c.starts]) for c, group in zip(choices[name], groups, strict=True))
            choices[name] = [c for c in kept if len(c)]
            fewer.add(name)
    return fewer


def _grouped(space: SearchSpace, choices: list[Choice], key: Callable[[Choice], Any]) -> list[_Alike]:
    """For each choice the group that it belongs to."""
    keys = [key(choice) for choice in choices]
    members: dict[Any, list[Choice]] = {}
    for choice, its in zip(choices, keys, strict=True):
        members.setdefault(its, []).append(choice)
    groups = {its: _Alike(alike, space.problem.grid.count) for its, alike in members.items()}
    return [groups[its] for its in keys]


def meets(follow: Follow, k: int, before: Choice, after: Choice, neighbours: bool) -> Flags:
    """Which starts of the task after keep the window of the k-th start before."""
    starts = after.starts
    fits = (starts >= follow.opens[k]) & (starts <= follow.latest[k])
    fits &= (starts <= follow.shut_after[k]) | (starts >= follow.shut_until[k])
    if neighbours and after.carried is not None:
        fits &= after.carried >= before.after.dry[k]
    return np.asarray(fits)


def _has_after(follow: Follow, before: Choice, after: Choice, neighbours: bool) -> Flags:
    """For each start before, whether some start after keeps its window: the first after it opens, or after its zone."""
    opens = follow.opens
    if neighbours and after.carried is not None:
        first_carried = np.searchsorted(after.carried, before.after.dry)
        opens = np.maximum(opens, np.append(after.starts, NEVER)[first_carried])
    first = _next(after.starts, opens)
    second = _next(after.starts, np.maximum(opens, follow.shut_until))
    return ((first <= follow.latest) & (first <= follow.shut_after)) | (second <= follow.latest)


def _has_before(follow: Follow, before: Choice, after: Choice, neighbours: bool) -> Flags:
    """For each start after, whether some start before leaves it open: the last that is ready, or whose zone is over."""
    ready = np.searchsorted(follow.opens, after.starts, side="right")
    if neighbours and after.carried is not None:
        ready = np.minimum(ready, np.searchsorted(before.after.dry, after.carried, side="right"))
    past = np.minimum(ready, np.searchsorted(follow.shut_until, after.starts, side="right"))
    latest, shut = np.append(-NEVER, follow.latest), np.append(-NEVER, follow.shut_after)
    return ((after.starts <= latest[ready]) & (after.starts <= shut[ready])) | (after.starts <= latest[past])


def _next(starts: Slots, at: Slots) -> Slots:
    return np.asarray(np.append(starts, NEVER + 1)[np.searchsorted(starts, at)])


Picks = dict[str, tuple[Choice, int]]  # task → its choice and the number of its start


def again(space: SearchSpace, name: str, pick: tuple[Choice, int]) -> tuple[Choice, int]:
    """The same pick among fewer starts."""
    choice, k = pick
    for c in space.choices[name]:
        if c.by_slot is choice.by_slot and choice.starts[k] in c.starts:
            here = int(np.searchsorted(c.starts, choice.starts[k]))
            return c.fetched(here, choice.fetches(k)), here
    raise RuntimeError(f"{name}: its own start has been left out")


def settle(space: SearchSpace, picks: Picks) -> Schedule:
    """The schedule of these picks; within a crew whoever has been free longest takes the next task."""
    tasks = sorted(
        (int(begin), int(begin) + length, crew, people, name, part)
        for name, (choice, k) in picks.items()
        for part, team, begin, length in _tasks(choice, k)
        for crew, people in team
    )
    free: dict[int, list[tuple[int, str]]] = {i: [(0, p) for p in c.people] for i, c in enumerate(space.crews)}
    who: dict[tuple[str, str], list[str]] = {}
    for begin, end, crew, people, name, part in tasks:
        for _ in range(people):
            since, person = heappop(free[crew])
            if since > begin:
                raise RuntimeError(f"{name}: more people are asked for than are there")
            who.setdefault((name, part), []).append(person)
            heappush(free[crew], (end, person))
    return Schedule(space.problem, {name: _slot(space, who, *picks[name]) for name in space.problem.tasks})


def _tasks(choice: Choice, k: int) -> Iterator[tuple[str, Team, int, int]]:
    yield "work", choice.team, choice.starts[k], choice.task.slots
    for part, carry in (("in", choice.carried_in), ("out", choice.carried_out)):
        if carry is not None:
            yield part, carry.team, carry.begin[choice.starts[k]], carry.transport.slots


def _slot(space: SearchSpace, who: dict[tuple[str, str], list[str]], choice: Choice, k: int) -> ScheduledTask:
    name = choice.task.name

    def carried(part: str, carrying: Carrying | None) -> Carry | None:
        if carrying is None:
            return None
        transport, begin = carrying.transport, int(carrying.begin[choice.starts[k]])
        return Carry(transport.origin, transport.to, begin, begin + transport.slots, tuple(who.get((name, part), ())))

    begin, visit = int(choice.starts[k]), int(choice.after.visit[k])
    return ScheduledTask(
        task=name,
        mode=choice.mode,
        begin=begin,
        end=begin + choice.task.slots,
        dry=int(choice.after.dry[k]),
        people=tuple(who.get((name, "work"), ())),
        visit="" if visit < 0 else space.problem.visits[visit].name,
        carried_in=carried("in", choice.carried_in),
        carried_out=carried("out", choice.carried_out),
    )
