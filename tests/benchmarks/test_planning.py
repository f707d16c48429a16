"""Sixteen days of an open year for 3, 12 and 60 racks: first schedule, proof or gap, beside a plain interval model.

The racks are of 2 to 5 m², every task takes an hour, and so all of them are alike but for what lies wet: a batch. What
the same yard makes of racks of 2 to 20 m², of which two at most are alike, is shown under "unlike".
Seconds are of one processor's work, so that what else runs on the machine counts less; by the clock in brackets.
"""

from datetime import UTC, datetime
from time import perf_counter, process_time

import pytest
from hypothesis import HealthCheck, given, settings
from ortools.sat.python import cp_model

from finishing.science.scheduling.feasibility import check_feasibility
from finishing.science.scheduling.problem import NEVER
from finishing.science.scheduling.schedule import Aim
from finishing.science.scheduling.search_space import search_space
from finishing.science.scheduling.solve import solve
from projects.demo.actions import build_demo
from projects.plans.actions.making import Making, make_plan
from projects.plans.actions.plans import ask_plan, stop_plan
from projects.record.models import Project
from tests.finishing.science.scheduling.test_mondays import planned_from
from tests.finishing.science.scheduling.test_solve import equals_the_best_of_all_plans, small_problems
from tests.finishing.science.scheduling.test_symmetry import racks_to_be_carried, shops_of_alike_racks
from tests.racks_in_the_yard import yard

LIMIT, LONG = 10.0, 30.0  # s
SHOPS = {
    12: {"racks": 3, "people": 1},
    60: {"racks": 12, "people": 2},
    300: {"racks": 60, "people": 5, "room": 60.0, "cabinet": 2},
}
UNLIKE = {
    12: {"racks": 3, "people": 1, "room": 100.0, "areas": (2, 20)},
    60: {"racks": 12, "people": 2, "room": 100.0, "areas": (2, 20)},
}


class Stopwatch:
    def __init__(self):
        self.work, self.clock = process_time(), perf_counter()

    def __str__(self):
        return f"{process_time() - self.work:.2f} s ({perf_counter() - self.clock:.2f} s by the clock)"


def timed_solve(problem, limit=LIMIT):
    begin, told = process_time(), []
    result = solve(
        problem,
        effort=100.0,
        report=lambda schedule: told.append((process_time() - begin, schedule)),
        stop=lambda: process_time() - begin > limit,
    )
    return result, told, process_time() - begin


def told_of(name, problem, limit=LIMIT):
    watch = Stopwatch()
    result, told, took = timed_solve(problem, limit)
    print(f"\n{name} pieces: {watch}")
    assert all(check_feasibility(schedule) == [] for _, schedule in told)
    print(f"{result.schedule.values()} of {result.bounds}, open: {result.open_aim or 'nothing'}")
    print(f"figure plan.{name}.first_s {told[0][0]:.2f} s")
    print(f"figure plan.{name}.proof_s {took:.2f} s" if result.proven else f"no proof in {took:.1f} s")
    print(f"figure plan.{name}.gap_pct {100 * result.gap:.1f} % ({result.open_aim or 'nothing open'})")
    finish = result.aims.index(Aim.FINISH)
    late = (result.schedule.finish - result.bounds[finish]) / result.schedule.finish
    print(f"figure plan.{name}.finish_gap_pct {100 * late:.1f} %")


@pytest.mark.parametrize("pieces", SHOPS)
def test_first_plan_and_proof(pieces):
    problem = yard(**SHOPS[pieces])
    told_of(pieces, problem)
    finish, bound = interval_model(problem, LIMIT)
    gap = "no plan" if finish is None else f"{100 * (finish - bound) / finish:.1f} %"
    print(f"figure plan.{pieces}.interval_gap_pct {gap} (finish {finish}, bound {bound})")


@pytest.mark.parametrize("pieces", UNLIKE)
def test_first_plan_and_proof_of_racks_unlike(pieces):
    told_of(f"{pieces}.unlike", yard(**UNLIKE[pieces]), LONG)


@pytest.mark.django_db
def test_the_demonstration_from_the_button_to_the_first_plan(monkeypatch):
    """Rows, log and weather of the demonstration, read and laid out in all its places, until a schedule is offered."""
    now = datetime(2026, 5, 12, 8, tzinfo=UTC)
    workshop, seen = build_demo(now), []
    run = ask_plan(workshop, Project.objects.of(workshop), by=None, now=now)
    offer = Making.offer

    def noted(making, *args):
        offer(making, *args)
        seen.append(str(watch))
        stop_plan(run)

    monkeypatch.setattr(Making, "offer", noted)
    watch = Stopwatch()
    make_plan(run, now)
    print(f"\nfigure plan.demo.first_s {seen[0]}; stopped then, and over after {watch}")


