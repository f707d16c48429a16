"""The search for a plan as a run needs it: better ones are told as they come, and it ends when somebody wants it to."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from finishing.science.scheduling.insertion import first_schedule, schedule_what_fits
from finishing.science.scheduling.lower_bounds import earliest_finish
from finishing.science.scheduling.problem import Problem
from finishing.science.scheduling.schedule import Aim, Schedule
from finishing.science.scheduling.search import Result
from finishing.science.scheduling.search_space import SearchSpace, search_space, subspace
from finishing.science.scheduling.solve import solve_for


@dataclass(frozen=True, eq=False)
class Found:
    """A plan, and for each aim its value, its bound, and whether that is proven (in the planner's own numbers)."""

    plan: Schedule | None
    bounds: tuple[dict[str, Any], ...] = ()
    impossible: bool = False

    @property
    def proven(self) -> bool:
        return bool(self.bounds) and all(aim["proven"] for aim in self.bounds)


def quickly(problem: Problem, space: SearchSpace | None = None) -> Schedule | None:
    """A plan by insertion; None where that finds none. space: the problem laid out, perhaps with more racks."""
    return first_schedule(search_space(problem) if space is None else subspace(space, problem))


def fitting(problem: Problem, space: SearchSpace) -> tuple[Problem, Schedule] | tuple[None, None]:
    """The racks that find their place one after the other, each beside those before it, and their plan."""
    schedule = schedule_what_fits(subspace(space, problem))
    return (None, None) if schedule is None else (schedule.problem, schedule)


def solved(
    problem: Problem,
    aims: tuple[Aim, ...],
    seconds: float,
    seed: int = 0,
    report: Callable[[Schedule], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Found:
    """The best that comes in so many seconds."""
    answer = solve_for(seconds, problem, aims, seed=seed, report=report, stop=stop)
    return Found(answer.schedule, bounds_of(answer), answer.impossible)


def bounds_of(answer: Result) -> tuple[dict[str, Any], ...]:
    if answer.schedule is None:
        return ()
    values = answer.schedule.values(answer.aims)
    return tuple(
        {"aim": str(aim), "value": value, "bound": bound, "proven": value == bound}
        for aim, value, bound in zip(answer.aims, values, answer.bounds, strict=True)
    )


def earliest_end(problem: Problem, space: SearchSpace) -> int:
    """Slot before which nothing can be done, people and room apart: what a finish is held against on the way."""
    return earliest_finish(subspace(space, problem))
