"""Reads a finished schedule and names every rule that it breaks. Plain loops, and nothing in common with rules.py."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import numpy as np

from .problem import Chain, Mode, Problem, Task, TimeLag
from .schedule import Carry, Schedule, ScheduledTask


class Constraint(StrEnum):
    """What a schedule must keep; the value is what a page says first."""

    PLANNED = "every step has its time"
    LENGTH = "as long as the work takes, inside these hours"
    FIXED = "what runs stays"
    WEATHER = "air and metal allow it"
    RECEIPT = "not before it is there"
    ORDER = "one step after the other"
    TOO_SOON = "not before the window opens"
    TOO_LATE = "not after the window closes"
    CLOSED_ZONE = "not in the closed zone"
    PEOPLE = "enough people who can do it"
    WORKING_HOURS = "people at work"
    ONE_THING = "one person, one thing"
    BENCH = "so many at a time in a place"
    WET_ROOM = "room for wet work"
    DUST = "nothing wet in dust"
    VISIT = "blasting in a visit"
    CARRIED = "carried from where it stands"
    HANDLED = "carried only when it may be handled"
    SETTLED = "metal has settled after a move"
    STAYS = "what is bare or drying stays where it is until the next step needs it"


@dataclass(frozen=True)
class Violation:
    """A rule that a slot breaks; `other` is the task, person or place that it meets there."""

    constraint: Constraint
    task: str
    other: str = ""

    def __str__(self) -> str:
        return f"{self.task}: {self.constraint}" + (f" ({self.other})" if self.other else "")


def check_feasibility(schedule: Schedule) -> list[Violation]:
    """Every broken rule with the task concerned; an empty list for a schedule that stands."""
    problem = schedule.problem
    missing = [Violation(Constraint.PLANNED, name) for name in problem.tasks if name not in schedule.tasks]
    missing += [Violation(Constraint.PLANNED, name) for name in schedule.tasks if name not in problem.tasks]
    if missing:
        return missing
    broken = [Violation(Constraint.LENGTH, name) for name, slot in schedule.tasks.items() if not _within(problem, slot)]
    if broken:
        return broken
    for chain in problem.chains:
        for task in chain.tasks:
            broken += _alone(problem, chain.name, task, schedule.tasks[task.name])
        broken += _along(schedule, chain)
    for lag in problem.time_lags:
        broken += _window(schedule, lag)
    return broken + [*_people(schedule), *_places(schedule), *_visits(schedule)]


def _within(problem: Problem, slot: ScheduledTask) -> bool:
    """Whether there is such an mode and such an hour at all."""
    modes = problem.tasks[slot.task].modes
    return 0 <= slot.mode < len(modes) and 0 <= slot.begin < problem.grid.count


def _alone(problem: Problem, rack: str, task: Task, slot: ScheduledTask) -> Iterator[Violation]:
    mode = task.modes[slot.mode]
    dry = slot.begin + task.slots if mode.dry is None else int(mode.dry[slot.begin])
    if slot.end != slot.begin + task.slots or slot.dry != dry or max(slot.end, slot.dry) > problem.grid.count:
        yield Violation(Constraint.LENGTH, task.name)
    if task.fixed is not None and slot.begin != task.fixed:
        yield Violation(Constraint.FIXED, task.name)
    if not mode.may_start[slot.begin]:
        yield Violation(Constraint.WEATHER, task.name, mode.place)
    if min([slot.begin, *([slot.carried_in.begin] if slot.carried_in else [])]) < task.not_before:
        yield Violation(Constraint.RECEIPT, task.name)
    yield from _wheeled(problem, rack, task, mode, slot)


def _wheeled(problem: Problem, rack: str, task: Task, mode: Mode, slot: ScheduledTask) -> Iterator[Violation]:
    """A task that dries elsewhere is carried there when its mode says."""
    out = slot.carried_out
    if mode.carried is None:
        if out is not None:
            yield Violation(Constraint.CARRIED, task.name, out.to)
        return
    route = (mode.place, mode.stands_in, int(mode.carried[slot.begin]))
    if out is None or (out.origin, out.to, out.begin) != route or not _transports(problem, rack, out):
        yield Violation(Constraint.CARRIED, task.name, mode.stands_in)


def _transports(problem: Problem, rack: str, carry: Carry) -> list[Any]:
    """The ways of carrying this rack that this one may be."""
    found = []
    for transport in problem.transports:
        if transport.rack not in ("", rack):
            continue
        same = (transport.origin, transport.to, transport.slots) == (carry.origin, carry.to, carry.end - carry.begin)
        if same and transport.people == len(set(carry.people)) == len(carry.people):
            found.append(transport)
    return found


def _settled_by(problem: Problem, rack: str, carry: Carry) -> int:
    latest = problem.grid.count
    for transport in _transports(problem, rack, carry):
        settles = np.broadcast_to(transport.settles, problem.grid.count)
        waits = int(settles[min(carry.end, problem.grid.count - 1)])
        latest = min(latest, carry.end + waits)
    return latest


def _along(schedule: Schedule, chain: Chain) -> Iterator[Violation]:
    """The tasks of a rack in their order, and the rack carried to where each is done."""
    stands, before = chain.stands_in, None
    for task in chain.tasks:
        slot = schedule.tasks[task.name]
        mode = task.modes[slot.mode]
        if before is not None:
            yield from _after(schedule, chain.name, before, slot)
        yield from _brought(schedule, chain.name, before, slot, stands, mode.place)
        stands, before = mode.stands_in or mode.place, slot


def _after(schedule: Schedule, rack: str, before: ScheduledTask, slot: ScheduledTask) -> Iterator[Violation]:
    linked = any((lag.before, lag.after) == (before.task, slot.task) for lag in schedule.problem.time_lags)
    if slot.begin < before.end or (slot.begin < before.dry and not linked):
        yield Violation(Constraint.ORDER, slot.task, before.task)
    out = before.carried_out
    if out is not None and slot.begin < _settled_by(schedule.problem, rack, out):
        yield Violation(Constraint.SETTLED, slot.task, out.to)


def _brought(
    schedule: Schedule, rack: str, before: ScheduledTask | None, slot: ScheduledTask, stands: str, place: str
) -> Iterator[Violation]:
    carry = slot.carried_in
    if carry is None:
        if stands not in ("", place):
            yield Violation(Constraint.CARRIED, slot.task, place)
        return
    if (carry.origin, carry.to) != (stands, place) or carry.begin < 0 or not _transports(schedule.problem, rack, carry):
        yield Violation(Constraint.CARRIED, slot.task, place)
    if before is not None and carry.begin < before.dry:
        yield Violation(Constraint.HANDLED, slot.task, before.task)
    if slot.begin < _settled_by(schedule.problem, rack, carry):
        yield Violation(Constraint.SETTLED, slot.task, place)
    if not schedule.problem.tasks[slot.task].early and _could_go_later(schedule.problem, rack, carry, slot.begin):
        yield Violation(Constraint.STAYS, slot.task, place)


def _could_go_later(problem: Problem, rack: str, carry: Carry, wanted: int) -> bool:
    """Whether the same people could carry it in a later hour, from which its metal settles by then."""
    people = [person for person in problem.people if person.name in carry.people]
    for begin in range(carry.begin + 1, wanted):
        later = replace(carry, begin=begin, end=begin + carry.end - carry.begin)
        at_work = all(person.working[begin : later.end].all() for person in people)
        if at_work and _settled_by(problem, rack, later) <= wanted:
            return True
    return False


def _window(schedule: Schedule, lag: TimeLag) -> Iterator[Violation]:
    before, after = schedule.tasks[lag.before], schedule.tasks[lag.after]
    window = lag.windows[before.mode]
    opens, closes, shut, until = (
        int(values[before.begin]) for values in (window.opens, window.closes, window.closed_from, window.closed_until)
    )
    if after.begin < max(opens, before.end):
        yield Violation(Constraint.TOO_SOON, lag.after, lag.before)
    if after.end > closes:
        yield Violation(Constraint.TOO_LATE, lag.after, lag.before)
    if after.end > shut and after.begin < until:
        yield Violation(Constraint.CLOSED_ZONE, lag.after, lag.before)


def _people(schedule: Schedule) -> Iterator[Violation]:
    busy: dict[tuple[str, int], str] = {}
    people = {person.name: person for person in schedule.problem.people}
    for slot in schedule.tasks.values():
        task = schedule.problem.tasks[slot.task]
        able = [n for n in slot.people if n in people and task.kind in (people[n].kinds or {task.kind})]
        if len(set(able)) != task.people or len(slot.people) != task.people:
            yield Violation(Constraint.PEOPLE, slot.task)
        for name, begin, end in slot.attended:
            hours = range(begin, end)
            if any(
                not 0 <= h < schedule.problem.grid.count or not people[name].working[h] for h in hours if name in people
            ):
                yield Violation(Constraint.WORKING_HOURS, slot.task, name)
            if any((name, h) in busy for h in hours):
                yield Violation(
                    Constraint.ONE_THING, slot.task, next(busy[name, h] for h in hours if (name, h) in busy)
                )
            busy.update(((name, h), slot.task) for h in hours)


def _places(schedule: Schedule) -> Iterator[Violation]:
    """Walks through every place slot by slot: who works, what lies wet, what fouls the air."""
    for place in schedule.problem.places:
        working, wet, dusty = _in_place(schedule, place.name)
        for names in working.values():
            if place.at_once is not None and len(names) > place.at_once:
                yield Violation(Constraint.BENCH, names[-1], place.name)
                break
        for names in wet.values():
            lies = sum(schedule.problem.tasks[name].wet for name in names)
            if place.wet_room is not None and lies > place.wet_room:
                yield Violation(Constraint.WET_ROOM, names[-1], place.name)
                break
        for pair in sorted({(name, other) for h, names in wet.items() for name in names for other in dusty.get(h, ())}):
            yield Violation(Constraint.DUST, *pair)


Standing = dict[int, list[str]]


def _in_place(schedule: Schedule, place: str) -> tuple[Standing, Standing, Standing]:
    working: Standing = {}
    wet: Standing = {}
    dusty: Standing = {}
    for slot in schedule.tasks.values():
        task = schedule.problem.tasks[slot.task]
        mode = task.modes[slot.mode]
        out = slot.carried_out
        here = mode.place == place
        if here:
            _note(working, slot.task, slot.begin, slot.end)
        if here and task.dust is not None:
            _note(dusty, slot.task, slot.begin, slot.end + task.dust)
        if task.wet and here:
            _note(wet, slot.task, slot.begin, slot.dry if out is None else out.begin)
        if task.wet and out is not None and out.to == place:
            _note(wet, slot.task, out.begin, slot.dry)
    return working, wet, dusty


def _note(standing: Standing, name: str, begin: int, end: int) -> None:
    for hour in range(begin, end):
        standing.setdefault(hour, []).append(name)


def _visits(schedule: Schedule) -> Iterator[Violation]:
    visits = {visit.name: visit for visit in schedule.problem.visits}
    blasting: dict[tuple[str, int], str] = {}
    for slot in schedule.tasks.values():
        if not schedule.problem.tasks[slot.task].by_visit:
            continue
        visit = visits.get(slot.visit)
        if visit is None or slot.begin < visit.begin or slot.end > visit.end:
            yield Violation(Constraint.VISIT, slot.task, slot.visit)
        for hour in range(slot.begin, slot.end):
            if (slot.visit, hour) in blasting:
                yield Violation(Constraint.VISIT, slot.task, blasting[slot.visit, hour])
                break
            blasting[slot.visit, hour] = slot.task
