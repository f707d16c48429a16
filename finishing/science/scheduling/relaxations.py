"""When no schedule is possible: the smallest set of rules that forbid one, found by leaving them out."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

import numpy as np

from .feasibility import Constraint
from .problem import NEVER, Mode, Problem, Task, TimeLag, TimeWindow
from .search import Stop

Relaxation = Callable[[Problem], Problem]


def irreducible_set(
    problem: Problem, relaxed: dict[Any, Relaxation], possible: Callable[[Problem], bool], over: Stop = lambda: False
) -> list[Any]:
    """The names of rules that must give way together for a schedule to be; one if one is enough, [] if all are not.

    Where it takes several, all are left out and taken back one after the other, as long as there is a schedule without
    the rest: of the set that is left none can be spared. With no time left the set so far is given.
    """
    for name, without in relaxed.items():
        if over():
            return []
        if possible(without(problem)):
            return [name]
    if over() or not possible(_without(problem, relaxed, relaxed)):
        return []
    needed = list(relaxed)
    for name in relaxed:
        rest = [other for other in needed if other != name]
        if not over() and possible(_without(problem, relaxed, rest)):
            needed = rest
    return needed


def _without(problem: Problem, relaxed: dict[Any, Relaxation], names: Iterable[Any]) -> Problem:
    for name in names:
        problem = relaxed[name](problem)
    return problem


def without_end(kind: str) -> Relaxation:
    """Windows of this kind of time lag never close again."""

    def relaxed(problem: Problem) -> Problem:
        time_lags = (replace(x, windows=tuple(TimeWindow(w.opens) for w in x.windows)) if x.kind == kind else x
                 for x in problem.time_lags)  # fmt: skip
        return replace(problem, time_lags=tuple(time_lags))

    return relaxed


def _steps(problem: Problem, change: Callable[[Task], Task]) -> Problem:
    chains = (replace(chain, tasks=tuple(map(change, chain.tasks))) for chain in problem.chains)
    return replace(problem, chains=tuple(chains))


def _options(problem: Problem, change: Callable[[Mode], Mode]) -> Problem:
    return _steps(problem, lambda task: replace(task, modes=tuple(map(change, task.modes))))


def _windows(problem: Problem, change: Callable[[TimeWindow], TimeWindow]) -> Problem:
    def changed(lag: TimeLag) -> TimeLag:
        return replace(lag, windows=tuple(map(change, lag.windows)))

    return replace(problem, time_lags=tuple(map(changed, problem.time_lags)))


def without_weather(problem: Problem) -> Problem:
    return _options(problem, lambda mode: replace(mode, may_start=np.ones_like(mode.may_start)))


def without_receipts(problem: Problem) -> Problem:
    return _steps(problem, lambda task: replace(task, not_before=0))


def without_opening(problem: Problem) -> Problem:
    return _windows(problem, lambda window: replace(window, opens=np.zeros_like(window.opens)))


def without_drying(problem: Problem) -> Problem:
    """Paint is dry as soon as it is on."""

    def dry(task: Task) -> Task:
        done = np.arange(problem.grid.count) + task.slots
        at_once: dict[str, Any] = {"dry": done, "carried": done}
        return replace(task, modes=tuple(
            replace(o, **{name: at for name, at in at_once.items() if getattr(o, name) is not None})
            for o in task.modes
        ))  # fmt: skip

    return without_opening(_steps(problem, dry))


def without_closing(problem: Problem) -> Problem:
    return _windows(problem, lambda window: replace(window, closes=NEVER))


def without_closed_zones(problem: Problem) -> Problem:
    return _windows(problem, lambda window: replace(window, closed_from=NEVER, closed_until=NEVER))


def with_long_days(problem: Problem) -> Problem:
    people = (replace(person, working=np.ones_like(person.working)) for person in problem.people)
    return replace(problem, people=tuple(people))


def with_more_hands(problem: Problem) -> Problem:
    """As many of each person as there are racks: nobody waits for another, and skills stay what they are."""
    copies = range(len(problem.chains))
    # a line break stands in nobody's name
    people = (replace(person, name=f"{person.name}\n{n}") for person in problem.people for n in copies)
    return replace(problem, people=(*problem.people, *people))


def with_wet_room(problem: Problem) -> Problem:
    return replace(problem, places=tuple(replace(place, wet_room=None) for place in problem.places))


def with_more_benches(problem: Problem) -> Problem:
    return replace(problem, places=tuple(replace(place, at_once=None) for place in problem.places))


def without_dust(problem: Problem) -> Problem:
    return _steps(problem, lambda task: replace(task, dust=None))


def without_visits(problem: Problem) -> Problem:
    return _steps(problem, lambda task: replace(task, by_visit=False))


def without_settling(problem: Problem) -> Problem:
    return replace(problem, transports=tuple(replace(transport, settles=0) for transport in problem.transports))


RELAXED: dict[Constraint, Relaxation] = {
    Constraint.WEATHER: without_weather,
    Constraint.RECEIPT: without_receipts,
    Constraint.TOO_SOON: without_opening,
    Constraint.TOO_LATE: without_closing,
    Constraint.CLOSED_ZONE: without_closed_zones,
    Constraint.WORKING_HOURS: with_long_days,
    Constraint.ONE_THING: with_more_hands,
    Constraint.WET_ROOM: with_wet_room,
    Constraint.BENCH: with_more_benches,
    Constraint.DUST: without_dust,
    Constraint.VISIT: without_visits,
    Constraint.SETTLED: without_settling,
}