@given(small_problems())
@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
def test_a_hundred_and_fifty_small_problems_equal_the_best_of_all_plans(wanted):
    equals_the_best_of_all_plans(wanted)


@given(shops_of_alike_racks())
@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
def test_three_hundred_shops_of_alike_racks_equal_the_best_of_all_plans(wanted):
    equals_the_best_of_all_plans(wanted)


@given(racks_to_be_carried())
@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
def test_three_hundred_pairs_of_racks_to_be_carried_equal_the_best_of_all_plans(wanted):
    equals_the_best_of_all_plans(wanted)


def test_from_each_monday_of_the_year():
    schedules = [planned_from(day) for day in range(0, 364, 7)]
    print(f"\n{sum(schedules)} of 52 Mondays have a plan within sixteen days")


class Intervals:
    """One start, one interval a task and way, an element for "dry by" and for the window, cumulatives for the rest."""

    def __init__(self, problem):
        self.space, self.model = search_space(problem), cp_model.CpModel()
        self.count, self.loads, self.starts, self.dry, self.taken = problem.grid.count, {}, {}, {}, {}
        for name, ways in self.space.choices.items():
            self.task(name, ways)
        for tie in self.space.ties:
            for before in self.space.choices[tie.before]:
                self.tie(tie, before)
        for on, limit in self.space.resources().items():
            if limit is not None and on in self.loads:
                intervals, amounts = zip(*self.loads[on], strict=True)
                self.model.add_cumulative(intervals, amounts, limit)

    def task(self, name, ways):
        self.starts[name] = self.model.new_int_var(0, self.count, "")
        self.dry[name] = self.model.new_int_var(0, self.count, "")
        self.taken[name] = [self.model.new_bool_var("") for _ in ways]
        self.model.add_exactly_one(self.taken[name])
        for choice, taken in zip(ways, self.taken[name], strict=True):
            domain = cp_model.Domain.from_values(choice.starts.tolist())
            self.model.add_linear_expression_in_domain(self.starts[name], domain).only_enforce_if(taken)
            self.model.add(self.dry[name] == self.at(name, choice.starts, choice.after.dry)).only_enforce_if(taken)
            for load in choice.loads:
                begin, end = (self.at(name, choice.starts, values) for values in (load.begin, load.end))
                sizes = set((load.end - load.begin).tolist())
                size = sizes.pop() if len(sizes) == 1 else self.model.new_int_var(0, self.count, "")
                interval = self.model.new_optional_interval_var(begin, size, end, taken, "")
                self.loads.setdefault(load.on, []).append((interval, load.amount))

    def at(self, name, starts, values):
        """Values, one a start, read at the task's start; a number, or what keeps pace with it, needs no table."""
        if len(set(values.tolist())) == 1:
            return int(values[0])
        if len(set((values - starts).tolist())) == 1:
            return self.starts[name] + int(values[0] - starts[0])
        padded = [0] * (self.count + 1)
        for start, value in zip(starts.tolist(), values.tolist(), strict=True):
            padded[start] = min(max(value, 0), NEVER)
        value = self.model.new_int_var(0, NEVER, "")
        self.model.add_element(self.starts[name], padded, value)
        return value

    def tie(self, tie, before):
        follow = self.space.follow(tie, before)
        taken = self.taken[tie.before][self.space.choices[tie.before].index(before)]
        opens, latest = (self.at(tie.before, before.starts, v) for v in (follow.opens, follow.latest))
        self.model.add(self.starts[tie.after] >= opens).only_enforce_if(taken)
        self.model.add(self.starts[tie.after] <= latest).only_enforce_if(taken)
        for after, other in zip(self.space.choices[tie.after], self.taken[tie.after], strict=True):
            if tie.neighbours and after.comes_from != before.stands:
                self.model.add_bool_or(taken.negated(), other.negated())
            elif tie.neighbours and after.carried_in is not None:
                carried = self.at(tie.after, after.starts, after.carried)
                self.model.add(carried >= self.dry[tie.before]).only_enforce_if([taken, other])


def interval_model(problem, limit):
    """Finish and bound of the plain model, visits free of charge and dust left out: it has the easier task."""
    plain = Intervals(problem)
    finish = plain.model.new_int_var(0, problem.grid.count, "")
    plain.model.add_max_equality(finish, list(plain.dry.values()))
    plain.model.minimize(finish)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = limit
    found = solver.solve(plain.model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return (round(solver.objective_value) if found else None), round(solver.best_objective_bound)
