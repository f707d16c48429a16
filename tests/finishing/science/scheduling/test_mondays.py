"""The same racks planned from a Monday of the open year on: three here, all 52 in the benchmarks."""

from dataclasses import replace

import numpy as np
import pytest

from finishing.science.scheduling.feasibility import check_feasibility
from finishing.science.scheduling.relaxations import irreducible_set
from finishing.science.scheduling.schedule import Aim
from finishing.science.scheduling.solve import solve
from tests.racks_in_the_yard import yard

from .shop import RELAXED


def planned_from(day):
    """Whether there is a schedule that stands; where there is none, that is proven, and so is what would allow one."""
    problem = yard(racks=2, people=1, day=day)
    result = solve(problem, (Aim.LATENESS, Aim.FINISH), effort=2.0)
    if result.schedule is not None:
        assert check_feasibility(result.schedule) == []
        return True
    assert result.impossible
    confirm_what_would_allow_one(problem)
    return False


def confirm_what_would_allow_one(problem):
    """The rules that are named, left out together, let a schedule be that stands; put back one at a time, none is."""
    named = irreducible_set(problem, RELAXED, planned)
    assert named
    for kept in (None, *named):
        relaxed = problem
        for constraint in named:
            relaxed = relaxed if constraint == kept else RELAXED[constraint](relaxed)
        schedule = planned(relaxed)
        assert (schedule is None) == (kept is not None)
        assert schedule is None or check_feasibility(schedule) == []


def planned(problem):
    return solve(problem, (Aim.LATENESS,), effort=0.5).schedule


@pytest.mark.parametrize("day", [14, 91, 217])
def test_from_a_monday_of_the_year(day):
    planned_from(day)


def test_a_no_is_confirmed_by_what_it_names():
    """Nobody is at work, and no air will do: it takes both to be otherwise."""
    problem = yard(racks=1, people=1, day=14)
    idle = (replace(problem.people[0], working=np.zeros(problem.horizon.count, bool)),)
    shut = replace(problem, chains=(replace(problem.chains[0], tasks=tuple(map(never, problem.chains[0].tasks))),))
    confirm_what_would_allow_one(replace(shut, people=idle))


def never(task):
    modes = (replace(o, may_start=np.zeros_like(o.may_start)) for o in task.modes)
    return replace(task, modes=tuple(modes))
