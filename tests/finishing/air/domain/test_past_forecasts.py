"""Past forecasts against the workshop's own readings: each of them so far off is found so far off."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from finishing.air.actions.ensembles import LEARNED, draw_ensemble, keep_ensemble
from finishing.air.actions.weather import keep_forecast
from finishing.air.domain.past_forecasts import PastForecasts, errors_outside, forecasts_told
from finishing.air.models import Ensemble, Reading
from finishing.science.hours import Hours
from finishing.workshops.models import Workshop
from tests.factories import ReadingFactory

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 5, 12, 8, tzinfo=UTC)
DAYS = 30


@pytest.fixture
def workshop(workshop):
    workshop.weather_service = Workshop.WeatherService.MET_NORWAY
    workshop.save()
    return workshop


def tell(workshop, at, too_warm=2.0, temperature=16.0, count=96, rain=0.0):
    hours = Hours.from_arrays(
        np.datetime64(at.replace(tzinfo=None), "h"), temperature=np.full(count, temperature + too_warm),
        dew_point=6.0, wind=2.0, cloud=1.0, sun=0.0, rain=rain, rain_chance=0.0,
    )  # fmt: skip
    return keep_forecast(workshop, hours, at)


def read_on(place, days=DAYS, every=3, temperature=16.0, **facts):
    """Air of 16 °C whose dew point is 6.0 °C (52 %)."""
    Reading.objects.bulk_create(
        ReadingFactory.build(workshop=place.workshop, place=place, taken_at=NOW - timedelta(hours=hours),
                             temperature=temperature, humidity=51.55, **facts)
        for hours in range(0, 24 * days, every)
    )  # fmt: skip


@pytest.fixture
def told(workshop):
    """Every evening of a month two degrees too warm."""
    for day in range(1, DAYS + 1):
        tell(workshop, NOW - timedelta(days=day, hours=-10))


def test_what_was_foretold_too_warm_is_found_so(workshop, roof, told):
    read_on(roof)
    errors = PastForecasts(roof, forecasts_told(workshop, NOW), NOW).errors
    assert errors.reach >= 90
    assert errors.air_bias[:90] == pytest.approx(2.0, abs=0.01)
    assert errors.air_spread[:90] == pytest.approx(0.0, abs=0.01)
    assert errors.dew_bias[:90] == pytest.approx(0.0, abs=0.05)


def test_one_forecast_a_day_counts_and_another_place_or_service_does_not(workshop, roof, told):
    tell(workshop, NOW - timedelta(days=3, hours=2))  # earlier on a day that has a later one
    elsewhere = tell(workshop, NOW - timedelta(hours=1))
    elsewhere.hours["place"] = [1.0, 2.0]
    elsewhere.save()
    assert len(forecasts_told(workshop, NOW)) == DAYS
    workshop.weather_service = Workshop.WeatherService.OPEN_METEO
    assert forecasts_told(workshop, NOW) == []


def test_a_shop_is_held_against_what_was_read_in_it(workshop, shop, told):
    """Warmed to 16 °C where it would be colder: 18 °C as foretold outside, and 17 °C as read."""
    read_on(shop, temperature=17.0)
    errors = PastForecasts(shop, forecasts_told(workshop, NOW), NOW).errors
    assert errors.air_bias[10:90] == pytest.approx(1.0, abs=0.01)


def test_workable_came_true_where_the_air_was_so_dry_and_not_where_rain_was_seen(workshop, roof, yard, told):
    read_on(roof)
    read_on(yard, raining=True)
    forecasts = forecasts_told(workshop, NOW)
    foretold, came_true = PastForecasts(roof, forecasts, NOW).workable
    assert foretold.sum() > 500
    assert came_true.sum() == foretold.sum()
    foretold, came_true = PastForecasts(yard, forecasts, NOW).workable
    assert foretold.sum() > 500
    assert came_true.sum() == 0


def test_rain_is_scored_where_somebody_looked(workshop, yard):
    for day in range(1, DAYS + 1):
        tell(workshop, NOW - timedelta(days=day, hours=-10), rain=1.0 if day % 2 else 0.0, count=24)
    read_on(yard, raining=True)
    rain = PastForecasts(yard, forecasts_told(workshop, NOW), NOW).errors.rain
    assert rain.hits[12] == rain.missed[12] > 20
    assert rain.share_foretold[12] == pytest.approx(0.5)


def test_nothing_is_learned_from_too_little(workshop, roof, told):
    assert errors_outside(workshop, NOW) is None
    read_on(roof, days=2)
    assert errors_outside(workshop, NOW) is None


def test_members_stand_in_where_no_ensemble_comes(workshop, roof, told):
    """They are the forecast less its bias, the same from the same forecast; a service's own ensemble goes before."""
    newest = tell(workshop, NOW)
    assert draw_ensemble(workshop, newest, NOW) is None
    read_on(roof)
    drawn = draw_ensemble(workshop, newest, NOW)
    assert drawn.model == LEARNED
    assert Ensemble.objects.told_to(workshop, NOW) == drawn
    assert drawn.until == NOW + timedelta(hours=96)
    for member in drawn.ahead(NOW):
        assert member.temperature == pytest.approx(16.0, abs=0.1)
    assert draw_ensemble(workshop, newest, NOW).members == drawn.members
    workshop.weather_ensemble = "gfs_seamless"
    keep_ensemble(workshop, [newest.to_hours()], NOW, model="gfs_seamless")
    assert draw_ensemble(workshop, newest, NOW) is None
    assert Ensemble.objects.get().model == "gfs_seamless"
