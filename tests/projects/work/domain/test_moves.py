"""Where a piece keeps dry, and when it may be moved: steady air, whose answers can be worked out by hand."""

from datetime import UTC, datetime, timedelta

import pytest

from projects.record.models import Piece
from projects.work.domain.moves import DryEnd, move, standing
from projects.work.domain.outlook import outlooks
from tests import factories

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)  # nine o'clock on the workshop's clock
START = NINE - timedelta(days=4)
HOUR = timedelta(hours=1)


@pytest.fixture
def heavy(workshop, shop, system):
    """Volume by area 20 mm: 144 kg of grey iron with 1 m²."""
    part = factories.PartFactory(design__workshop=workshop, system=system, mass=144, area=1)
    return factories.PieceFactory(part=part, place=shop)


def look(piece, now=NINE):
    return outlooks(piece.workshop, [Piece.objects.with_log().get(pk=piece.pk)], now)[0]


def cold(piece, celsius=5.0):
    factories.StepFactory(piece=piece, kind="noted", happened_at=NINE, surface_temperature=celsius)
    return look(piece)


def after(hours):
    return pytest.approx(NINE + hours * HOUR, abs=timedelta(minutes=2))


def test_iron_as_warm_as_its_air_stays_dry(workshop, heavy):
    factories.steady_forecast(workshop, START)  # 20 °C, 55 %: 9.3 °C above the dew point
    stays = standing(look(heavy))
    assert stays.holds.good
    assert (stays.holds.until, stays.holds.again) == (None, None)
    assert [working.result for working in stays.workings] == ["9.3 °C, 55 % at the metal"]


def test_a_cold_casting_sweats_until_it_has_warmed(workshop, heavy):
    """5 °C into 18 °C and 50 %, L 20 mm, h 8: dry after 0.47 h, 3 °C above after 1.24 h [INCROPERA ch. 5, by hand];
    read along the chord 0.53 and 1.28 h: late, never early."""
    factories.steady_forecast(workshop, START, temperature=18, humidity=50)
    stays = standing(cold(heavy))
    assert not stays.dry.good
    assert stays.dry.because == DryEnd.DEW
    assert stays.dry.again == after(0.53)
    assert stays.holds.again == after(1.28)
    assert "32 min past the full hour" in [working.result for working in stays.workings]
    # every time that is told shows the hours that it was read from, where only the worst move's were shown
    read = [working for working in stays.workings if "past the full hour" in working.result]
    assert [[row.cells[-1] for row in working.ledger.rows] for working in read] == [
        ["-2.4 °C", "2.2 °C", "5.1 °C"],
        ["-2.4 °C", "2.2 °C"],
    ]


def test_it_may_be_moved_once_it_is_warmer_than_the_dew_point_there(workshop, heavy, roof):
    factories.steady_forecast(workshop, START, temperature=18, humidity=50)
    under_roof = move(cold(heavy), roof)
    assert not under_roof.dry.good
    assert under_roof.dry.again == after(0.53)
    assert under_roof.worst.when == NINE
    assert under_roof.worst.under == pytest.approx(7.42 - 5, abs=0.01)
    now, again, *_ = under_roof.workings
    assert now.result == "2.4 °C under the dew point"
    assert [row.begin for row in now.ledger.rows] == [NINE, NINE + HOUR, NINE + 2 * HOUR]
    for row in now.ledger.rows:
        _, dew, metal, above = (float(cell.removesuffix(" °C")) for cell in row.cells)
        assert above == pytest.approx(metal - dew, abs=0.11)  # each to 0.1
    assert again.ledger == now.ledger


def test_metal_that_dews_under_a_clear_sky_may_not_be_moved_before_it_is_dry(workshop, heavy, yard, roof):
    """10 °C, dew point 7 °C, clear, wind 1 m/s: metal at 6.78 °C, 0.22 °C under it: fixtures/tables/clear_night.csv."""
    factories.steady_forecast(workshop, START, temperature=10, humidity=81.6, wind=1, cloud=0, sun=0)
    heavy.place = yard
    heavy.save()
    outlook = look(heavy)
    assert standing(outlook).dry.because == DryEnd.DEW
    under_roof = move(outlook, roof)
    assert (under_roof.dry.good, under_roof.dry.again) == (False, None)
    assert under_roof.worst.under == pytest.approx(0.22, abs=0.06)


def test_rain_ends_it_in_the_yard_and_not_under_a_roof(workshop, heavy, yard, roof):
    start = NINE - timedelta(days=1)
    rain = [0.0] * 27 + [1.0] * 2 + [0.0] * 100
    factories.steady_forecast(workshop, start, hours=len(rain), rain=rain, cloud=1.0, wind=3.0)
    outlook = look(heavy)
    in_yard = move(outlook, yard)
    assert in_yard.dry.until == NINE + 3 * HOUR
    assert in_yard.dry.because == DryEnd.RAIN
    assert in_yard.dry.again == NINE + 5 * HOUR
    assert in_yard.stays_dry.until == NINE + 3 * HOUR
    assert move(outlook, roof).dry.until is None


def test_where_the_forecast_ends_nothing_is_promised(workshop, heavy, roof):
    factories.steady_forecast(workshop, NINE - 24 * HOUR, hours=24 + 11)
    outlook = look(heavy)
    for times in (standing(outlook).dry, move(outlook, roof).stays_dry):
        assert times.until == NINE + 10 * HOUR  # the last instant that is known
        assert times.because == DryEnd.NOT_KNOWN


def test_without_any_air_nothing_is_good(heavy, roof):
    outlook = look(heavy)
    for times in (standing(outlook).dry, move(outlook, roof).dry):
        assert (times.good, times.because, times.again) == (False, DryEnd.NOT_KNOWN, None)
    assert move(outlook, roof).worst is None
    assert standing(outlook).workings == []


def test_between_two_hours_the_moment_is_read_along_the_chord(workshop, heavy):
    """Half past, the metal of the case above stands half-way between 5.0 and 9.58 °C."""
    factories.steady_forecast(workshop, START, temperature=18, humidity=50)
    cold(heavy)
    assert look(heavy, NINE + HOUR / 2).metal_now == pytest.approx((5.0 + 9.58) / 2, abs=0.02)


def test_a_surface_measured_a_moment_ago_is_the_metal_now(workshop, heavy):
    factories.steady_forecast(workshop, START)
    factories.StepFactory(piece=heavy, kind="noted", happened_at=NINE + HOUR / 6, surface_temperature=9)
    assert look(heavy, NINE + HOUR / 6).metal_now == 9
    assert 9 < look(heavy, NINE + HOUR / 5).metal_now < 9.2  # in air of 20 °C the reckoning goes on from it


def test_one_temperature_is_fair_for_it(workshop, heavy):
    """Bi = 8·0.020 / 46 = 0.0035 and τ = 2.3 h, worked by hand [INCROPERA ch. 5]."""
    factories.steady_forecast(workshop, START)
    stays = standing(look(heavy))
    assert stays.biot == pytest.approx(0.0035, abs=0.0001)
    assert stays.lag.result == "2.3 h"
