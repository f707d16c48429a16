"""What the day sheet lays open and what it folds: nothing that would spoil before tomorrow may be folded."""

from datetime import UTC, datetime, timedelta

import pytest

from finishing.workshops.models import Place
from projects.day.domain import day_sheet
from projects.record.models import Piece
from projects.work.domain.outlook import outlooks
from tests import factories

pytestmark = pytest.mark.django_db
TEN = datetime(2026, 5, 12, 9, tzinfo=UTC)  # a Tuesday, ten o'clock on the workshop's clock


@pytest.fixture
def piece(workshop, roof, system):
    workshop.salt = "clean"
    workshop.save()
    part = factories.PartFactory(design__workshop=workshop, system=system)
    return factories.PieceFactory(part=part, place=roof)


def log(piece, kind, when, **facts):
    return factories.StepFactory(piece=piece, kind=kind, happened_at=when, **facts)


def coat(piece, when, position=0):
    layer = piece.part.system.layers.all()[position]
    return log(piece, "coated", when, layer=layer, coating=layer.coating)


def day(workshop, now=TEN):
    ahead = outlooks(workshop, list(Piece.objects.of(workshop).at_work().with_log()), now)
    return day_sheet(ahead, Place.objects.of(workshop))


def marks(outlooks):
    return [outlook.piece.mark for outlook in outlooks]


def test_bare_iron_that_lasts_through_tomorrow_has_time_in_hand(workshop, piece):
    """At 35 % iron may stay bare for days [science.rust.BANDS]: tomorrow has hours enough."""
    factories.steady_forecast(workshop, TEN - timedelta(days=3), humidity=35.0)
    log(piece, "blasted", TEN - timedelta(hours=1))
    sheet = day(workshop)
    assert (marks(sheet.bare_in_hand), sheet.bare_pressing) == ([piece.mark], [])


def test_bare_iron_that_lasts_a_shift_presses(workshop, piece):
    factories.steady_forecast(workshop, TEN - timedelta(days=3))  # 55 %: 8 h
    log(piece, "blasted", TEN - timedelta(hours=1))
    assert marks(day(workshop).bare_pressing) == [piece.mark]


def test_bare_iron_presses_where_no_hour_of_tomorrow_would_take_its_coat(workshop, piece):
    """Dry enough to stay bare for days, but from this evening on it is freezing."""
    ahead = [15.0] * (3 * 24 + 8) + [-2.0] * 400
    factories.steady_forecast(workshop, TEN - timedelta(days=3), hours=len(ahead), temperature=ahead, humidity=35.0)
    log(piece, "blasted", TEN - timedelta(hours=1))
    assert marks(day(workshop).bare_pressing) == [piece.mark]


def test_bare_iron_presses_where_nobody_knows_the_air(workshop, piece):
    log(piece, "blasted", TEN - timedelta(hours=1))
    assert marks(day(workshop).bare_pressing) == [piece.mark]


def test_wet_iron_presses_and_is_told_by_its_card_alone(workshop, piece):
    factories.steady_forecast(workshop, TEN - timedelta(days=3), humidity=35.0)
    log(piece, "blasted", TEN - timedelta(hours=1))
    log(piece, "wetted", TEN - timedelta(minutes=30))
    sheet = day(workshop)
    assert marks(sheet.bare_pressing) == [piece.mark]
    assert sheet.may_wait + sheet.pressing == []


def test_a_coat_that_may_go_on_now_and_tomorrow_does_not_press(workshop, piece):
    factories.steady_forecast(workshop, TEN - timedelta(days=3))
    log(piece, "blasted", TEN - timedelta(hours=30))
    coat(piece, TEN - timedelta(hours=28))
    (paint,) = day(workshop).paint_jobs
    assert (marks(paint.ready), paint.pressing) == ([piece.mark], False)


def test_a_coat_presses_on_its_last_day_of_warm_air(workshop, piece):
    ahead = [20.0] * (3 * 24 + 8) + [-2.0] * 400
    factories.steady_forecast(workshop, TEN - timedelta(days=3), hours=len(ahead), temperature=ahead)
    log(piece, "blasted", TEN - timedelta(hours=30))
    coat(piece, TEN - timedelta(hours=28))
    (paint,) = day(workshop).paint_jobs
    assert (marks(paint.ready), paint.pressing) == ([piece.mark], True)


def test_paints_stand_by_when_they_are_shut_then_by_when_they_open(workshop, piece, shop):
    """Under the roof it freezes from three on; the heated shop is open until work ends."""
    ahead = [20.0] * (3 * 24 + 6) + [-2.0] * 400
    factories.steady_forecast(workshop, TEN - timedelta(days=3), hours=len(ahead), temperature=ahead)
    inside = factories.PieceFactory(part=piece.part, project=piece.project, place=shop, mark="I-1")
    fresh = factories.PieceFactory(part=piece.part, project=piece.project, place=shop, mark="I-2")
    for each in (inside, piece, fresh):
        log(each, "blasted", TEN - timedelta(hours=30))
        coat(each, TEN - timedelta(hours=28 if each != fresh else 1))
    paints = day(workshop).paint_jobs
    assert [marks(paint.ready) for paint in paints] == [[piece.mark], ["I-1"]]
    assert paints[0].until < paints[1].until
    assert paints[1].begins > TEN  # of the fresh one
