"""The plan's calendar: at its secret address without signing in, as a file, renewed and closed."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.urls import reverse
from icalendar import Calendar

from projects.record.models import CalendarAddress, Plan
from tests import factories

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _on_a_tuesday():
    with time_machine.travel(NINE, tick=False):
        yield


@pytest.fixture
def kept(workshop):
    plan = factories.PlanFactory(run=factories.PlanRunFactory(workshop=workshop), state=Plan.State.KEPT)
    factories.SlotFactory(plan=plan, rack="frame", key="coat:1")
    return plan


@pytest.fixture
def address(workshop):
    return factories.CalendarAddressFactory(workshop=workshop)


def read(client, row):
    answer = client.get(reverse("feed", args=[row.token]))
    assert answer.status_code == 200
    assert answer.headers["Content-Type"].startswith("text/calendar")
    return Calendar.from_ical(answer.content).walk("VEVENT")


def test_whoever_holds_the_address_reads_the_kept_plan(client, kept, address):
    event = read(client, address)[0]
    assert event["summary"] == "frame: coat of green enamel"
    assert event["url"] == f"http://testserver{reverse('plan-slot', args=[kept.slots.get().pk])}"


def test_the_feed_follows_what_is_accepted(client, owner_client, kept, address):
    moved = factories.PlanFactory(run=kept.run, state=Plan.State.OFFERED)
    begin = datetime(2026, 5, 13, 13, tzinfo=UTC)
    factories.SlotFactory(plan=moved, rack="frame", key="coat:1", begin=begin, end=begin + timedelta(hours=2))
    assert read(client, address)[0].decoded("dtstart") == kept.slots.get().begin
    before = read(client, address)[0]["uid"]
    kept.run.projects.add(factories.ProjectFactory(design=factories.DesignFactory(workshop=kept.workshop)))
    owner_client.post(reverse("plan-accept", args=[moved.pk]))
    (event,) = read(client, address)
    assert (event["uid"], event.decoded("dtstart")) == (before, begin)


def test_nobody_else_s_plan_is_in_it(client, kept, other_workshop):
    assert read(client, factories.CalendarAddressFactory(workshop=other_workshop)) == []


def test_an_offer_is_not_in_it(client, kept, address):
    Plan.objects.update(state=Plan.State.OFFERED)
    assert read(client, address) == []


def test_no_cache_and_no_search_engine_keeps_it(client, kept, address):
    answer = client.get(reverse("feed", args=[address.token]))
    assert "no-store" in answer.headers["Cache-Control"]
    assert "noindex" in answer.headers["X-Robots-Tag"]


def test_a_renewed_address_ends_the_one_before(client, owner_client, kept, address):
    owner_client.post(reverse("calendar-new"))
    assert client.get(reverse("feed", args=[address.token])).status_code == 404
    newer = CalendarAddress.objects.get(closed=False)
    assert newer.token != address.token
    assert read(client, newer)


def test_a_closed_address_opens_nothing(client, owner_client, kept, address):
    owner_client.post(reverse("calendar-close"))
    assert client.get(reverse("feed", args=[address.token])).status_code == 404
    assert "Make a secret address" in owner_client.get(reverse("calendar")).content.decode()


def test_the_page_shows_the_address_to_those_who_plan(owner_client, helper_client, address):
    assert address.token in owner_client.get(reverse("calendar")).content.decode()
    assert address.token not in helper_client.get(reverse("calendar")).content.decode()


def test_a_helper_renews_nothing(helper_client, address):
    assert helper_client.post(reverse("calendar-new")).status_code == 403


def test_the_file_is_the_same_plan(client, guest_client, kept, address):
    answer = guest_client.get(reverse("plan-file", args=[kept.pk]))
    assert 'filename="plan-2026-05-12.ics"' in answer.headers["Content-Disposition"]
    assert [event["uid"] for event in Calendar.from_ical(answer.content).walk("VEVENT")] == [
        event["uid"] for event in read(client, address)
    ]


@pytest.mark.parametrize("typed", ["nonsense", "a" * 2000, "%00", "..%2f"])
def test_an_address_of_nothing_is_told_plainly(client, db, typed):
    assert client.get(f"/calendar/{typed}.ics").status_code == 404


def test_bare_iron_stands_in_it_half_way_and_at_its_end_without_any_plan(client, workshop, roof, system, address):
    """Six hours left after two of eight, as the day sheet says, less what is kept in hand for the last stroke."""
    workshop.salt = "clean"
    workshop.save()
    factories.steady_forecast(workshop, NINE - timedelta(days=3))
    piece = factories.PieceFactory(part__design__workshop=workshop, part__system=system, place=roof, mark="F-01")
    factories.StepFactory(piece=piece, kind="blasted", happened_at=NINE - timedelta(hours=2))
    half, end = sorted(read(client, address), key=lambda event: event["dtstart"].dt)
    assert half["summary"] == "F-01: half its time bare is gone"
    assert half["dtstart"].dt == NINE - timedelta(hours=2) + (end["dtstart"].dt - NINE + timedelta(hours=2)) / 2
    assert NINE + timedelta(hours=5) < end["dtstart"].dt < NINE + timedelta(hours=6)
    assert (end["summary"], end["url"][-38:]) == ("F-01 is bare: coat before now", f"/{piece.pk}/")
