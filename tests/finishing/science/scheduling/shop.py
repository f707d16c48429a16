"""A small shop whose schedules can be worked out in the head: a yard, a shop, Ada and Ben, a frame and a wheel."""

from itertools import product

import numpy as np

from finishing.science.scheduling import relaxations
from finishing.science.scheduling.feasibility import Constraint, check_feasibility
from finishing.science.scheduling.problem import (
    Chain,
    Horizon,
    Mode,
    Person,
    Problem,
    Task,
    TimeLag,
    TimeWindow,
    Transport,
    Workplace,
)
from finishing.science.scheduling.schedule import Carry, Schedule, ScheduledTask

COUNT = 24
MINUTES = np.arange(COUNT)
DONE = np.arange(COUNT + 1)  # minutes of completion


def always():
    return np.ones(COUNT, bool)


def dry_after(minutes, work=1):
    """By completion, so many minutes after the start of work that takes `work` of them."""
    return np.minimum(DONE + minutes - work, COUNT + 1)


def window(opens=1, closes=None, shut=None, work=1):
    """Open so many minutes after the start of the work before it; closed likewise, and shut from … until."""
    begun = DONE - work
    later = {} if closes is None else {"closes": begun + closes}
    zone = {} if shut is None else {"closed_from": begun + shut[0], "closed_until": begun + shut[1]}
    return TimeWindow(begun + opens, **later, **zone)


def blast(name="frame", **more):
    modes = (Mode("yard", always()),)
    return Task(f"{name} blast", "blast", 2, **{"modes": modes, "dust": 1, **more})


def coat(name="frame", number=1, places=("shop",), dries=3, **more):
    modes = tuple(Mode(place, always(), dry_after(dries)) for place in places)
    return Task(f"{name} coat {number}", "coat", 1, **{"modes": modes, "wet": 100, **more})


def problem(*chains, time_lags=(), **more):
    usual = {
        "people": (Person("Ada", (MINUTES >= 1) & (MINUTES < 20)),),
        "places": (Workplace("yard"), Workplace("shop", wet_room=200)),
        "transports": (Transport("yard", "shop", 1),),
    }
    return Problem(Horizon(COUNT), chains, time_lags=time_lags, **{**usual, **more})


def frame(**more):
    """Blast the frame in the yard, carry it in, coat it within five minutes of the blast."""
    chain = Chain("frame", (blast(), coat()))
    return problem(
        chain, time_lags=(TimeLag("frame blast", "frame coat 1", (window(2, closes=7, work=2),), "rust"),), **more
    )


def good(wanted):
    """The frame's schedule, good unless something is asked that it does not keep."""
    carry = Carry("yard", "shop", 3, 4, ("Ada",))
    slots = (
        ScheduledTask("frame blast", 0, 1, 3, 3, ("Ada",)),
        ScheduledTask("frame coat 1", 0, 4, 5, 7, ("Ada",), carried_in=carry),
    )
    return Schedule(wanted, {slot.task: slot for slot in slots})


def rules_broken(schedule):
    return {broken.constraint for broken in check_feasibility(schedule)}


def every_plan(wanted):
    """All schedules, by trying every mode, start and moment to carry; what stands is check's to say.

    For one person, and no more than one needed.
    """
    names = list(wanted.tasks)
    ways = [list(_ways(wanted, wanted.tasks[name])) for name in names]
    for slots in product(*ways):
        schedule = Schedule(wanted, {slot.task: slot for slot in slots})
        if not check_feasibility(schedule):
            yield schedule


def _ways(wanted, task):
    who = tuple(person.name for person in wanted.people)[: task.people]
    visits = [visit.name for visit in wanted.visits] if task.by_visit else [""]
    for (number, mode), begin, visit in product(enumerate(task.modes), range(wanted.horizon.count), visits):
        end = begin + task.minutes
        if end > wanted.horizon.count:
            continue
        dry = end if mode.dry is None else int(mode.dry[end])
        if not mode.may_start[begin] or dry > wanted.horizon.count:
            continue
        transports = [transport for transport in wanted.transports if transport.to == mode.place]
        carries = [None, *(carry for transport in transports for carry in _carries(wanted, transport, begin))]
        for carry in carries:
            yield ScheduledTask(task.name, number, begin, end, dry, who, visit, carry)


def _carries(wanted, transport, begin):
    """Carrying in every minute from which the metal has settled when the work begins."""
    settles, working = np.broadcast_to(transport.settles, COUNT), wanted.people[0].working
    hours = [h for h in range(begin - transport.minutes + 1) if working[h : h + transport.minutes].all()]
    hours = [h for h in hours if h + transport.minutes + settles[h + transport.minutes] <= begin]
    who = tuple(person.name for person in wanted.people)[: transport.people]
    return [Carry(transport.origin, transport.to, h, h + transport.minutes, who) for h in hours]


def without_too_late(wanted):
    """No window closes, of bare iron or of a coat."""
    return relaxations.without_end("rust")(relaxations.without_end("recoat")(wanted))


RELAXED = {
    Constraint.WEATHER: relaxations.without_weather,
    Constraint.RECEIPT: relaxations.without_receipts,
    Constraint.TOO_SOON: relaxations.without_wait(),
    Constraint.TOO_LATE: without_too_late,
    Constraint.WORKING_HOURS: relaxations.with_long_days,
    Constraint.ONE_THING: relaxations.with_more_hands,
    Constraint.WET_ROOM: relaxations.with_wet_room,
    Constraint.DUST: relaxations.without_dust,
    Constraint.VISIT: relaxations.without_visits,
    Constraint.SETTLED: relaxations.without_settling,
}
