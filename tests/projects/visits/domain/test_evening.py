"""The evening before a visit, in steady air: what each course costs by the contractor's terms."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest

from finishing.air.models import YearOfWeather
from finishing.science.hours import Hours
from projects.record.models import Piece
from projects.visits.domain.evening import evening_before, odds
from tests.factories import PartFactory, PieceFactory, VisitFactory, VisitPieceFactory, steady_forecast

pytestmark = pytest.mark.django_db
EVENING = datetime(2026, 5, 11, 18, tzinfo=UTC)


@pytest.fixture
def visit(workshop, system, roof, owner):
    """Half a square metre for an hour on the clock: 60 to come, 30 to travel, 90 an hour."""
    visit = VisitFactory(workshop=workshop)
    part = PartFactory(design__workshop=workshop, name="frame", system=system)
    VisitPieceFactory(visit=visit, piece=PieceFactory(part=part, place=roof, mark="F-1"), minutes=60)
    visit.refresh_from_db()
    return visit


def test_in_dry_air_it_says_go(workshop, visit):
    steady_forecast(workshop, EVENING - timedelta(hours=2))
    evening = evening_before(visit, EVENING)
    assert evening.advised is evening.go
    assert evening.go.cost == Decimal(180)
    assert evening.go.in_vain == ()
    assert evening.call_off_by == datetime(2026, 5, 10, 7, tzinfo=UTC)  # 48 hours before eight o'clock in London
    assert evening.postpone.cost == evening.owed_late == Decimal(90)  # half of what the day would have cost


def test_in_damp_air_all_of_it_would_be_in_vain(workshop, visit):
    """92 %: no paint goes on, and a contractor told two days before costs nothing."""
    steady_forecast(workshop, EVENING - timedelta(hours=2), humidity=92)
    evening = evening_before(visit, EVENING)
    assert evening.advised is evening.postpone
    assert evening.go.wasted == evening.go.cost == Decimal(180)
    assert not evening.split.possible
    early = datetime(2026, 5, 9, 18, tzinfo=UTC)
    assert evening_before(visit, early).postpone.cost == 0


def past_year(workshop, year, humidity):
    count = 8784 if year % 4 == 0 else 8760
    hours = Hours.from_arrays(
        np.datetime64(f"{year}-01-01T00"),
        temperature=np.full(count, 20.0),
        humidity=humidity,
        rain=0.0,
        rain_chance=0.0,
    )
    row = YearOfWeather(
        workshop=workshop, kind="past", label=str(year), year=year, source="open-meteo",
        latitude=workshop.latitude, longitude=workshop.longitude,
    )  # fmt: skip
    row.keep(hours)
    row.save()


def test_odds_count_the_days_of_past_years(workshop, visit, roof):
    """Three dry years and one damp: seven days of each are asked."""
    for year, humidity in ((2021, 55), (2022, 55), (2023, 55), (2024, 92)):
        past_year(workshop, year, humidity)
    piece = Piece.objects.with_log().get()
    asked = odds(visit, [date(2026, 7, 1)], roof, piece)[0]
    assert (asked.good, asked.years) == (21, 28)
    assert asked.share == 0.75
