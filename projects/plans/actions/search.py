"""The search for a plan as a run needs it: better ones are told as they come, and it ends when somebody wants it to."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from finishing.science.scheduling.aims import earliest
from finishing.science.scheduling.board import Board, lay_out, part, settle
from finishing.science.scheduling.plan import Aim, Plan
from finishing.science.scheduling.problem import Problem
from finishing.science.scheduling.solve import Answer, solve
from finishing.science.scheduling.start import Insertion, first_plan, longest_first

from .checks import only

EFFORT = (
    0.3  # of the planner's own clock for a second that somebody is ready to wait: shuffling goes slower than it counts
)


@dataclass(frozen=True, eq=False)
class Found:
    """A plan, and for each aim its value, its bound, and whether that is proven (in the planner's own numbers)."""

    plan: Plan | None
    bounds: tuple[dict[str, Any], ...] = ()
    impossible: bool = False

    @property
    def proven(self) -> bool:
        return bool(self.bounds) and all(aim["proven"] for aim in self.bounds)


def quickly(problem: Problem, board: Board | None = None) -> Plan | None:
    """A plan by insertion; None where that finds none. board: the problem laid out, perhaps with more racks."""
    board = lay_out(problem) if board is None else part(board, problem)
    return first_plan(board) if all(board.choices[name] for name in problem.steps) else None


def fitting(problem: Problem, board: Board) -> tuple[Problem, Plan] | tuple[None, None]:
    """The racks that find their place one after the other, each beside those before it, and their plan."""
    insertion = Insertion(part(board, problem))
    fit = [chain for chain in longest_first(insertion.board) if insertion.put(chain)]
    if not fit:
        return None, None
    smaller = only(problem, fit)
    return smaller, settle(part(board, smaller), insertion.picks)


def solved(
    problem: Problem,
    aims: tuple[Aim, ...],
    seconds: float,
    seed: int = 0,
    report: Callable[[Plan], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Found:
    """The best that comes in so many seconds."""
    until = time.monotonic() + seconds

    def over() -> bool:
        return time.monotonic() > until or (stop is not None and stop())

    answer = solve(problem, aims, seed=seed, effort=EFFORT * seconds, report=report, stop=over)
    return Found(answer.plan, bounds_of(answer), answer.impossible)


def bounds_of(answer: Answer) -> tuple[dict[str, Any], ...]:
    if answer.plan is None:
        return ()
    values = answer.plan.values(answer.aims)
    return tuple(
        {"aim": str(aim), "value": value, "bound": bound, "proven": value == bound}
        for aim, value, bound in zip(answer.aims, values, answer.bounds, strict=True)
    )


def earliest_end(problem: Problem, board: Board) -> int:
    """Slot before which nothing can be done, people and room apart: what a finish is held against on the way."""
    return max(earliest(board, chain) for chain in problem.chains)
