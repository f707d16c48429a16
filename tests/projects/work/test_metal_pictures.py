"""The picture of a piece's metal as values."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from finishing.site.pictures.scales import LEFT, WIDTH
from projects.record.models import Piece
from projects.work.domain.outlook import outlooks
from projects.work.pictures import AHEAD, BEHIND, DEGREES, metal_picture
from tests import factories

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)  # nine o'clock on the workshop's clock
HOUR = timedelta(hours=1)
STEP = WIDTH / (BEHIND + AHEAD)


@pytest.fixture
def piece(workshop, yard, system):
    part = factories.PartFactory(design__workshop=workshop, system=system)
    return factories.PieceFactory(part=part, place=yard)


@pytest.fixture
def rain_at_noon(workshop):
    """20 °C and 55 % for ten days; rain from 12 to 15 o'clock today."""
    rain = np.zeros(240)
    rain[75:78] = 1
    factories.steady_forecast(workshop, NINE - 72 * HOUR, hours=240, rain=rain, cloud=1.0, wind=3.0, sun=0)


def picture_of(piece, now=NINE, measures="metric"):
    fresh = Piece.objects.with_log().get(pk=piece.pk)
    return metal_picture(outlooks(piece.workshop, [fresh], now)[0], measures)


def x_of(hours):
    return pytest.approx(LEFT + (BEHIND + hours) * STEP)


def test_rain_is_marked_wet_in_its_hours_and_told_in_words(piece, rain_at_noon):
    drawn = picture_of(piece)
    (box,) = drawn.wet
    assert (box.x, box.width) == (x_of(3), pytest.approx(3 * STEP))
    (spell,) = drawn.spells
    assert (spell.begin, spell.end, spell.sweats) == (NINE + 3 * HOUR, NINE + 6 * HOUR, False)
    assert drawn.now == x_of(0)
    assert drawn.all_known


def test_a_cold_casting_sweats_in_red_and_then_is_near(piece, rain_at_noon, shop):
    """8 °C in air with its dew point at 10.7 °C; it lags 0.8 h, so it is 3 °C above within two hours."""
    factories.StepFactory(piece=piece, kind="moved", happened_at=NINE, place=shop, surface_temperature=8)
    drawn = picture_of(piece)
    assert drawn.wet[0].x == x_of(0)
    assert drawn.spells[0].sweats
    assert drawn.spells[0].running
    assert NINE < drawn.spells[0].end < NINE + HOUR
    (arrival,) = drawn.arrivals
    assert (arrival.x, arrival.place) == (x_of(0), shop)
    assert [hour.place for hour in drawn.hours if hour.place] == [shop]


def test_measured_surfaces_lie_over_the_estimate(piece, rain_at_noon, shop):
    factories.StepFactory(piece=piece, kind="noted", happened_at=NINE - 6 * HOUR, surface_temperature=20)
    factories.ReadingFactory(
        place=piece.place, taken_at=NINE - 3 * HOUR, temperature=20, humidity=55, surface_temperature=15
    )
    factories.ReadingFactory(place=shop, taken_at=NINE - 2 * HOUR, surface_temperature=5)  # it did not stand there
    own, beside = picture_of(piece).dots
    assert (own.own, own.x) == (True, x_of(-6))
    assert (beside.own, beside.x) == (False, x_of(-3))
    assert DEGREES[0] <= own.y < beside.y <= DEGREES[1]


def test_what_is_not_known_is_hatched_and_never_called_dry(piece):
    drawn = picture_of(piece)
    assert sum(box.width for box in drawn.unknown) == pytest.approx(WIDTH)
    assert drawn.metal == drawn.wet == drawn.spells == []
    assert not drawn.some_known
    assert not any(hour.known for hour in drawn.hours)


def test_a_forecast_of_one_day_leaves_two_unknown(workshop, piece):
    factories.steady_forecast(workshop, NINE - 72 * HOUR, hours=96)
    drawn = picture_of(piece)
    assert drawn.some_known
    assert not drawn.all_known


def test_the_scale_is_in_the_workshops_units(piece, rain_at_noon):
    assert picture_of(piece, measures="us").unit == "°F"
    assert picture_of(piece, measures="us").degrees[-1].label == "70"  # 20 °C is 68 °F


def test_its_numbers_stand_beside_it(piece, rain_at_noon):
    hours = picture_of(piece).hours
    assert len(hours) == BEHIND + AHEAD
    assert (hours[BEHIND].air, hours[BEHIND].dew_point) == (20, 10.7)  # 20 °C, 55 %: trade table
    assert [hour.rained_on for hour in hours[BEHIND + 2 : BEHIND + 7]] == [False, True, True, True, False]
