"""Reads a finished schedule and names every rule that it breaks. Plain loops, and nothing in common with the engine."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from .problem import Chain, Mode, Problem, Task, TimeLag, Transport
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
    """Whether there is such a mode and such a minute at all."""
    task, count = problem.tasks[slot.task], problem.horizon.count
    return 0 <= slot.mode < len(task.modes) and 0 <= slot.begin < count and slot.begin + task.minutes <= count


def _alone(problem: Problem, rack: str, task: Task, slot: ScheduledTask) -> Iterator[Violation]:
    mode = task.modes[slot.mode]
    done = slot.begin + task.minutes
    dry = done if mode.dry is None else int(mode.dry[done])
    if slot.end != done or slot.dry != dry or max(slot.end, slot.dry) > problem.horizon.count:
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
    route = (mode.place, mode.stands_in, int(mode.carried[slot.begin + task.minutes]))
    if out is None or (out.origin, out.to, out.begin) != route or not _transports(problem, rack, out):
        yield Violation(Constraint.CARRIED, task.name, mode.stands_in)


def _transports(problem: Problem, rack: str, carry: Carry) -> list[Transport]:
    """The ways of carrying this rack that this one may be."""
    return [
        transport
        for transport in problem.transports_of(rack, carry.origin, carry.to)
        if transport.minutes == carry.end - carry.begin
        and transport.people == len(set(carry.people)) == len(carry.people)
    ]


def _settled_by(problem: Problem, transports: list[Transport], arrived: int) -> int:
    latest = problem.horizon.count
    for transport in transports:
        settles = transport.settles
        waits = settles if isinstance(settles, int) else settles[min(arrived, problem.horizon.count - 1)]
        latest = min(latest, arrived + int(waits))
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
    if out is not None:
        transports = _transports(schedule.problem, rack, out)
        if slot.begin < _settled_by(schedule.problem, transports, out.end):
            yield Violation(Constraint.SETTLED, slot.task, out.to)


def _brought(
    schedule: Schedule, rack: str, before: ScheduledTask | None, slot: ScheduledTask, stands: str, place: str
) -> Iterator[Violation]:
    carry = slot.carried_in
    if carry is None:
        if stands not in ("", place):
            yield Violation(Constraint.CARRIED, slot.task, place)
        return
    transports = _transports(schedule.problem, rack, carry)
    if (carry.origin, carry.to) != (stands, place) or carry.begin < 0 or not transports:
        yield Violation(Constraint.CARRIED, slot.task, place)
    if before is not None and carry.begin < before.dry:
        yield Violation(Constraint.HANDLED, slot.task, before.task)
    if slot.begin < _settled_by(schedule.problem, transports, carry.end):
        yield Violation(Constraint.SETTLED, slot.task, place)
    if not schedule.problem.tasks[slot.task].early and _could_go_later(schedule.problem, transports, carry, slot.begin):
        yield Violation(Constraint.STAYS, slot.task, place)


def _could_go_later(problem: Problem, transports: list[Transport], carry: Carry, wanted: int) -> bool:
    """Whether the same people could carry it in a later minute, from which its metal settles by then."""
    people = [person for person in problem.people if person.name in carry.people]
    length = carry.end - carry.begin
    for begin in range(carry.begin + 1, wanted - length + 1):
        at_work = all(person.working[begin : begin + length].all() for person in people)
        if at_work and _settled_by(problem, transports, begin + length) <= wanted:
            return True
    return False


def _window(schedule: Schedule, lag: TimeLag) -> Iterator[Violation]:
    before, after = schedule.tasks[lag.before], schedule.tasks[lag.after]
    window = lag.windows[before.mode]
    opens, closes, shut, until = (
        int(values[before.end]) for values in (window.opens, window.closes, window.closed_from, window.closed_until)
    )
    if after.begin < max(opens, before.end):
        yield Violation(Constraint.TOO_SOON, lag.after, lag.before)
    if after.end > closes:
        yield Violation(Constraint.TOO_LATE, lag.after, lag.before)
    if after.end > shut and after.begin < until:
        yield Violation(Constraint.CLOSED_ZONE, lag.after, lag.before)


def _people(schedule: Schedule) -> Iterator[Violation]:
    busy: dict[str, list[tuple[int, int, str]]] = {}
    people = {person.name: person for person in schedule.problem.people}
    for slot in schedule.tasks.values():
        task = schedule.problem.tasks[slot.task]
        able = [n for n in slot.people if n in people and task.kind in (people[n].kinds or {task.kind})]
        if len(set(able)) != task.people or len(slot.people) != task.people:
            yield Violation(Constraint.PEOPLE, slot.task)
        for name, begin, end in slot.attended:
            inside = begin >= 0 and end <= schedule.problem.horizon.count
            if name in people and not (inside and all(people[name].working[begin:end])):
                yield Violation(Constraint.WORKING_HOURS, slot.task, name)
            others = busy.setdefault(name, [])
            for since, until, other in others:
                if begin < until and since < end:
                    yield Violation(Constraint.ONE_THING, slot.task, other)
                    break
            others.append((begin, end, slot.task))


def _places(schedule: Schedule) -> Iterator[Violation]:
    """In every place: who works, what lies wet, what fouls the air."""
    for place in schedule.problem.places:
        working, wet, dusty = _in_place(schedule, place.name)
        if place.at_once is not None and (name := _too_much(working, place.at_once)):
            yield Violation(Constraint.BENCH, name, place.name)
        if place.wet_room is not None and (name := _too_much(wet, place.wet_room)):
            yield Violation(Constraint.WET_ROOM, name, place.name)
        pairs = {
            (lying.task, fouling.task)
            for lying in wet
            for fouling in dusty
            if lying.begin < fouling.end and fouling.begin < lying.end
        }
        for pair in sorted(pairs):
            yield Violation(Constraint.DUST, *pair)


@dataclass(frozen=True)
class Occupied:
    """What takes so much of a place, from minute to minute."""

    task: str
    begin: int
    end: int
    amount: int = 1


def _too_much(standing: list[Occupied], limit: int) -> str:
    """The task with whose coming there is more in a place than goes there; "" where that never is."""
    there: list[Occupied] = []
    for comes in sorted(standing, key=lambda s: s.begin):
        there = [other for other in there if other.end > comes.begin]
        if comes.end > comes.begin:
            there.append(comes)
        if sum(other.amount for other in there) > limit:
            return comes.task
    return ""


def _in_place(schedule: Schedule, place: str) -> tuple[list[Occupied], list[Occupied], list[Occupied]]:
    working, wet, dusty = [], [], []
    for slot in schedule.tasks.values():
        task = schedule.problem.tasks[slot.task]
        mode = task.modes[slot.mode]
        out = slot.carried_out
        here = mode.place == place
        if here:
            working.append(Occupied(slot.task, slot.begin, slot.end))
        if here and task.dust is not None:
            dusty.append(Occupied(slot.task, slot.begin, slot.end + task.dust))
        if task.wet and here:
            wet.append(Occupied(slot.task, slot.begin, slot.dry if out is None else out.begin, task.wet))
        if task.wet and out is not None and out.to == place and slot.dry > out.begin:
            wet.append(Occupied(slot.task, out.begin, slot.dry, task.wet))
    return working, wet, dusty


def _visits(schedule: Schedule) -> Iterator[Violation]:
    visits = {visit.name: visit for visit in schedule.problem.visits}
    blasting: dict[str, list[ScheduledTask]] = {}
    for slot in schedule.tasks.values():
        if not schedule.problem.tasks[slot.task].by_visit:
            continue
        visit = visits.get(slot.visit)
        if visit is None or slot.begin < visit.begin or slot.end > visit.end:
            yield Violation(Constraint.VISIT, slot.task, slot.visit)
        for other in blasting.setdefault(slot.visit, []):
            if slot.begin < other.end and other.begin < slot.end:
                yield Violation(Constraint.VISIT, slot.task, other.task)
                break
        blasting[slot.visit].append(slot)
