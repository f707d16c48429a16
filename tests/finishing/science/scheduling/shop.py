"""A small shop whose plans can be worked out in the head: a yard, a shop, Ada and Ben, a frame and a wheel."""

from itertools import product

import numpy as np

from finishing.science.scheduling.check import check
from finishing.science.scheduling.plan import Carry, Plan, Slot
from finishing.science.scheduling.problem import Chain, Grid, Link, Move, Option, Person, Place, Problem, Step, Window

COUNT = 24
HOURS = np.arange(COUNT)


def always():
    return np.ones(COUNT, bool)


def dry_after(hours):
    return np.minimum(HOURS + hours, COUNT + 1)


def window(opens=1, closes=None, shut=None):
    """Open so many hours after the start before it; closed likewise, and shut from … until."""
    later = {} if closes is None else {"closes": HOURS + closes}
    zone = {} if shut is None else {"closed_from": HOURS + shut[0], "closed_until": HOURS + shut[1]}
    return Window(HOURS + opens, **later, **zone)


def blast(name="frame", **more):
    options = (Option("yard", always()),)
    return Step(f"{name} blast", "blast", 2, **{"options": options, "dust": 1, **more})


def coat(name="frame", number=1, places=("shop",), dries=3, **more):
    options = tuple(Option(place, always(), dry_after(dries)) for place in places)
    return Step(f"{name} coat {number}", "coat", 1, **{"options": options, "wet": 100, **more})


def problem(*chains, links=(), **more):
    usual = {
        "people": (Person("Ada", (HOURS >= 1) & (HOURS < 20)),),
        "places": (Place("yard"), Place("shop", wet_room=200)),
        "moves": (Move("yard", "shop", 1),),
    }
    return Problem(Grid(60, COUNT), chains, links=links, **{**usual, **more})


def frame(**more):
    """Blast the frame in the yard, carry it in, coat it within five hours of the blast."""
    chain = Chain("frame", (blast(), coat()))
    return problem(chain, links=(Link("frame blast", "frame coat 1", (window(2, closes=7),), "rust"),), **more)


def good(wanted):
    """The frame's plan, good unless something is asked that it does not keep."""
    carry = Carry("yard", "shop", 3, 4, ("Ada",))
    slots = (
        Slot("frame blast", 0, 1, 3, 3, ("Ada",)),
        Slot("frame coat 1", 0, 4, 5, 7, ("Ada",), carried_in=carry),
    )
    return Plan(wanted, {slot.step: slot for slot in slots})


def rules_broken(plan):
    return {broken.rule for broken in check(plan)}


def every_plan(wanted):
    """All plans, by trying every option, start and moment to carry; what stands is check's to say.

    For one person, and no more than one needed.
    """
    names = list(wanted.steps)
    ways = [list(_ways(wanted, wanted.steps[name])) for name in names]
    for slots in product(*ways):
        plan = Plan(wanted, {slot.step: slot for slot in slots})
        if not check(plan):
            yield plan


def _ways(wanted, step):
    who = tuple(person.name for person in wanted.people)[: step.people]
    visits = [visit.name for visit in wanted.visits] if step.by_visit else [""]
    for (number, option), begin, visit in product(enumerate(step.options), range(wanted.grid.count), visits):
        end = begin + step.slots
        dry = end if option.dry is None else int(option.dry[begin])
        if not option.may_start[begin] or max(end, dry) > wanted.grid.count:
            continue
        moves = [move for move in wanted.moves if move.to == option.place]
        carries = [None, *(carry for move in moves for carry in _carries(wanted, move, begin))]
        for carry in carries:
            yield Slot(step.name, number, begin, end, dry, who, visit, carry)


def _carries(wanted, move, begin):
    """Carrying in every hour from which the metal has settled when the work begins."""
    settles, working = np.broadcast_to(move.settles, COUNT), wanted.people[0].working
    hours = [h for h in range(begin - move.slots + 1) if working[h : h + move.slots].all()]
    hours = [h for h in hours if h + move.slots + settles[h + move.slots] <= begin]
    who = tuple(person.name for person in wanted.people)[: move.people]
    return [Carry(move.origin, move.to, h, h + move.slots, who) for h in hours]
