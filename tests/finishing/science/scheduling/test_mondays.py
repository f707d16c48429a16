"""The same racks planned from a Monday of the open year on: three here, all 52 in the benchmarks."""

from dataclasses import replace

import numpy as np
import pytest

from finishing.science.scheduling.check import check
from finishing.science.scheduling.infeasible import RELAXED, smallest_set
from finishing.science.scheduling.plan import Aim
from finishing.science.scheduling.solve import solve
from tests.racks_in_the_yard import yard


def planned_from(day):
    """Whether there is a plan, one that stands; where there is none, that is proven, and so is what would allow one."""
    problem = yard(racks=2, people=1, day=day)
    answer = solve(problem, (Aim.LATENESS, Aim.FINISH), effort=2.0)
    if answer.plan is not None:
        assert check(answer.plan) == []
        return True
    assert answer.impossible
    confirm_what_would_allow_one(problem)
    return False


def confirm_what_would_allow_one(problem):
    """The rules that are named, left out together, let a plan be that stands; put back one at a time, none is."""
    named = smallest_set(problem, RELAXED, planned)
    assert named
    for kept in (None, *named):
        relaxed = problem
        for rule in named:
            relaxed = relaxed if rule == kept else RELAXED[rule](relaxed)
        plan = planned(relaxed)
        assert (plan is None) == (kept is not None)
        assert plan is None or check(plan) == []


def planned(problem):
    return solve(problem, (Aim.LATENESS,), effort=0.5).plan


@pytest.mark.parametrize("day", [14, 91, 217])
def test_from_a_monday_of_the_year(day):
    planned_from(day)


def test_a_no_is_confirmed_by_what_it_names():
    """Nobody is at work, and no air will do: it takes both to be otherwise."""
    problem = yard(racks=1, people=1, day=14)
    idle = (replace(problem.people[0], working=np.zeros(problem.grid.count, bool)),)
    shut = replace(problem, chains=(replace(problem.chains[0], steps=tuple(map(never, problem.chains[0].steps))),))
    confirm_what_would_allow_one(replace(shut, people=idle))


def never(step):
    options = (replace(o, may_start=np.zeros_like(o.may_start)) for o in step.options)
    return replace(step, options=tuple(options))
