"""The evening before a visit: which course is advised, what each costs by the terms, until when to call off."""

import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import time_machine
from django.urls import reverse

from finishing.air.models import YearOfWeather
from finishing.science.hours import Hours
from projects.record.models import VisitPiece
from tests import factories

pytestmark = pytest.mark.django_db
EVENING = datetime(2026, 5, 11, 17, tzinfo=UTC)  # a Monday, six o'clock in London, the day before the visit
MORNING = datetime(2026, 5, 8, 7, tzinfo=UTC)  # four days before it


@pytest.fixture
def visit(workshop, shop, system):
    """Grit Brothers on Tuesday; two pieces of an hour each, so by their terms 60 + 30 + 2 · 90."""
    visit = factories.VisitFactory(workshop=workshop)
    design = factories.DesignFactory(workshop=workshop)
    project = factories.ProjectFactory(design=design)
    for mark in ("F-1", "F-2"):
        part = factories.PartFactory(design=design, system=system, name=mark)
        piece = factories.PieceFactory(part=part, project=project, place=shop, mark=mark)
        factories.VisitPieceFactory(visit=visit, piece=piece, minutes=60)
    return visit


def evening(client, when=EVENING, **asked):
    with time_machine.travel(when, tick=False):
        return client.get(reverse("evening-before"), asked)


def text(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).replace("&nbsp;", " ").split())


def test_in_dry_air_it_says_go_and_what_that_costs(owner_client, workshop, visit):
    factories.steady_forecast(workshop, EVENING - timedelta(days=3))
    page = text(evening(owner_client))
    assert "Go Every piece can have its first coat before it rusts." in page
    assert "Go advised 270.00 GBP" in page
    assert "2 h of blasting, 2 pieces, 08:00 to 10:00: F-1 , F-2" in page
    assert "Split" not in page


def test_called_off_too_late_half_of_the_day_is_owed(owner_client, workshop, visit):
    """48 hours before it begins is Sunday at eight; on Monday evening half of 270 is owed."""
    factories.steady_forecast(workshop, EVENING - timedelta(days=3))
    page = text(evening(owner_client))
    assert "The hour to call off for nothing was yesterday 08:00" in page
    assert "Postpone 135.00 GBP" in page


def test_in_time_it_costs_nothing_and_the_last_hour_is_named(owner_client, workshop, visit):
    factories.steady_forecast(workshop, MORNING - timedelta(days=3))
    page = text(evening(owner_client, when=MORNING))
    assert "Called off for nothing until Sun 08:00 ; later it costs 135.00 GBP" in page
    assert "Postpone 0.00 GBP" in page or "Postpone 0 GBP" in page


def test_where_all_would_rust_it_says_postpone(owner_client, workshop, visit, shop):
    """94 % for days: bare iron has less than an hour, and no coat may go on."""
    shop.held_at = None
    shop.save()
    factories.steady_forecast(workshop, EVENING - timedelta(days=3), humidity=94.0)
    page = text(evening(owner_client))
    assert "Postpone No piece could have its first coat before it rusts." in page
    assert "In vain: F-1" in page
    assert "270.00 GBP of it is paid for them" in page


def test_where_one_would_rust_it_says_split(owner_client, workshop, visit, shop, roof):
    """One stands in a dry shop, the other under a roof in damp air."""
    factories.steady_forecast(workshop, EVENING - timedelta(days=3), temperature=12.0, humidity=92.0)
    shop.held_at, shop.humidity_ceiling = 22, 45
    shop.save()
    second = VisitPiece.objects.get(piece__mark="F-2").piece
    second.place = roof
    second.save()
    page = text(evening(owner_client))
    assert "Split: blast only some" in page
    assert "Split advised 180.00 GBP" in page  # 60 + 30 + 90
    assert "1 h of blasting, 1 piece, 08:00 to 09:00: F-1" in page
    link = re.search(r'href="([^"]+/pieces/\?piece=[^"]+)"', evening(owner_client).content.decode())[1]
    assert str(second.pk) not in link


def test_without_a_forecast_it_says_so(owner_client, visit):
    page = evening(owner_client)
    assert "There is no forecast" in text(page)
    assert reverse("weather") in page.content.decode()
    assert "advised" not in text(page)


def test_beyond_the_forecast_only_past_years_speak(owner_client, workshop, visit):
    factories.steady_forecast(workshop, EVENING - timedelta(days=1), hours=30)
    page = text(evening(owner_client))
    assert "Too far ahead" in page
    assert "advised" not in page


def a_year(workshop, year, humidity):
    hours = Hours.from_arrays(
        np.datetime64(f"{year}-01-01T00"), temperature=np.full(8760, 15.0), humidity=humidity, rain=0.0
    )
    row = YearOfWeather(
        workshop=workshop, kind="past", year=year, label=str(year), source="archive",
        latitude=workshop.latitude, longitude=workshop.longitude,
    )  # fmt: skip
    row.keep(hours)
    row.save()


def test_odds_are_the_days_around_it_in_past_years(owner_client, workshop, visit, shop):
    """Two dry years and one damp one: of three times seven days fourteen would have done."""
    shop.held_at = None
    shop.save()
    for year, humidity in ((2023, 45.0), (2022, 45.0), (2021, 96.0)):
        a_year(workshop, year, humidity)
    page = text(evening(owner_client))
    assert "in 3 past years" in page
    assert "Tue 12 May this visit 14 of 21 days" in page
    assert "Tue 19 May 14 of 21 days" in page


def test_without_past_years_it_leads_to_them(owner_client, visit):
    page = evening(owner_client)
    assert "No past year is here" in text(page)
    assert reverse("years") in page.content.decode()


def test_without_a_visit_it_leads_to_one(owner_client, workshop):
    page = evening(owner_client)
    assert "No visit is to come" in text(page)
    assert reverse("visit-new") in page.content.decode()


def test_a_visit_without_pieces_says_what_is_missing(owner_client, workshop):
    factories.VisitFactory(workshop=workshop)
    assert "Nothing on this visit can be reckoned yet" in text(evening(owner_client))


def test_another_visit_may_be_asked_for(owner_client, workshop, visit):
    later = factories.VisitFactory(workshop=workshop, date=visit.date + timedelta(days=3), contractor="Sand Sisters")
    assert "Grit Brothers, tomorrow" in text(evening(owner_client))
    assert "Sand Sisters, Friday 15 May" in text(evening(owner_client, visit=later.pk))


@pytest.mark.parametrize("asked", ["nonsense", "\x00", ""])
def test_rubbish_asks_for_the_next_one(owner_client, visit, asked):
    assert "Grit Brothers" in text(evening(owner_client, visit=asked))
