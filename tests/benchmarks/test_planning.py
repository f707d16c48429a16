"""Sixteen days of an open year for 12, 60 and 150 racks, no two alike, in minutes: first plan, proof or gap.

Areas are drawn from 0.1 to 5 m², there are two systems and three places, and a contractor offers every workday. A gap
is counted on what a plan can change: the minutes after the earliest finish that any single rack allows, from the same
lower bound for all that plan the same racks. Beside it stands what one model of all racks, with an interval for each
task, comes to in the same time, and a general-purpose library over the same solver, on the relaxation that it can
express: see `general_scheduling`.
The solver works with one worker; seconds are by the clock.
"""

import re
from datetime import datetime
from time import perf_counter

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from playwright.sync_api import sync_playwright

from finishing.science.scheduling.exact import Cutter
from finishing.science.scheduling.feasibility import check_feasibility
from finishing.science.scheduling.lower_bounds import earliest_finish, own_ways
from finishing.science.scheduling.schedule import Aim
from finishing.science.scheduling.solve import IntervalModel, solve_for
from finishing.science.scheduling.stages import first_schedule
from finishing.workshops.models import User
from projects.demo.actions import build_demo
from projects.plans.actions.making import Making, make_plan
from projects.record.models import PlanRun
from tests.benchmarks.general_scheduling import by_pyjobshop
from tests.conftest import CHROMIUM
from tests.finishing.science.scheduling.test_mondays import planned_from
from tests.finishing.science.scheduling.test_solve import equals_the_best_of_all_plans, small_problems
from tests.racks_in_the_yard import yard

LIMITS = (5.0, 10.0, 30.0)  # s
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
    for limit in LIMITS:
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
    plain = interval_model(problem, limit)
    gap = None if plain is None else 100 * (plain - bound) / max(1, plain - floor)
    print(f"figure plan.minutes.{racks}.interval_gap_pct {'no plan' if gap is None else f'{gap:.1f} %'}")
    if gap is not None:
        print(f"figure plan.minutes.{racks}.ratio {gap / max(gaps[limit], 0.1):.1f}")
    general = by_pyjobshop(problem, limit)
    if general.finish is None:
        print(f"figure plan.minutes.{racks}.general_gap_pct no plan, though easier; bound {general.bound / 60:.1f} h")
    else:
        gap = 100 * (general.finish - general.bound) / max(1, general.finish - floor)
        print(f"figure plan.minutes.{racks}.general_gap_pct {gap:.1f} % of an easier problem,")
        print(f"  finish {general.finish / 60:.1f} h of {general.bound / 60:.1f} h where no wait depends on the minute")
        print(f"figure plan.minutes.{racks}.general.ratio {gap / max(gaps[limit], 0.1):.1f}")
    print("figure plan.minutes.workers 1")


def interval_model(problem, limit):
    """Finish of one model of all racks, begun from nothing. It takes minutes together, so it has no bound."""
    until, found = perf_counter() + limit, []
    ways = {way.chain.name: way for way in own_ways(problem)}
    model = IntervalModel(problem, ways, Cutter(problem), problem.chains, None, Aim.FINISH, {})
    model.solve(0, 1e6, lambda: perf_counter() > until, lambda schedule: found.append(schedule.finish))
    return min(found, default=None)


@pytest.mark.django_db(transaction=True)
def test_the_demonstration_from_the_press_to_the_strip_and_how_good_that_is(live_server, settings, monkeypatch):
    """In a browser, from the press to the plan's strip, the better of two; then the run is worked through."""
    settings.ALLOWED_HOSTS = ["*"]
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")  # the browser is driven by an event loop of its own
    workshop = build_demo(timezone.now())
    signed_in = Client()
    signed_in.force_login(User.objects.get(username="owner"))
    session = signed_in.cookies["sessionid"].value
    times, firsts = [], []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page()
        page.context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
        for _ in range(2):
            page.goto(live_server.url + reverse("plan"))
            begin = perf_counter()
            page.get_by_role("button", name=re.compile("Make a plan|Plan anew")).click()
            page.locator(".plan-state", has_text="so far").wait_for()
            page.locator(".plan-picture svg").first.wait_for()
            times.append(perf_counter() - begin)
            run = PlanRun.objects.of(workshop).first()
            firsts.append(run.best.finish_at)
            PlanRun.objects.filter(pk=run.pk).update(state=PlanRun.State.STOPPED)
        browser.close()
    print(f"\nfigure plan.demo.first_s {min(times):.2f} s; at first {times[0]:.2f} s")
    begin = perf_counter()
    done = make_plan(run, timezone.now())
    print(f"figure plan.demo.over_s {perf_counter() - begin:.1f} s: {done.progress}; {done.message}")
    ends = [datetime.fromisoformat(aim["bound"]) for aim in done.best.bounds if aim["aim"] == Aim.FINISH]
    if ends:  # a plan that was chosen over members instead has none
        gap = (firsts[-1] - ends[0]) / (firsts[-1] - run.asked_at)
        print(f"figure plan.demo.first_gap_pct {max(0, 100 * gap):.1f} % of its length")
    print(f"figure plan.demo.racks {done.progress['racks']} of {len(Making(done, run.asked_at).problem.chains)}")


@given(small_problems())
@hypothesis_settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
def test_a_hundred_and_fifty_small_problems_equal_the_best_of_all_plans(wanted):
    equals_the_best_of_all_plans(wanted)


def test_from_each_monday_of_the_year():
    schedules = [planned_from(day) for day in range(0, 364, 7)]
    print(f"\n{sum(schedules)} of 52 Mondays have a plan within sixteen days")
