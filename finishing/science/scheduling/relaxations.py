"""When no schedule is possible: the smallest set of rules that forbid one, found by leaving them out."""

from collections.abc import Callable, Hashable, Iterable
from dataclasses import replace
from functools import reduce
from typing import TypeVar

import numpy as np

from finishing.science.windows import Reason

from .problem import Mode, Problem, Task, TimeWindow

Stop = Callable[[], bool]
Relaxation = Callable[[Problem], Problem]
Name = TypeVar("Name", bound=Hashable)

WEATHER = ~(Reason.RUST_BUDGET_SPENT | Reason.TOO_SOON | Reason.CLOSED_ZONE | Reason.TOO_LATE)


def irreducible_set(
    problem: Problem, relaxed: dict[Name, Relaxation], possible: Callable[[Problem], bool], over: Stop = lambda: False
) -> list[Name]:
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


def _without(problem: Problem, relaxed: dict[Name, Relaxation], names: Iterable[Name]) -> Problem:
    for name in names:
        problem = relaxed[name](problem)
    return problem


def without_end(kind: str) -> Relaxation:
    """Windows of this kind of time lag never close again, nor for a while."""
    return lambda problem: _each_window(problem, lambda window: TimeWindow(window.opens), kind)


def without_wait(kind: str = "") -> Relaxation:
    """Nothing is waited for by this kind of time lag, or by any."""
    return lambda problem: _each_window(
        problem, lambda window: replace(window, opens=np.zeros_like(window.opens)), kind
    )


def all_of(*those: Relaxation) -> Relaxation:
    """One after the other."""
    return lambda problem: reduce(lambda relaxed, relaxation: relaxation(relaxed), those, problem)


def _each_window(problem: Problem, change: Callable[[TimeWindow], TimeWindow], kind: str = "") -> Problem:
    """With the windows of this kind of time lag changed, or of any kind."""
    lags = (
        replace(lag, windows=tuple(map(change, lag.windows))) if kind in ("", lag.kind) else lag
        for lag in problem.time_lags
    )
    return replace(problem, time_lags=tuple(lags))


def _each_task(problem: Problem, change: Callable[[Task], Task]) -> Problem:
    chains = (replace(chain, tasks=tuple(map(change, chain.tasks))) for chain in problem.chains)
    return replace(problem, chains=tuple(chains))


def _each_mode(problem: Problem, change: Callable[[Mode], Mode]) -> Problem:
    return _each_task(problem, lambda task: replace(task, modes=tuple(map(change, task.modes))))


def without_reasons(reasons: Reason) -> Relaxation:
    """These reasons refuse no start any more, where it is known what refuses one."""

    def opened(mode: Mode) -> Mode:
        if mode.refused is None:
            return mode
        left = mode.refused & np.uint16(~reasons)
        return replace(mode, refused=left, may_start=mode.may_start | ((mode.refused != 0) & (left == 0)))

    return lambda problem: _each_mode(problem, opened)


def without_weather(problem: Problem) -> Problem:
    """Air and metal refuse nothing; where it is not known what refuses a start, nothing does."""

    def any_time(mode: Mode) -> Mode:
        return mode if mode.refused is not None else replace(mode, may_start=np.ones_like(mode.may_start))

    return _each_mode(without_reasons(WEATHER)(problem), any_time)


def without_receipts(problem: Problem) -> Problem:
    return _each_task(problem, lambda task: replace(task, not_before=0))


def without_drying(problem: Problem) -> Problem:
    """Paint may be handled as soon as it is on."""

    done = np.arange(problem.horizon.count + 1)

    def dry(task: Task) -> Task:
        modes = (
            replace(
                mode,
                dry=None if mode.dry is None else done,
                carried=None if mode.carried is None else done,
            )
            for mode in task.modes
        )
        return replace(task, modes=tuple(modes))

    return _each_task(problem, dry)


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


def without_dust(problem: Problem) -> Problem:
    return _each_task(problem, lambda task: replace(task, dust=None))


def without_visits(problem: Problem) -> Problem:
    return _each_task(problem, lambda task: replace(task, by_visit=False))


def without_settling(problem: Problem) -> Problem:
    return replace(problem, transports=tuple(replace(transport, settles=0) for transport in problem.transports))
