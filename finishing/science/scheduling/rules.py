"""The rules between tasks, one function each, as rows of whole numbers for any solver.

A choice c of a task has starts c_0 < c_1 < … and for each a number  y[c,k] ∈ {0, 1}:  the task is done in this way and
begins at its k-th start or before. So y only ever rises, y[c,k] − y[c,k−1] is the start itself, and rules that look
at time by time ("by t nothing may have begun that …") come out tight. Below, y[c, when ≤ t] is y at the last start
whose `when` is not after t, and 0 where there is none. A row says  low ≤ Σ coefficient · number ≤ high.

A rack that may be fetched early has a  z[f,m]  for each way f to carry it, in the same manner: fetched at the m-th
moment or before. Any other is fetched when its start says.

Where a task is counted for n racks that are alike, y ∈ {0 … n}: how many of them have begun by then.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

import numpy as np

from finishing.science.hours import Flags

from .choices import Choice, Fetching, Load, Resource
from .problem import NEVER, Slots
from .search_space import Follow, SearchSpace, Tie

Terms = list[tuple[int, int]]  # coefficient, number of the variable
Way = Choice | Fetching


@dataclass(frozen=True)
class LinearRow:
    """low ≤ Σ coefficient · variable ≤ high; None where there is no limit."""

    terms: Terms
    high: int | None = None
    low: int | None = None


@dataclass
class Variables:
    """Which variable is which: the y of every choice, the z of every fetching, and whatever else a rule needs."""

    space: SearchSpace
    base: dict[int, int] = field(default_factory=dict)
    named: dict[Any, int] = field(default_factory=dict)
    highest: list[int] = field(default_factory=list)  # of each variable; the lowest is 0

    def __post_init__(self) -> None:
        self.fetchings = {name: self.space.fetchings(name) for name in self.space.choices}
        for way in self.ways():
            self.base[id(way)] = len(self.highest)
            self.highest += len(way) * [self.space.times(way.task.name)]

    def choices(self) -> Iterator[Choice]:
        """All choices, task by task."""
        return (choice for ways in self.space.choices.values() for choice in ways)

    def ways(self) -> Iterator[Way]:
        """All choices and all fetchings."""
        yield from self.choices()
        yield from (fetching for ways in self.fetchings.values() for fetching in ways)

    def y(self, choice: Way, k: int, coefficient: int = 1) -> Terms:
        """y[c,k], or z, as a term; nothing before the first start."""
        return [(coefficient, self.base[id(choice)] + int(k))] if k >= 0 else []

    def last(self, choice: Way, coefficient: int = 1) -> Terms:
        """Whether the choice is taken at all."""
        return self.y(choice, len(choice) - 1, coefficient)

    def those(self, choice: Way, flags: Flags, coefficient: int = 1) -> Terms:
        """Whether it begins at one of these starts: between the edges of every run of them."""
        edges = np.diff(flags.astype(int), append=0)
        return [x for k in np.flatnonzero(edges) for x in self.y(choice, int(k), -coefficient * int(edges[k]))]

    def start(self, choice: Choice, k: int, coefficient: int = 1) -> Terms:
        """Whether it begins at its k-th start."""
        return self.y(choice, k, coefficient) + self.y(choice, k - 1, -coefficient)

    def by(self, choice: Way, when: Slots, t: int, coefficient: int = 1) -> Terms:
        """y[c, when ≤ t]."""
        return self.y(choice, int(np.searchsorted(when, t, side="right")) - 1, coefficient)

    def extra(self, name: Any, highest: int = 1) -> int:
        """A variable of its own, made when it is first named."""
        if name not in self.named:
            self.named[name] = len(self.highest)
            self.highest.append(highest)
        return self.named[name]


def rules(variables: Variables) -> Iterator[LinearRow]:
    """All of them."""
    yield from what_has_started_stays_started(variables)
    yield from every_step_once(variables)
    yield from from_where_it_stands(variables)
    yield from not_before_the_window_opens(variables)
    yield from fetched_where_it_is_needed(variables)
    yield from fetched_when_it_may_be_handled(variables)
    yield from not_before_the_metal_has_settled(variables)
    yield from not_after_the_window_closes(variables)
    yield from outside_the_closed_zone(variables)
    yield from no_more_than_there_is(variables)
    yield from nothing_wet_in_dust(variables)
    yield from blasted_in_a_booked_visit(variables)


def what_has_started_stays_started(variables: Variables) -> Iterator[LinearRow]:
    """y[c,k] ≤ y[c,k+1], and so for z."""
    for way in variables.ways():
        for k in range(len(way) - 1):
            yield LinearRow(variables.y(way, k) + variables.y(way, k + 1, -1), high=0)


def every_step_once(variables: Variables) -> Iterator[LinearRow]:
    """Σ_c y[c, last] = n."""
    for name, ways in variables.space.choices.items():
        times = variables.space.times(name)
        yield LinearRow([term for c in ways for term in variables.last(c)], high=times, low=times)


def from_where_it_stands(variables: Variables) -> Iterator[LinearRow]:
    """For each place:  Σ y[c, last] of ways that leave it there = Σ y[c', last] of ways that take it from there."""
    for before, after in _neighbours(variables.space):
        befores, afters = variables.space.choices[before], variables.space.choices[after]
        places = {c.stands for c in befores} | {c.comes_from for c in afters}
        for place in sorted(places) if len(places) > 1 else ():
            left = [term for c in befores if c.stands == place for term in variables.last(c)]
            yield LinearRow(
                left + [t for c in afters if c.comes_from == place for t in variables.last(c, -1)], high=0, low=0
            )


def not_before_the_window_opens(variables: Variables) -> Iterator[LinearRow]:
    """For each t:  Σ y[c', seen ≤ t] ≤ Σ y[c, opens ≤ t]."""
    for tie, befores, afters in _met(variables.space):
        opens = [(c, follow.opens) for c, follow in befores]
        seen = [(c, _seen(c, befores) if tie.neighbours else c.starts) for c in afters]
        yield from _only_after(variables, seen, opens)


def fetched_where_it_is_needed(variables: Variables) -> Iterator[LinearRow]:
    """z[f, last] = Σ y[c, last] of the choices that it serves."""
    for ways in variables.fetchings.values():
        for f in ways:
            served = [term for c in f.serves for term in variables.last(c, -1)]
            yield LinearRow(variables.last(f) + served, high=0, low=0)


def fetched_when_it_may_be_handled(variables: Variables) -> Iterator[LinearRow]:
    """For each t:  Σ z[f, ≤ t] + Σ y[c', fetched ≤ t] ≤ Σ y[c, dry ≤ t],  c' the choices that no f serves."""
    for before, after in _neighbours(variables.space):
        early: list[tuple[Way, Slots]] = [(f, f.starts) for f in variables.fetchings[after]]
        others = [c for c in variables.space.choices[after] if c.carried_in is not None and not c.fetched_early]
        fetched = [*early, *((c, c.carried) for c in others if c.carried is not None)]
        for place in sorted({way.comes_from for way, _ in fetched}):
            dry = [(c, c.after.dry) for c in variables.space.choices[before] if c.stands == place]
            yield from _only_after(variables, [pair for pair in fetched if pair[0].comes_from == place], dry)


def not_before_the_metal_has_settled(variables: Variables) -> Iterator[LinearRow]:
    """For each t:  Σ y[c, start ≤ t] ≤ Σ start of z[f, settled ≤ t],  c the choices that f serves."""
    for ways in variables.fetchings.values():
        for f in ways:
            starts, settled = np.unique(np.concatenate([c.starts for c in f.serves])), f.settled
            by = np.searchsorted(np.sort(settled), starts, side="right")
            # of the starts by which equally many moments have settled the last one tells most
            for t in starts[np.append(np.diff(by) > 0, True)]:
                begun = [term for c in f.serves for term in variables.by(c, c.starts, t)]
                yield LinearRow(begun + variables.those(f, settled <= t, -1), high=0)


def not_after_the_window_closes(variables: Variables) -> Iterator[LinearRow]:
    """For each t:  Σ y[c, latest ≤ t] ≤ Σ y[c', start ≤ t]."""
    for _, befores, afters in _met(variables.space):
        closing = [(c, follow.latest) for c, follow in befores if follow.latest[0] < NEVER // 2]
        if closing:
            yield from _only_after(variables, closing, [(c, c.starts) for c in afters])


def outside_the_closed_zone(variables: Variables) -> Iterator[LinearRow]:
    """start[c,k] + Σ (y[c', start < shut until] − y[c', start ≤ shut after]) ≤ 1; counted racks are not held to it."""
    for _, befores, afters in _met(variables.space):
        if any(variables.space.times(c.task.name) > 1 for c in (*(c for c, _ in befores), *afters)):
            continue
        for c, follow in befores:
            for k in np.flatnonzero(follow.shut_after < np.minimum(follow.shut_until, NEVER // 2)):
                ends = follow.shut_until[k] - 1, follow.shut_after[k]
                inside = [t for a in afters for t in _between(variables, a, *ends)]
                if inside:
                    yield LinearRow(variables.start(c, int(k)) + inside, high=1)


def no_more_than_there_is(variables: Variables) -> Iterator[LinearRow]:
    """For each crew, bench, visit and wet room, and each t:  Σ amount · (y[c, begin ≤ t] − y[c, end ≤ t]) ≤ limit."""
    limits = variables.space.resources()
    for on, taken in _taken(variables).items():
        limit = limits.get(on)
        if limit is not None:
            for t in sorted({int(t) for _, load in taken for t in np.unique(load.begin)}):
                terms = [term for c, load in taken for term in _active(variables, c, load, t, load.amount)]
                if sum(coefficient * variables.highest[v] for coefficient, v in terms if coefficient > 0) > limit:
                    yield LinearRow(terms, high=limit)


def nothing_wet_in_dust(variables: Variables) -> Iterator[LinearRow]:
    """For each place and t, with  dusty[t] ∈ {0, 1}:  a task's dust ≤ n·dusty[t],  its wetness ≤ n·(1 − dusty[t])."""
    taken = _taken(variables)
    for (what, place), dust in taken.items():
        wet = taken.get(("wet", place), [])
        if what != "dust" or not wet:
            continue
        for t in sorted({int(t) for _, load in dust + wet for t in np.unique(load.begin)}):
            fouls, lies = _by_step(variables, dust, t), _by_step(variables, wet, t)
            if fouls and lies:
                dusty = variables.extra(("dusty", place, t))
                yield from (LinearRow([*terms, (-n, dusty)], high=0) for n, terms in fouls)
                yield from (LinearRow([*terms, (n, dusty)], high=n) for n, terms in lies)


def blasted_in_a_booked_visit(variables: Variables) -> Iterator[LinearRow]:
    """Σ (y[c, last start in the visit] − y[c, last start before it]) ≤ n · booked[visit], for each task;

    and, for all of them at once,  Σ slots · (…) ≤ slots of the visit · booked[visit].
    """
    work: dict[int, Terms] = defaultdict(list)
    for name, ways in variables.space.choices.items():
        for number in sorted({int(n) for c in ways for n in np.unique(c.after.visit) if n >= 0}):
            inside = [term for c in ways for term in _within_visit(variables, c, number)]
            yield LinearRow([*inside, (-variables.space.times(name), variables.extra(("booked", number)))], high=0)
            work[number] += [(ways[0].task.slots * coefficient, v) for coefficient, v in inside]
    for number, terms in work.items():
        visit = variables.space.problem.visits[number]
        yield LinearRow([*terms, (visit.begin - visit.end, variables.extra(("booked", number)))], high=0)


def _within_visit(variables: Variables, choice: Choice, number: int) -> Terms:
    """Whether it begins in this visit."""
    inside = np.flatnonzero(choice.after.visit == number)
    return [*variables.y(choice, inside[-1]), *variables.y(choice, inside[0] - 1, -1)] if len(inside) else []


def _neighbours(space: SearchSpace) -> list[tuple[str, str]]:
    return list(dict.fromkeys((tie.before, tie.after) for tie in space.ties if tie.neighbours))


def _by_place(space: SearchSpace, before: str, after: str) -> Iterator[tuple[list[Choice], list[Choice]]]:
    """The choices of two neighbours, by the place where the rack stands in between."""
    befores, afters = space.choices[before], space.choices[after]
    for place in sorted({c.stands for c in befores}):
        meeting = [c for c in afters if c.comes_from == place]
        if meeting:
            yield [c for c in befores if c.stands == place], meeting


def _met(space: SearchSpace) -> Iterator[tuple[Tie, list[tuple[Choice, Follow]], list[Choice]]]:
    """For each tie what a group of choices before leaves open to the choices after that it can meet."""
    for tie in space.ties:
        groups: Iterable[tuple[list[Choice], list[Choice]]]
        if tie.neighbours:
            groups = _by_place(space, tie.before, tie.after)
        else:
            groups = [(space.choices[tie.before], space.choices[tie.after])]
        for befores, afters in groups:
            yield tie, _followed(space, tie, befores), afters


def _seen(after: Choice, befores: list[tuple[Choice, Follow]]) -> Slots:
    """Of each start the last opening that it may have waited for: up to it, and, fetched, of what is dry by then."""
    if after.carried is None or len({(c.mode, id(c.carried_out)) for c, _ in befores}) > 1:
        return after.starts
    starts, first = np.unique(np.concatenate([c.starts for c, _ in befores]), return_index=True)
    dry = np.concatenate([c.after.dry for c, _ in befores])[first]
    opens = np.concatenate([follow.opens for _, follow in befores])[first]
    fetched = np.searchsorted(dry, after.carried, side="right") - 1
    return np.minimum(after.starts, np.where(fetched < 0, -1, opens[fetched]))


def _followed(space: SearchSpace, tie: Tie, befores: list[Choice]) -> list[tuple[Choice, Follow]]:
    return [(c, space.follow(tie, c)) for c in befores]


def _only_after(
    variables: Variables, late: Sequence[tuple[Way, Slots]], early: Sequence[tuple[Way, Slots]]
) -> Iterator[LinearRow]:
    """For each t:  Σ y[late ≤ t] ≤ Σ y[early ≤ t], rows that another one implies left out."""
    times = np.unique(np.concatenate([when for _, when in late]))
    ups = [[int(np.searchsorted(when, t, side="right")) - 1 for _, when in early] for t in times]
    complete = [len(c) - 1 for c, _ in early]
    for reached, alike in groupby(zip(times, ups, strict=True), key=lambda pair: pair[1]):
        if reached != complete:
            *_, (t, _) = alike
            left = [term for c, when in late for term in variables.by(c, when, t)]
            yield LinearRow(
                left + [x for (c, _), k in zip(early, reached, strict=True) for x in variables.y(c, k, -1)], high=0
            )


def _between(variables: Variables, choice: Choice, last: int, before: int) -> Terms:
    """Whether it begins after `before` and not after `last`."""
    up, down = variables.by(choice, choice.starts, last), variables.by(choice, choice.starts, before, -1)
    return up + down if [v for _, v in up] != [v for _, v in down] else []


def _taken(variables: Variables) -> dict[Resource, list[tuple[Way, Load]]]:
    taken: dict[Resource, list[tuple[Way, Load]]] = defaultdict(list)
    for way in variables.ways():
        for load in way.own_loads:
            taken[load.on].append((way, load))
    return taken


def _active(variables: Variables, choice: Way, load: Load, t: int, amount: int = 1) -> Terms:
    """amount · (y[c, begin ≤ t] − y[c, end ≤ t])."""
    begun, over = variables.by(choice, load.begin, t, amount), variables.by(choice, load.end, t, -amount)
    return begun + over if [v for _, v in begun] != [v for _, v in over] else []


def _by_step(variables: Variables, taken: list[tuple[Way, Load]], t: int) -> list[tuple[int, Terms]]:
    """For each task for how many racks it is counted, and how many of them take it at t."""
    tasks: dict[str, Terms] = defaultdict(list)
    for choice, load in taken:
        tasks[choice.task.name] += _active(variables, choice, load, t)
    return [(variables.space.times(name), terms) for name, terms in tasks.items() if terms]
