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


def past_year(workshop, year, humidity, rain=0.0):
    count = 8784 if year % 4 == 0 else 8760
    hours = Hours.from_arrays(
        np.datetime64(f"{year}-01-01T00"),
        temperature=np.full(count, 20.0),
        humidity=humidity,
        rain=rain,
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


def at_eight_in_the_evening(count):
    return np.where(np.arange(count) % 24 == 20, 1.0, 0.0)


def test_odds_ask_that_the_coat_bears_its_night(workshop, visit, roof, yard, system):
    """Dry days with rain each evening at eight: the primer bears it four hours after its last stroke, when it may be
    handled (the type's stage, common practice). Under the roof no rain falls; in the yard only starts before four do,
    and with a paint that takes twenty hours none: the hours of the application alone were fine every day."""
    for year in (2021, 2022, 2023):
        past_year(workshop, year, 55, at_eight_in_the_evening(8760))
    piece = Piece.objects.with_log().get()
    assert odds(visit, [date(2026, 7, 1)], roof, piece)[0].good == 21
    assert odds(visit, [date(2026, 7, 1)], yard, piece)[0].good == 21
    system.coats[0].coating.drying_points.update(handle=20, recoat_from=30)
    piece = Piece.objects.with_log().get()
    assert odds(visit, [date(2026, 7, 1)], yard, piece)[0].good == 0
    assert odds(visit, [date(2026, 7, 1)], roof, piece)[0].good == 21


def test_a_year_that_does_not_tell_its_rain_is_asked_as_if_none_fell(workshop, visit, yard):
    for year in (2021, 2022, 2023):
        past_year(workshop, year, 55, np.nan)
    assert odds(visit, [date(2026, 7, 1)], yard, Piece.objects.with_log().get())[0].good == 21
