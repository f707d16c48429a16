"""When a rack that is blasted must have its first coat: by its own log, where it is coated where it stands."""

from datetime import timedelta

import pytest
from icalendar import Calendar

from projects.plans.domain.bare_racks import finish_by
from projects.plans.exports import plan_ics
from projects.record.domain.kept_plans import KeptPlans
from projects.record.models import Plan, Slot, Step
from tests import factories
from tests.projects.plans.views.plan_cast import NINE

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def rack(workshop, system, shop):
    """Two pieces in a shop at 20 °C and 55 %: eight hours bare, of which a quarter of one is kept in hand."""
    factories.steady_forecast(workshop, NINE - timedelta(days=3))
    workshop.salt = "clean"
    workshop.save()
    design = factories.DesignFactory(workshop=workshop)
    project = factories.ProjectFactory(design=design)
    part = factories.PartFactory(design=design, system=system)
    shop.held_at = None
    shop.save()
    return [factories.PieceFactory(part=part, project=project, place=shop, mark=mark) for mark in ("F-1", "F-2")]


@pytest.fixture
def plan(workshop, rack, shop):
    """Blasted from nine to ten, coated at noon; the plan thought that it must be on by five."""
    run = factories.PlanRunFactory(workshop=workshop)
    run.projects.add(rack[0].project)
    plan = factories.PlanFactory(run=run, state=Plan.State.KEPT, made_at=NINE - 2 * HOUR)
    on_rack = {"plan": plan, "pieces": rack, "rack": "frames", "place": shop}
    factories.SlotFactory(**on_rack, kind=Slot.Kind.BLAST, begin=NINE, end=NINE + HOUR, key="blast")
    closes = [{"kind": "rust", "after": "blast", "closes": (NINE + 8 * HOUR).isoformat()}]
    factories.SlotFactory(**on_rack, begin=NINE + 3 * HOUR, end=NINE + 4 * HOUR, key="coat", why={"windows": closes})
    return plan


def blasted(pieces, when, owner):
    for piece in pieces:
        factories.StepFactory(piece=piece, kind=Step.Kind.BLASTED, happened_at=when, by=owner)


def known(workshop, now):
    return finish_by(workshop, KeptPlans.of(workshop), now)


def test_blasted_sooner_than_planned_it_must_be_coated_sooner(workshop, plan, rack, owner):
    blasted(rack, NINE - HOUR, owner)
    coat = plan.slots.get(key="coat")
    by_log = known(workshop, NINE)
    assert by_log == {coat.pk: NINE + timedelta(hours=6, minutes=45)}  # eight hours from eight o'clock, less a quarter
    sent = plan_ics(workshop, Plan.objects.kept().in_full(), lambda slot: "https://shop.example/", NINE, by_log)
    rings = [event for event in Calendar.from_ical(sent).walk("VEVENT") if "is bare" in event["summary"]]
    assert [event.decoded("dtstart") for event in rings] == [NINE + timedelta(hours=6, minutes=45)]


def test_before_all_of_it_is_blasted_the_plan_s_own_time_holds(workshop, plan, rack, owner):
    assert known(workshop, NINE) == {}
    blasted(rack[:1], NINE - HOUR, owner)
    assert known(workshop, NINE) == {}


def test_what_is_carried_first_is_held_to_the_place_it_is_carried_to(workshop, plan, rack, roof, owner):
    factories.SlotFactory(
        plan=plan, pieces=rack, kind=Slot.Kind.MOVE, place=roof, begin=NINE + 2 * HOUR, end=NINE + 3 * HOUR, key="move"
    )
    blasted(rack, NINE - HOUR, owner)
    assert known(workshop, NINE) == {}
