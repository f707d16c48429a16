"""Sixteen days of an open year for 12, 60 and 150 racks, no two alike, in minutes: first plan, proof or gap.

Areas are drawn from 0.1 to 5 m², there are two systems and three places, and a contractor offers every workday. A gap
is counted on what a plan can change: the minutes after the earliest finish that any single rack allows. Beside it
stands what one model of all racks, with an interval for each task, comes to in the same time.
The solver works with one worker; seconds are by the clock.
"""

from datetime import UTC, datetime
from time import perf_counter

import pytest
from hypothesis import HealthCheck, given, settings

from finishing.science.scheduling.exact import Cutter
from finishing.science.scheduling.feasibility import check_feasibility
from finishing.science.scheduling.insertion import first_schedule
from finishing.science.scheduling.lower_bounds import earliest_finish, own_ways
from finishing.science.scheduling.schedule import Aim
from finishing.science.scheduling.solve import IntervalModel, solve_for
from projects.demo.actions import build_demo
from projects.plans.actions.making import Making, make_plan
from projects.plans.actions.plans import ask_plan, stop_plan
from projects.record.models import Project
from tests.finishing.science.scheduling.test_mondays import planned_from
from tests.finishing.science.scheduling.test_solve import equals_the_best_of_all_plans, small_problems
from tests.racks_in_the_yard import yard

SHORT, LONG = 10.0, 30.0  # s
WORKSHOPS = {12: {}, 60: {}, 150: {"people": 6, "room": 80.0}}


@pytest.mark.parametrize("racks", WORKSHOPS)
def test_first_plan_and_proof(racks):
    problem = yard(racks, **WORKSHOPS[racks])
    first_schedule(problem)  # what a workshop's people have in common is worked out once
    begin = perf_counter()
    first = first_schedule(problem)
    print(f"\nfigure plan.minutes.{racks}.first_s {perf_counter() - begin:.2f} s")
    assert check_feasibility(first) == []
    floor = earliest_finish(problem)
    gaps = {}
    for limit in (SHORT, LONG):
        begin = perf_counter()
        result = solve_for(limit, problem, (Aim.FINISH,))
        took = perf_counter() - begin
        assert check_feasibility(result.schedule) == []
        finish, bound = result.schedule.finish, result.bounds[0]
        gaps[limit] = 100 * (finish - bound) / max(1, finish - floor)
        print(f"finish {finish / 60:.1f} h of {bound / 60:.1f} h, first {first.finish / 60:.1f} h, in {took:.1f} s")
        if result.proven:
            print(f"figure plan.minutes.{racks}.proof_s {took:.2f} s")
            break
        print(f"figure plan.minutes.{racks}.gap_pct.{limit:.0f} {gaps[limit]:.1f} %")
    plain, bound = interval_model(problem, limit)
    gap = None if plain is None else 100 * (plain - bound) / max(1, plain - floor)
    print(f"figure plan.minutes.{racks}.interval_gap_pct {'no plan' if gap is None else f'{gap:.1f} %'}")
    if gap is not None:
        print(f"figure plan.minutes.{racks}.ratio {gap / max(gaps[limit], 0.1):.1f}")
    print("figure plan.minutes.workers 1")


def interval_model(problem, limit):
    """Finish and bound of one model of all racks, begun from nothing."""
    until, found = perf_counter() + limit, []
    ways = {way.chain.name: way for way in own_ways(problem)}
    model = IntervalModel(problem, ways, Cutter(problem), problem.chains, None, Aim.FINISH, {})
    bound, _ = model.solve(0, 1e6, lambda: perf_counter() > until, lambda schedule: found.append(schedule.finish))
    return min(found, default=None), bound or 0


@pytest.mark.django_db
def test_the_demonstration_from_the_button_to_the_first_plan(monkeypatch):
    """Rows, log and weather of the demonstration, read and laid out in all its places, until a schedule is offered."""
    now = datetime(2026, 5, 12, 8, tzinfo=UTC)
    workshop, seen = build_demo(now), []
    run = ask_plan(workshop, Project.objects.of(workshop), by=None, now=now)
    offer = Making.offer

    def noted(making, *args):
        offer(making, *args)
        seen.append(perf_counter() - begin)
        stop_plan(run)

    monkeypatch.setattr(Making, "offer", noted)
    begin = perf_counter()
    make_plan(run, now)
    print(
        f"\nfigure plan.demo.rows_to_first_s {seen[0]:.2f} s; stopped then, over after {perf_counter() - begin:.2f} s"
    )


@given(small_problems())
@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
def test_a_hundred_and_fifty_small_problems_equal_the_best_of_all_plans(wanted):
    equals_the_best_of_all_plans(wanted)


def test_from_each_monday_of_the_year():
    schedules = [planned_from(day) for day in range(0, 364, 7)]
    print(f"\n{sum(schedules)} of 52 Mondays have a plan within sixteen days")
