"""Uncertain weather in a browser: a plan counted against an ensemble, and one asked for that stands in most of it."""

import re
from datetime import UTC, datetime

import numpy as np
import pytest
import time_machine
from django.urls import reverse

from finishing.air.actions.ensembles import keep_ensemble
from finishing.science.hours import Hours
from projects.plans.actions.ensemble_counts import count_offers
from projects.plans.actions.making import make_plan
from projects.record.models import Plan, PlanRun
from tests import factories

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

NOW = datetime(2026, 5, 11, 6, tzinfo=UTC)  # a Monday, seven o'clock by the workshop's clock
DAMP = (33, 36)  # Tuesday from 15 to 18 UTC: the hours in which the first enamel would be put on


@pytest.fixture
def phone(request):
    """Signed in by that clock: a session of today's would have ended."""
    with time_machine.travel(NOW, tick=True):
        yield request.getfixturevalue("signed_in_page")


@pytest.fixture
def project(workshop, system, roof):
    """A frame under a roof, which a contractor may blast on Tuesday; runs wait until the test works them through."""
    part = factories.PartFactory(design__workshop=workshop, name="frame", system=system)
    project = factories.ProjectFactory(design=part.design, name="press")
    factories.PieceFactory(project=project, part=part, place=roof, mark="F-1")
    factories.VisitFactory(workshop=workshop)
    factories.steady_forecast(workshop, NOW)
    return project


def member(damp):
    hours = np.arange(480)
    humidity = np.where(damp & (hours >= DAMP[0]) & (hours < DAMP[1]), 95.0, 55.0)
    begin = np.datetime64(NOW.replace(tzinfo=None), "h")
    return Hours.from_arrays(begin, temperature=np.full(480, 20.0), humidity=humidity, rain=0.0, rain_chance=0.0)


def work_through():
    """As the worker does it; the plan that came of it."""
    now = datetime.now(UTC)
    run = make_plan(PlanRun.objects.latest("asked_at"), now)
    count_offers(run, now)
    return Plan.objects.get(pk=run.best.pk)


def facts_opened(page):
    """The same without coming anew, with what was opened."""
    return re.sub(r"\s+", " ", page.inner_text("main"))


def facts(page):
    """What the plan page tells of the plan that is offered."""
    page.goto(reverse("plan"))
    return facts_opened(page)


def test_a_plan_says_in_how_many_members_it_stands_and_a_surer_one_can_be_asked_for(phone, workshop, project):
    """Too damp in three of ten members when the enamel would be put on: a plan that waits is chosen; where days are
    dear, one that stands in seven."""
    page = phone
    page.goto(reverse("plan"))
    page.get_by_role("button", name="Make a plan").click()
    work_through()
    assert "no ensemble is known: the margin stands in for it" in facts(page)

    keep_ensemble(workshop, [member(number in (2, 5, 9)) for number in range(10)], NOW, model="invented")
    page.get_by_role("button", name="Plan anew").click()
    work_through()
    assert "10 of 10 members of the ensemble" in facts(page)
    assert "Chosen over the members of the ensemble" in facts(page)
    page.locator("details.working", has_text="Expected cost").locator("summary").click()
    assert "0.30 steps spoilt" in facts_opened(page)

    page.get_by_role("link", name="What it may use").click()
    page.get_by_label("A day's later finish costs").fill("9999")
    page.get_by_role("button", name="Plan with these").click()
    plan = work_through()
    assert "7 of 10 members of the ensemble" in facts(page)
    weakest = plan.slots.get(stands_in=7)
    page.locator(f"a[href='{reverse('plan-slot', args=[weakest.pk])}']").first.click()
    assert "It stands in 7 of 10 members of the ensemble" in re.sub(r"\s+", " ", page.inner_text("main"))

    page.goto(reverse("plan"))
    page.get_by_role("link", name="What it may use").click()
    page.get_by_label("The whole plan stands in").select_option(label="at least 8 of 10")
    page.get_by_role("button", name="Plan with these").click()
    offered = work_through()
    assert offered.members["whole"] >= 8
    assert f"{offered.members['whole']} of 10 members of the ensemble" in facts(page)
