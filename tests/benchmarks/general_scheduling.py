"""The racks in the yard as a general-purpose scheduling library over the same solver takes them, as far as it can.

PyJobShop knows people, machines with hours in which they stand still, modes, and waits of a fixed length. It cannot say
that drying, rust and settling depend on the minute in which work is done, nor how long wet area is taken. So each wait
is the shortest that any minute gives, each deadline the longest, carrying after the first coat, settling and wet room
are left out: a relaxation, whose plans mostly do not stand, and which is easier than what is planned beside it.
"""

from dataclasses import dataclass

import numpy as np
from pyjobshop import Model

from finishing.science.scheduling.problem import NEVER, Task, runs

CARRYING = 15  # minutes from where it was masked to the yard, and from there to where it is primed


@dataclass(frozen=True)
class Found:
    """Finish and bound in minutes; None where no plan was found."""

    finish: int | None
    bound: int


def breaks(free):
    """Where it is not, from minute to minute."""
    begins, ends = runs(~np.asarray(free, bool))
    return list(zip(begins, ends, strict=True))


def by_pyjobshop(problem, seconds):
    """Its best plan in so many seconds, with one worker."""
    model, count = Model(), problem.horizon.count
    people = model.add_renewable(len(problem.people), breaks(problem.people[0].working))
    visited = np.zeros(count, bool)
    for visit in problem.visits:
        visited[visit.begin : visit.end] = True
    blaster = model.add_machine(breaks(visited))
    rows = {}
    for chain in problem.chains:
        before = None
        for task in chain.tasks:
            row = rows[task.name] = model.add_task(name=task.name)
            for mode in task.modes:
                weather = model.add_machine(breaks(_worked(task, mode)))
                hands = blaster if task.by_visit else people
                model.add_mode(row, [hands, weather], task.minutes, [0 if task.by_visit else task.people, 0])
            if before is not None and task.kind in ("blast", "prime"):
                carried = model.add_task()
                model.add_mode(carried, [people], CARRYING, [1])
                model.add_end_before_start(before, carried)
                model.add_end_before_start(carried, row)
            elif before is not None:
                model.add_end_before_start(before, row)
            before = row
        dried = model.add_task()
        model.add_mode(dried, [model.add_machine()], _least(mode.dry for mode in task.modes))
        model.add_end_before_start(before, dried)
    for lag in problem.time_lags:
        first, then = rows[lag.before], rows[lag.after]
        model.add_end_before_start(first, then, _least(window.opens for window in lag.windows))
        longest = max(_most(window.closes) for window in lag.windows)
        if longest < count:
            model.add_end_before_end(then, first, -longest)
    model.set_objective(weight_makespan=1)
    result = model.solve(time_limit=seconds, display=False, num_workers=1)
    found = result.objective if np.isfinite(result.objective) else None
    return Found(None if found is None else int(found), int(max(0, result.lower_bound)))


def _worked(task: Task, mode):
    """In which minutes it may be worked on: those that follow a start that is allowed."""
    edges = np.zeros(len(mode.may_start) + 1, int)
    at = np.flatnonzero(mode.may_start)
    np.add.at(edges, at, 1)
    np.add.at(edges, np.minimum(at + task.minutes, len(mode.may_start)), -1)
    return np.cumsum(edges)[:-1] > 0


def _least(follows):
    """The shortest that anything takes to follow, whenever the work is done."""
    arrays = [np.asarray(values) for values in follows]
    return int(min((values - np.arange(len(values)))[values < NEVER].min() for values in arrays))


def _most(follows):
    waits = np.asarray(follows) - np.arange(len(follows))
    return int(waits.max())
