"""The kept plan as a calendar, read back by an iCalendar library as a subscriber's program would read it."""

from datetime import UTC, datetime, timedelta

import pytest
from icalendar import Calendar

from projects.plans.exports import plan_ics
from projects.record.models import Plan
from tests import factories

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 12, 7, 30, tzinfo=UTC)
TEN = datetime(2026, 5, 13, 10, tzinfo=UTC)


@pytest.fixture
def plan(workshop):
    run = factories.PlanRunFactory(workshop=workshop)
    return factories.PlanFactory(run=run, state=Plan.State.KEPT, decided_at=NOW)


def coat(plan, **given):
    given = {"key": "coat:1", "begin": TEN, "end": TEN + timedelta(hours=2), **given}
    return factories.SlotFactory(plan=plan, rack="frame", **given)


def read(plan, now=NOW):
    plans = Plan.objects.filter(pk=plan.pk).in_full()
    sent = plan_ics(plan.workshop, plans, lambda slot: f"https://shop.example/plan/slots/{slot.pk}/", now)
    return Calendar.from_ical(sent)


def events(calendar):
    return calendar.walk("VEVENT")


def test_each_step_is_an_event_at_its_time_and_place(plan, shop):
    slot = coat(plan, place=shop, dry_at=TEN + timedelta(hours=8))
    event = events(read(plan))[0]
    assert event.decoded("dtstart") == TEN
    assert event.decoded("dtend") == TEN + timedelta(hours=2)
    assert event["summary"] == "frame: coat of green enamel"
    assert event["location"] == "Shop"
    assert event["url"] == f"https://shop.example/plan/slots/{slot.pk}/"
    assert "Dry by Wed 13 May 19:00." in event["description"]  # six in the evening UTC, on London's summer clock


def test_every_line_keeps_to_the_standard(plan):
    """RFC 5545: lines of at most 75 octets that end in CRLF; a version, a maker, a stamp and an id of each event."""
    coat(plan, label="coat of öl-green enamel, with a comma; and a semicolon " * 3, broken="rain")
    sent = plan_ics(plan.workshop, Plan.objects.in_full(), lambda slot: "https://shop.example/", NOW)
    assert sent.endswith(b"\r\n")
    assert all(len(line) <= 75 for line in sent.split(b"\r\n"))
    calendar = Calendar.from_ical(sent)
    assert calendar["version"] == "2.0"
    assert calendar["prodid"]
    assert all({"uid", "dtstamp", "dtstart"} <= {name.lower() for name in event} for event in events(calendar))
    assert "comma; and" in events(calendar)[0]["summary"]


def test_a_step_keeps_its_id_from_plan_to_plan(plan):
    pieces = [factories.PieceFactory(workshop=plan.workshop) for _ in range(2)]
    coat(plan, pieces=pieces)
    later = factories.PlanFactory(run=plan.run, state=Plan.State.OFFERED)
    coat(later, pieces=pieces[::-1], begin=TEN + timedelta(days=1), end=TEN + timedelta(days=1, hours=2))
    before, after = events(read(plan))[0], events(read(later))[0]
    assert before["uid"] == after["uid"]
    assert after.decoded("dtstart") - before.decoded("dtstart") == timedelta(days=1)


def test_the_same_step_of_two_racks_is_two_events(plan):
    for _ in range(2):
        coat(plan, pieces=[factories.PieceFactory(workshop=plan.workshop)])
    assert len({event["uid"] for event in events(read(plan))}) == 2


def test_the_same_step_of_another_workshop_has_another_id(plan, other_workshop):
    coat(plan)
    theirs = factories.PlanFactory(run=factories.PlanRunFactory(workshop=other_workshop))
    coat(theirs)
    assert events(read(plan))[0]["uid"] != events(read(theirs))[0]["uid"]


def closing(kind, until):
    """What the planner says of a step that must be over by then."""
    ends = {"opens": TEN.isoformat(), "closes": until and until.isoformat(), "closed_from": None, "closed_until": None}
    return {"windows": [{"kind": kind, "after": "blast", **ends}]}


@pytest.mark.parametrize(("kind", "hours", "words"), [("rust", 2, "bare"), ("recoat", 24, "recoat window")])
def test_what_is_about_to_spoil_rings(plan, kind, hours, words):
    until = TEN + timedelta(hours=5)
    coat(plan, why=closing(kind, until))
    event = next(event for event in events(read(plan)) if event.walk("VALARM"))
    assert event.decoded("dtstart") == until
    assert words in event["summary"]
    assert event["transp"] == "TRANSPARENT"
    alarm = event.walk("VALARM")[0]
    assert alarm["action"] == "DISPLAY"
    assert alarm.decoded("trigger") == -timedelta(hours=hours)


def test_what_is_over_rings_no_more(plan):
    coat(plan, why=closing("rust", TEN + timedelta(hours=5)))
    assert not [event for event in events(read(plan, now=TEN + timedelta(hours=6))) if event.walk("VALARM")]


@pytest.mark.parametrize(("kind", "until"), [("recoat", None), ("letters", TEN), ("wait", TEN)])
def test_nothing_spoils_where_no_window_closes(plan, kind, until):
    coat(plan, why=closing(kind, until))
    assert len(events(read(plan))) == 1


def test_a_broken_step_is_only_tentative_and_says_why(plan):
    coat(plan, broken="rain before the work may be left")
    event = events(read(plan))[0]
    assert event["status"] == "TENTATIVE"
    assert "No longer holds: rain before the work may be left" in event["description"]


def test_without_a_kept_plan_the_calendar_is_empty_and_still_one(workshop):
    calendar = Calendar.from_ical(plan_ics(workshop, [], lambda slot: "", NOW))
    assert calendar.name == "VCALENDAR"
    assert not events(calendar)
