"""Reads a finished plan and names every rule that it breaks. Plain loops, and nothing in common with rules.py."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import numpy as np

from .plan import Carry, Plan, Slot
from .problem import Chain, Link, Option, Problem, Step


class Rule(StrEnum):
    """What a plan must keep; the value is what a page says first."""

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
class Broken:
    """A rule that a slot breaks; `other` is the step, person or place that it meets there."""

    rule: Rule
    step: str
    other: str = ""

    def __str__(self) -> str:
        return f"{self.step}: {self.rule}" + (f" ({self.other})" if self.other else "")


def check(plan: Plan) -> list[Broken]:
    """Every broken rule with the step concerned; an empty list for a plan that stands."""
    problem = plan.problem
    missing = [Broken(Rule.PLANNED, name) for name in problem.steps if name not in plan.slots]
    missing += [Broken(Rule.PLANNED, name) for name in plan.slots if name not in problem.steps]
    if missing:
        return missing
    broken = [Broken(Rule.LENGTH, name) for name, slot in plan.slots.items() if not _within(problem, slot)]
    if broken:
        return broken
    for chain in problem.chains:
        for step in chain.steps:
            broken += _alone(problem, chain.name, step, plan.slots[step.name])
        broken += _along(plan, chain)
    for link in problem.links:
        broken += _window(plan, link)
    return broken + [*_people(plan), *_places(plan), *_visits(plan)]


def _within(problem: Problem, slot: Slot) -> bool:
    """Whether there is such an option and such an hour at all."""
    options = problem.steps[slot.step].options
    return 0 <= slot.option < len(options) and 0 <= slot.begin < problem.grid.count


def _alone(problem: Problem, rack: str, step: Step, slot: Slot) -> Iterator[Broken]:
    option = step.options[slot.option]
    dry = slot.begin + step.slots if option.dry is None else int(option.dry[slot.begin])
    if slot.end != slot.begin + step.slots or slot.dry != dry or max(slot.end, slot.dry) > problem.grid.count:
        yield Broken(Rule.LENGTH, step.name)
    if step.fixed is not None and slot.begin != step.fixed:
        yield Broken(Rule.FIXED, step.name)
    if not option.may_start[slot.begin]:
        yield Broken(Rule.WEATHER, step.name, option.place)
    if min([slot.begin, *([slot.carried_in.begin] if slot.carried_in else [])]) < step.not_before:
        yield Broken(Rule.RECEIPT, step.name)
    yield from _wheeled(problem, rack, step, option, slot)


def _wheeled(problem: Problem, rack: str, step: Step, option: Option, slot: Slot) -> Iterator[Broken]:
    """A step that dries elsewhere is carried there when its option says."""
    out = slot.carried_out
    if option.carried is None:
        if out is not None:
            yield Broken(Rule.CARRIED, step.name, out.to)
        return
    route = (option.place, option.stands_in, int(option.carried[slot.begin]))
    if out is None or (out.origin, out.to, out.begin) != route or not _moves(problem, rack, out):
        yield Broken(Rule.CARRIED, step.name, option.stands_in)


def _moves(problem: Problem, rack: str, carry: Carry) -> list[Any]:
    """The ways of carrying this rack that this one may be."""
    found = []
    for move in problem.moves:
        if move.rack not in ("", rack):
            continue
        same = (move.origin, move.to, move.slots) == (carry.origin, carry.to, carry.end - carry.begin)
        if same and move.people == len(set(carry.people)) == len(carry.people):
            found.append(move)
    return found


def _settled_by(problem: Problem, rack: str, carry: Carry) -> int:
    latest = problem.grid.count
    for move in _moves(problem, rack, carry):
        settles = np.broadcast_to(move.settles, problem.grid.count)
        waits = int(settles[min(carry.end, problem.grid.count - 1)])
        latest = min(latest, carry.end + waits)
    return latest


def _along(plan: Plan, chain: Chain) -> Iterator[Broken]:
    """The steps of a rack in their order, and the rack carried to where each is done."""
    stands, before = chain.stands_in, None
    for step in chain.steps:
        slot = plan.slots[step.name]
        option = step.options[slot.option]
        if before is not None:
            yield from _after(plan, chain.name, before, slot)
        yield from _brought(plan, chain.name, before, slot, stands, option.place)
        stands, before = option.stands_in or option.place, slot


def _after(plan: Plan, rack: str, before: Slot, slot: Slot) -> Iterator[Broken]:
    linked = any((link.before, link.after) == (before.step, slot.step) for link in plan.problem.links)
    if slot.begin < before.end or (slot.begin < before.dry and not linked):
        yield Broken(Rule.ORDER, slot.step, before.step)
    out = before.carried_out
    if out is not None and slot.begin < _settled_by(plan.problem, rack, out):
        yield Broken(Rule.SETTLED, slot.step, out.to)


def _brought(plan: Plan, rack: str, before: Slot | None, slot: Slot, stands: str, place: str) -> Iterator[Broken]:
    carry = slot.carried_in
    if carry is None:
        if stands not in ("", place):
            yield Broken(Rule.CARRIED, slot.step, place)
        return
    if (carry.origin, carry.to) != (stands, place) or carry.begin < 0 or not _moves(plan.problem, rack, carry):
        yield Broken(Rule.CARRIED, slot.step, place)
    if before is not None and carry.begin < before.dry:
        yield Broken(Rule.HANDLED, slot.step, before.step)
    if slot.begin < _settled_by(plan.problem, rack, carry):
        yield Broken(Rule.SETTLED, slot.step, place)
    if not plan.problem.steps[slot.step].early and _could_go_later(plan.problem, rack, carry, slot.begin):
        yield Broken(Rule.STAYS, slot.step, place)


def _could_go_later(problem: Problem, rack: str, carry: Carry, wanted: int) -> bool:
    """Whether the same people could carry it in a later hour, from which its metal settles by then."""
    people = [person for person in problem.people if person.name in carry.people]
    for begin in range(carry.begin + 1, wanted):
        later = replace(carry, begin=begin, end=begin + carry.end - carry.begin)
        at_work = all(person.working[begin : later.end].all() for person in people)
        if at_work and _settled_by(problem, rack, later) <= wanted:
            return True
    return False


def _window(plan: Plan, link: Link) -> Iterator[Broken]:
    before, after = plan.slots[link.before], plan.slots[link.after]
    window = link.windows[before.option]
    opens, closes, shut, until = (
        int(values[before.begin]) for values in (window.opens, window.closes, window.closed_from, window.closed_until)
    )
    if after.begin < max(opens, before.end):
        yield Broken(Rule.TOO_SOON, link.after, link.before)
    if after.end > closes:
        yield Broken(Rule.TOO_LATE, link.after, link.before)
    if after.end > shut and after.begin < until:
        yield Broken(Rule.CLOSED_ZONE, link.after, link.before)


def _people(plan: Plan) -> Iterator[Broken]:
    busy: dict[tuple[str, int], str] = {}
    people = {person.name: person for person in plan.problem.people}
    for slot in plan.slots.values():
        step = plan.problem.steps[slot.step]
        able = [n for n in slot.people if n in people and step.kind in (people[n].kinds or {step.kind})]
        if len(set(able)) != step.people or len(slot.people) != step.people:
            yield Broken(Rule.PEOPLE, slot.step)
        for name, begin, end in slot.attended:
            hours = range(begin, end)
            if any(
                not 0 <= h < plan.problem.grid.count or not people[name].working[h] for h in hours if name in people
            ):
                yield Broken(Rule.WORKING_HOURS, slot.step, name)
            if any((name, h) in busy for h in hours):
                yield Broken(Rule.ONE_THING, slot.step, next(busy[name, h] for h in hours if (name, h) in busy))
            busy.update(((name, h), slot.step) for h in hours)


def _places(plan: Plan) -> Iterator[Broken]:
    """Walks through every place slot by slot: who works, what lies wet, what fouls the air."""
    for place in plan.problem.places:
        working, wet, dusty = _in_place(plan, place.name)
        for names in working.values():
            if place.at_once is not None and len(names) > place.at_once:
                yield Broken(Rule.BENCH, names[-1], place.name)
                break
        for names in wet.values():
            lies = sum(plan.problem.steps[name].wet for name in names)
            if place.wet_room is not None and lies > place.wet_room:
                yield Broken(Rule.WET_ROOM, names[-1], place.name)
                break
        for pair in sorted({(name, other) for h, names in wet.items() for name in names for other in dusty.get(h, ())}):
            yield Broken(Rule.DUST, *pair)


Standing = dict[int, list[str]]


def _in_place(plan: Plan, place: str) -> tuple[Standing, Standing, Standing]:
    working: Standing = {}
    wet: Standing = {}
    dusty: Standing = {}
    for slot in plan.slots.values():
        step = plan.problem.steps[slot.step]
        option = step.options[slot.option]
        out = slot.carried_out
        here = option.place == place
        if here:
            _note(working, slot.step, slot.begin, slot.end)
        if here and step.dust is not None:
            _note(dusty, slot.step, slot.begin, slot.end + step.dust)
        if step.wet and here:
            _note(wet, slot.step, slot.begin, slot.dry if out is None else out.begin)
        if step.wet and out is not None and out.to == place:
            _note(wet, slot.step, out.begin, slot.dry)
    return working, wet, dusty


def _note(standing: Standing, name: str, begin: int, end: int) -> None:
    for hour in range(begin, end):
        standing.setdefault(hour, []).append(name)


def _visits(plan: Plan) -> Iterator[Broken]:
    visits = {visit.name: visit for visit in plan.problem.visits}
    blasting: dict[tuple[str, int], str] = {}
    for slot in plan.slots.values():
        if not plan.problem.steps[slot.step].by_visit:
            continue
        visit = visits.get(slot.visit)
        if visit is None or slot.begin < visit.begin or slot.end > visit.end:
            yield Broken(Rule.VISIT, slot.step, slot.visit)
        for hour in range(slot.begin, slot.end):
            if (slot.visit, hour) in blasting:
                yield Broken(Rule.VISIT, slot.step, blasting[slot.visit, hour])
                break
            blasting[slot.visit, hour] = slot.step
