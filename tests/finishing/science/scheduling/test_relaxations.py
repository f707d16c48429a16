"""No schedule: which rule forbids it, and what would allow one."""

from dataclasses import replace

from finishing.science.scheduling.feasibility import Constraint, check_feasibility
from finishing.science.scheduling.problem import Chain, Mode, Person, TimeLag
from finishing.science.scheduling.relaxations import irreducible_set
from finishing.science.scheduling.solve import solve

from .shop import MINUTES, RELAXED, always, blast, coat, problem, window


def rusts_too_soon():
    """Ada leaves at 3, right after blasting, and is back at 12; bare iron keeps until 7."""
    rust = TimeLag("frame blast", "frame coat 1", (window(2, closes=7, work=2),), "rust")
    ada = Person("Ada", (MINUTES < 3) | (MINUTES == 12) | (MINUTES == 13))
    return problem(Chain("frame", (blast(), coat())), time_lags=(rust,), people=(ada,))


def test_the_rules_that_forbid_it_are_found_by_leaving_each_out():
    schedules = {constraint: solve(without(rusts_too_soon())).schedule for constraint, without in RELAXED.items()}
    assert {constraint for constraint, schedule in schedules.items() if schedule} == {
        Constraint.TOO_LATE,
        Constraint.WORKING_HOURS,
    }
    assert all(check_feasibility(schedule) == [] for schedule in schedules.values() if schedule)


def test_every_change_is_tried_by_the_solver():
    wanted = rusts_too_soon()
    longer = solve(replace(wanted, people=(Person("Ada", MINUTES < 5),)))
    assert longer.schedule.finish == 6  # blast 0–2, carry 2–3, coat 3–4, dry two minutes later
    assert solve(replace(wanted, people=(Person("Ada", MINUTES == 12),))).schedule is None


def test_without_the_rack_that_cannot_be_planned_the_others_are():
    never = Mode("shop", MINUTES < 0)
    wanted = problem(Chain("frame", (coat(),)), Chain("wheel", (coat("wheel", modes=(never,)),)))
    assert not possible(wanted.restricted_to(wanted.chains[1:]))
    assert solve(wanted.restricted_to(wanted.chains[:1])).schedule.finish == 4


def test_a_rule_left_out_leaves_a_plan_that_was_possible_possible():
    time_lags = (TimeLag("frame blast", "frame coat 1", (window(2, closes=9, shut=(5, 6), work=2),), "rust"),)
    wanted = problem(Chain("frame", (blast(), coat())), time_lags=time_lags, people=(Person("Ada", always()),))
    best = solve(wanted).schedule.values()
    assert all(solve(without(wanted)).schedule.values()[:2] <= best[:2] for without in RELAXED.values())


def possible(wanted):
    return solve(wanted).schedule is not None


def test_one_rule_that_alone_forbids_it_is_told_alone():
    assert irreducible_set(rusts_too_soon(), RELAXED, possible) == [Constraint.TOO_LATE]


def test_of_rules_that_forbid_it_together_none_of_those_told_can_be_spared():
    """No minute allows the coat; and were one found, Ada is away until the iron has rusted."""
    wanted = rusts_too_soon()
    never = Mode("shop", MINUTES < 0)
    wanted = replace(wanted, chains=(Chain("frame", (blast(), coat(modes=(never,)))),))
    found = irreducible_set(wanted, RELAXED, possible)
    assert found == [Constraint.WEATHER, Constraint.WORKING_HOURS]
    assert possible(RELAXED[found[0]](RELAXED[found[1]](wanted)))
    assert not any(possible(RELAXED[constraint](wanted)) for constraint in found)


def test_with_no_time_left_no_rule_is_blamed():
    assert irreducible_set(rusts_too_soon(), RELAXED, possible, lambda: True) == []


def test_more_hands_are_told_apart_whatever_people_are_called():
    wanted = replace(rusts_too_soon(), people=tuple(Person(name, always()) for name in ("Ada", "Ada 0")))
    assert len(RELAXED[Constraint.ONE_THING](wanted).people) == 4
