"""No plan: which rule forbids it, and what would allow one."""

from dataclasses import replace

from finishing.science.scheduling.check import Rule, check
from finishing.science.scheduling.infeasible import RELAXED, only, smallest_set
from finishing.science.scheduling.problem import Chain, Link, Option, Person
from finishing.science.scheduling.solve import solve

from .shop import HOURS, always, blast, coat, problem, window


def rusts_too_soon():
    """Ada leaves at 3, right after blasting, and is back at 12; bare iron keeps until 7."""
    rust = Link("frame blast", "frame coat 1", (window(2, closes=7),), "rust")
    ada = Person("Ada", (HOURS < 3) | (HOURS == 12) | (HOURS == 13))
    return problem(Chain("frame", (blast(), coat())), links=(rust,), people=(ada,))


def test_the_rules_that_forbid_it_are_found_by_leaving_each_out():
    plans = {rule: solve(without(rusts_too_soon())).plan for rule, without in RELAXED.items()}
    assert {rule for rule, plan in plans.items() if plan} == {Rule.TOO_LATE, Rule.WORKING_HOURS}
    assert all(check(plan) == [] for plan in plans.values() if plan)


def test_every_change_is_tried_by_the_solver():
    wanted = rusts_too_soon()
    longer = solve(replace(wanted, people=(Person("Ada", HOURS < 5),)))
    assert longer.plan.finish == 6  # blast 0–2, carry 2–3, coat 3–4, dry two hours later
    assert solve(replace(wanted, people=(Person("Ada", HOURS == 12),))).plan is None


def test_without_the_rack_that_cannot_be_planned_the_others_are():
    never = Option("shop", HOURS < 0)
    wanted = problem(Chain("frame", (coat(),)), Chain("wheel", (coat("wheel", options=(never,)),)))
    assert not possible(only(wanted, ["wheel"]))
    assert solve(only(wanted, ["frame"])).plan.finish == 4


def test_a_rule_left_out_leaves_a_plan_that_was_possible_possible():
    links = (Link("frame blast", "frame coat 1", (window(2, closes=9, shut=(5, 6)),), "rust"),)
    wanted = problem(Chain("frame", (blast(), coat())), links=links, people=(Person("Ada", always()),))
    best = solve(wanted).plan.values()
    assert all(solve(without(wanted)).plan.values()[:2] <= best[:2] for without in RELAXED.values())


def possible(wanted):
    return solve(wanted).plan is not None


def test_one_rule_that_alone_forbids_it_is_told_alone():
    assert smallest_set(rusts_too_soon(), RELAXED, possible) == [Rule.TOO_LATE]


def test_of_rules_that_forbid_it_together_none_of_those_told_can_be_spared():
    """No hour allows the coat; and were one found, Ada is away until the iron has rusted."""
    wanted = rusts_too_soon()
    never = Option("shop", HOURS < 0)
    wanted = replace(wanted, chains=(Chain("frame", (blast(), coat(options=(never,)))),))
    found = smallest_set(wanted, RELAXED, possible)
    assert found == [Rule.WEATHER, Rule.WORKING_HOURS]
    assert possible(RELAXED[found[0]](RELAXED[found[1]](wanted)))
    assert not any(possible(RELAXED[rule](wanted)) for rule in found)


def test_with_no_time_left_no_rule_is_blamed():
    assert smallest_set(rusts_too_soon(), RELAXED, possible, lambda: True) == []


def test_more_hands_are_told_apart_whatever_people_are_called():
    wanted = replace(rusts_too_soon(), people=tuple(Person(name, always()) for name in ("Ada", "Ada 0")))
    assert len(RELAXED[Rule.ONE_THING](wanted).people) == 4
