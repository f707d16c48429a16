"""A plan held against each member of an ensemble, with shares counted by hand, and one that shall stand in most."""

from datetime import UTC, datetime
from types import SimpleNamespace

import numpy as np
import pytest

from finishing.air.actions.ensembles import keep_ensemble
from finishing.science.hours import Hours
from projects.plans.actions.ensemble_counts import count_plan
from projects.plans.actions.making import Making, make_plan
from projects.plans.actions.plans import ask_plan
from projects.plans.words import expected
from projects.record.models import Plan
from tests.factories import PartFactory, PieceFactory, ProjectFactory, VisitFactory, steady_forecast

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]
NOW = datetime(2026, 5, 11, 6, tzinfo=UTC)  # a Monday, seven o'clock by the workshop's clock
DAMP = (33, 36)  # Tuesday from 15 to 18 UTC: the hours of the first enamel


@pytest.fixture
def project(workshop, system, roof):
    """A frame under a roof, which a contractor may blast on Tuesday."""
    part = PartFactory(design__workshop=workshop, name="frame", system=system)
    project = ProjectFactory(design=part.design, name="press")
    PieceFactory(project=project, part=part, place=roof, mark="F-1")
    VisitFactory(workshop=workshop)
    steady_forecast(workshop, NOW)
    return project


@pytest.fixture
def planned(workshop, owner, project):
    def plan(**settings):
        workshop.refresh_from_db()
        run = ask_plan(workshop, [project], by=owner, now=NOW, settings={"seconds": 3, **settings})
        return make_plan(run, NOW)

    return plan


def member(damp=None):
    """The forecast's air, or the same with air too damp for paint between two hours."""
    hours = np.arange(480)
    wet = (hours >= damp[0]) & (hours < damp[1]) if damp else np.zeros(480, bool)
    return Hours.from_arrays(
        np.datetime64(NOW.replace(tzinfo=None), "h"), temperature=np.full(480, 20.0),
        humidity=np.where(wet, 95.0, 55.0), rain=0.0, rain_chance=0.0,
    )  # fmt: skip


def told(workshop, *members):
    return keep_ensemble(workshop, list(members), NOW, model="by hand")


def in_full(run):
    return Plan.objects.in_full().get(pk=run.best.pk)


def test_in_three_of_ten_members_it_is_too_damp_at_coat_time_so_it_stands_in_seven(workshop, planned):
    run = planned()
    told(workshop, *[member(DAMP if number in (2, 5, 9) else None) for number in range(1, 11)])
    plan = in_full(run)
    counted = count_plan(plan, NOW)
    assert (counted.of, counted.whole) == (10, 7)
    plan.refresh_from_db()
    assert (plan.members["whole"], plan.members["of"], plan.members["model"]) == (7, 10, "by hand")
    stands = {(slot.kind, f"{slot.begin:%a %H}"): slot.stands_in for slot in plan.slots.all()}
    assert stands["coat", "Tue 14"] == 7
    assert stands["blast", "Tue 07"] == stands["clean", "Tue 07"] == stands["coat", "Tue 08"] == 10


def test_without_an_ensemble_nothing_is_counted(workshop, planned):
    plan = in_full(planned())
    assert count_plan(plan, NOW) is None
    assert plan.members == {}


def test_members_that_fail_different_steps_leave_the_whole_plan_less_than_each_step(workshop, planned):
    run = planned()
    told(workshop, member((25, 29)), member(DAMP), member(), member())  # damp on Tuesday morning, or afternoon
    counted = count_plan(in_full(run), NOW)
    assert (counted.whole, min(counted.tasks.values())) == (2, 3)


def test_a_plan_asked_to_stand_in_eight_of_ten_waits_for_hours_that_so_many_allow(workshop, planned):
    told(workshop, *[member(DAMP if number in (2, 5, 9) else None) for number in range(1, 11)])
    by_forecast = in_full(planned())
    plan = in_full(planned(stands_in=8))
    assert plan.members["whole"] >= 8
    assert plan.finish_at >= by_forecast.finish_at
    assert plan.note == (
        "Asked to stand in at least 8 of 10 members of the ensemble: "
        f"the whole of it stands in {plan.members['whole']} of 10."
    )


def test_where_the_plan_by_the_forecast_is_as_sure_as_asked_it_stays(workshop, planned):
    told(workshop, *[member(DAMP if number == 2 else None) for number in range(1, 11)])
    assert in_full(planned()).finish_at == in_full(planned(stands_in=8)).finish_at


def test_where_no_plan_is_as_sure_it_says_how_far_it_came(workshop, planned):
    told(workshop, *[member((0, 480) if number > 4 else None) for number in range(1, 11)])
    assert in_full(planned(stands_in=8)).note == (
        "No plan was found that stands in at least 8 of 10 members of the ensemble: this one stands in 4 of 10."
    )


def test_without_an_ensemble_it_says_that_the_margin_stands_in(workshop, planned):
    assert "the margin above the dew point stands in" in in_full(planned(stands_in=8)).note


def test_the_first_plan_offered_again_as_the_surest_keeps_what_was_proven_of_it(workshop, planned, monkeypatch):
    """Too damp at coat time in every member, and the plan that others lead to stands in none: the first comes back."""
    told(workshop, *[member(DAMP) for _ in range(10)])
    offered = []
    offer = Making.offer

    def noted(self, schedule, result=None):
        offered.append(result)
        offer(self, schedule, result)

    monkeypatch.setattr(Making, "offer", noted)
    monkeypatch.setattr("projects.plans.actions.scenarios._SureSearch._count", count_as([3, 0, 0, 0, 0, 0]))
    planned(stands_in=8)
    assert offered[-1] is not None
    assert offered[-1].bounds


def count_as(wholes):
    """The first plan stands in so many members, and each that follows in the next number."""
    left = list(wholes)

    def count(search, result):
        whole = left.pop(0)
        search.offered = result
        if search.surest is None or whole > search.surest[0]:
            search.surest = whole, result
        return SimpleNamespace(whole=whole, of=10)

    return count


def test_over_members_waiting_is_weighed_against_coats_that_would_be_spoilt(workshop, planned):
    """Damp in three of ten where the first enamel would be put on: a cheap wait is chosen, and a dear one is not."""
    told(workshop, *[member(DAMP if number in (2, 5, 9) else None) for number in range(1, 11)])
    waits, hurries = in_full(planned(waiting="0.10")), in_full(planned(waiting="9999"))
    assert waits.expected["spoilt"] == 0
    assert waits.expected["later"] > 0
    assert [(bound["aim"], bound["proven"]) for bound in waits.bounds] == [("lateness", True), ("finish", False)]
    assert "0.0 of its steps are spoilt on average; of those of the plan by the forecast alone 0.3" in waits.note
    assert count_plan(waits, NOW).whole == 10
    assert hurries.expected["spoilt"] == pytest.approx(0.3)
    assert hurries.expected["later"] == 0
    assert hurries.note == ""
    spoilt, working = hurries.expected["redoing"], expected(hurries)
    assert working.result == f"{(hurries.expected['own'] + spoilt) / 100:.2f} {workshop.currency}"


def test_where_no_member_spoils_anything_the_plan_by_the_forecast_is_chosen(workshop, planned):
    told(workshop, *[member() for _ in range(10)])
    plan = in_full(planned())
    assert (plan.expected["spoilt"], plan.expected["others"], plan.note) == (0, [], "")
