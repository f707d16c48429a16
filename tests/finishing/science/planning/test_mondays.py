"""The same racks planned from a Monday of the open year on: three here, all 52 in the benchmarks."""

import pytest

from finishing.science.planning.check import check
from finishing.science.planning.infeasible import forbidding_rules
from finishing.science.planning.plan import Aim
from finishing.science.planning.solve import solve

from ....racks_in_the_yard import yard


def planned_from(day):
    """Whether there is a plan, one that stands; where there is none, that is proven, and so is what would allow one."""
    problem = yard(racks=2, people=1, day=day)
    answer = solve(problem, (Aim.LATENESS, Aim.FINISH), effort=2.0)
    if answer.plan is not None:
        assert check(answer.plan) == []
        return True
    assert answer.impossible
    assert all(check(blocked.plan) == [] for blocked in forbidding_rules(problem, effort=0.5))
    return False


@pytest.mark.parametrize("day", [14, 91, 217])
def test_from_a_monday_of_the_year(day):
    planned_from(day)
