"""Those first whose coat may follow soonest, large ones together; in air that can be worked out in the head."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from finishing.air.models import Forecast
from finishing.science.hours import Hours
from projects.record.models import Piece, VisitPiece
from projects.visits.domain.blast_sheet import Following, in_order
from projects.work.domain.outlook import outlooks
from tests import factories

pytestmark = pytest.mark.django_db
EIGHT = datetime(2026, 5, 12, 7, tzinfo=UTC)  # a Tuesday, eight o'clock on the workshop's clock
START = EIGHT - timedelta(days=3)


@pytest.fixture
def rows(workshop, roof, shop, system):
    """Small and large under a roof, the smallest in a shop that is kept at 20 °C and at most 50 %."""
    workshop.salt = "clean"
    workshop.save()
    shop.held_at, shop.humidity_ceiling = 20, 50
    shop.save()
    visit = factories.VisitFactory(workshop=workshop)
    design = factories.DesignFactory(workshop=workshop)
    project = factories.ProjectFactory(design=design)

    def row(mark, area, place):
        part = factories.PartFactory(design=design, system=system, area=area)
        piece = factories.PieceFactory(part=part, project=project, place=place, mark=mark)
        return factories.VisitPieceFactory(visit=visit, piece=piece).pk

    made = [row("SMALL", 0.3, roof), row("LARGE", 1.2, roof), row("INSIDE", 0.1, shop)]
    return [VisitPiece.objects.in_full().get(pk=pk) for pk in made]


def ahead(rows, begins=EIGHT):
    workshop = rows[0].visit.workshop
    views = outlooks(workshop, [row.piece for row in rows], EIGHT)
    return {view.piece.pk: Following(view, begins, begins + timedelta(minutes=30)) for view in views}


def damp_until_eleven(workshop):
    """90 % and 15 °C, too damp to paint, until 10:00 UTC; then 55 % and 20 °C."""
    hours = 24 * 15
    damp = np.arange(hours) < 3 * 24 + 3
    run = Hours.from_arrays(
        np.datetime64(START.replace(tzinfo=None), "h"),
        temperature=np.where(damp, 15.0, 20.0),
        humidity=np.where(damp, 90.0, 55.0),
        rain=0.0,
        rain_chance=0.0,
    )
    Forecast.objects.create(
        workshop=workshop,
        service="met norway",
        fetched_at=START,
        checked_at=START,
        hours=Forecast.columns(run),
    )


def test_in_even_air_the_largest_comes_first(rows, workshop):
    factories.steady_forecast(workshop, START)
    assert [row.piece.mark for row in in_order(rows, ahead(rows))] == ["LARGE", "SMALL", "INSIDE"]


def test_what_stands_dry_comes_before_what_must_wait_for_the_air(rows, workshop):
    """Outdoors 90 % is above the primer's 85 % until eleven on the workshop's clock."""
    damp_until_eleven(workshop)
    order = in_order(rows, ahead(rows))
    soonest = {row.piece.mark: ahead(rows)[row.piece_id].coat_from for row in order}
    assert soonest["INSIDE"] < EIGHT + timedelta(hours=1)
    assert soonest["LARGE"] is None or soonest["LARGE"] >= EIGHT + timedelta(hours=3)
    assert [row.piece.mark for row in order] == ["INSIDE", "LARGE", "SMALL"]


def test_a_place_in_the_order_that_somebody_typed_stands(rows, workshop):
    factories.steady_forecast(workshop, START)
    rows[2].position = 1
    assert [row.piece.mark for row in in_order(rows, ahead(rows))] == ["INSIDE", "LARGE", "SMALL"]


def test_the_coat_follows_when_the_blasting_ends_and_before_the_iron_rusts(rows, workshop):
    """55 %, clean: 8 hours bare (the trade practice cited in science.rust.BANDS)."""
    factories.steady_forecast(workshop, START)
    following = ahead(rows)[rows[0].piece_id]
    assert following.known
    assert following.cold_until is None
    assert following.coat_from == EIGHT + timedelta(minutes=30)
    assert following.coat_before == pytest.approx(EIGHT + timedelta(hours=8.5), abs=timedelta(minutes=1))


def test_blasted_wet_it_has_half_that_time(rows, workshop):
    factories.steady_forecast(workshop, START)
    dry = ahead(rows)[rows[0].piece_id]
    wet = Following(dry.before, dry.begins, dry.ends, wet=True)
    assert wet.coat_before == pytest.approx(EIGHT + timedelta(hours=4.5), abs=timedelta(minutes=1))


def test_metal_near_its_dew_point_is_cold_until_it_is_not(rows, workshop):
    """At 90 % and 15 °C the dew point is 13.4 °C: 1.6 °C of 3; the air turns at ten UTC."""
    damp_until_eleven(workshop)
    following = ahead(rows)[rows[0].piece_id]
    assert following.cold_until is not None
    assert following.cold_until >= EIGHT + timedelta(hours=3)


def test_its_turn_comes_later(rows, workshop):
    factories.steady_forecast(workshop, START)
    begins = EIGHT + timedelta(hours=2)
    later = replace(ahead(rows)[rows[0].piece_id], begins=begins, ends=begins + timedelta(minutes=20))
    assert later.coat_from == EIGHT + timedelta(hours=2, minutes=20)


def test_beyond_the_forecast_nothing_is_said(rows, workshop):
    factories.steady_forecast(workshop, START, hours=24 * 4)
    for begins in (EIGHT + timedelta(days=3), EIGHT + timedelta(days=60)):
        assert not ahead(rows, begins)[rows[0].piece_id].known
    assert in_order(rows, ahead(rows, EIGHT + timedelta(days=60)))[0].piece.mark == "LARGE"


def test_the_log_is_not_touched_by_thinking_ahead(rows, workshop):
    factories.steady_forecast(workshop, START)
    assert ahead(rows)[rows[0].piece_id].after.state.is_bare
    assert not Piece.objects.get(mark="SMALL").steps.exists()
