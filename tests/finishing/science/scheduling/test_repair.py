"""The smallest repair: what still holds stays to the minute, and the rest is put elsewhere."""

from dataclasses import replace

import numpy as np
import pytest

from finishing.science.scheduling.feasibility import check_feasibility
from finishing.science.scheduling.insertion import schedule_what_fits
from finishing.science.scheduling.repair import repaired
from finishing.science.scheduling.schedule import Aim
from finishing.science.scheduling.solve import solve
from tests.racks_in_the_yard import yard

RACKS = 4


@pytest.fixture(scope="module")
def problem():
    return yard(RACKS, day=91, people=2)


@pytest.fixture(scope="module")
def planned(problem):
    return solve(problem, (Aim.FINISH,), effort=0.5).schedule


def without(problem, task, begin, length=8 * 60):
    """The same where air lets this task not begin for some hours from a minute on."""

    def shut(mode):
        return replace(mode, may_start=mode.may_start & ~((minutes >= begin) & (minutes < begin + length)))

    minutes = np.arange(problem.horizon.count)
    chains = tuple(
        replace(chain, tasks=tuple(
            replace(each, modes=tuple(map(shut, each.modes))) if each.name == task else each for each in chain.tasks
        )) for chain in problem.chains
    )  # fmt: skip
    return replace(problem, chains=chains)


def test_what_holds_is_left_as_it_is(problem, planned):
    assert repaired(problem, planned.tasks).tasks == planned.tasks


@pytest.mark.parametrize("rack", range(1, RACKS + 1))
def test_only_what_comes_after_the_rain_of_one_rack_moves(problem, planned, rack):
    struck = f"rack {rack} coat 1"
    worse = without(problem, struck, planned.tasks[struck].begin)
    schedule = repaired(worse, planned.tasks)
    assert check_feasibility(schedule) == []
    moved = {name for name, done in schedule.tasks.items() if done.begin != planned.tasks[name].begin}
    assert struck in moved
    assert moved <= {task.name for chain in worse.chains if chain.name == f"rack {rack}" for task in chain.tasks}


def test_a_step_that_the_kept_plan_does_not_have_is_put_in(problem, planned):
    kept = {name: done for name, done in planned.tasks.items() if name != "rack 2 coat 2"}
    schedule = repaired(problem, kept)
    assert check_feasibility(schedule) == []
    assert all(schedule.tasks[name] == done for name, done in kept.items())


def test_racks_that_the_plan_never_had_stay_out_and_where_nothing_fits_there_is_none(problem, planned):
    three = {name: done for name, done in planned.tasks.items() if not name.startswith("rack 4")}
    assert {chain.name for chain in repaired(problem, three).problem.chains} == {"rack 1", "rack 2", "rack 3"}
    never = without(problem, "rack 1 coat 2", 0, problem.horizon.count)
    assert repaired(never, planned.tasks) is None
    assert repaired(problem, {}) is None
    assert schedule_what_fits(never) is not None  # another plan may do without it
