"""An ensemble kept beside the forecast, and never in its way."""

import json
from datetime import UTC, datetime, timedelta

import pytest

from finishing.air.actions.ensembles import last_trouble
from finishing.air.actions.weather import fetch_forecast
from finishing.air.models import Ensemble
from finishing.workshops.models import Workshop
from tests.finishing.air.actions.test_weather import told_by_open_meteo
from tests.finishing.weather.conftest import service  # noqa: F401

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 12, 8, tzinfo=UTC)
RUNS = ("", "_member01", "_member02")


def members(count=60):
    """An answer of the documented shape: three members, one as warm again as the one before."""
    told = json.loads(told_by_open_meteo(count=count))
    own = {"temperature_2m": 10.0, "relative_humidity_2m": 60.0, "precipitation": 0.0}
    hourly = {f"{name}{run}": [value + n] * count for n, run in enumerate(RUNS) for name, value in own.items()}
    return json.dumps({**told, "hourly": {"time": told["hourly"]["time"], **hourly}})


@pytest.fixture
def asking(workshop):
    workshop.weather_service, workshop.weather_ensemble = Workshop.WeatherService.OPEN_METEO, "gfs_seamless"
    return workshop


def test_it_is_fetched_beside_the_forecast_and_only_the_newest_is_kept(asking, service):  # noqa: F811
    for body in (told_by_open_meteo(), members()):
        service.will_answer(body=body)
    assert fetch_forecast(asking, NOW, base_url=service.url).news
    kept = Ensemble.objects.get()
    assert (kept.model, kept.until) == ("gfs_seamless", datetime(2026, 5, 14, 12, tzinfo=UTC))
    assert [member.temperature[0] for member in kept.ahead(NOW)] == [10, 11, 12]
    assert {str(member.start) for member in kept.ahead(NOW)} == {"2026-05-12T08"}
    service.will_answer(body=told_by_open_meteo())
    fetch_forecast(asking, NOW + timedelta(hours=2), base_url=service.url)  # six hours have not gone by
    assert len(service.asked) == 3
    for body in (told_by_open_meteo(), members()):
        service.will_answer(body=body)
    fetch_forecast(asking, NOW + timedelta(hours=7), base_url=service.url)
    assert Ensemble.objects.get().fetched_at == NOW + timedelta(hours=7)


@pytest.mark.parametrize(("status", "body"), [(429, ""), (200, "no weather"), (200, told_by_open_meteo())])
def test_where_none_comes_the_forecast_is_there_all_the_same_and_the_reason_is_kept(
    asking,
    service,  # noqa: F811
    status,
    body,
):
    service.will_answer(body=told_by_open_meteo())
    service.will_answer(status, body)
    assert fetch_forecast(asking, NOW, base_url=service.url).news
    assert not Ensemble.objects.exists()
    assert "Open-Meteo" in last_trouble(asking)


def test_it_is_not_asked_for_where_none_is_chosen(asking, service):  # noqa: F811
    asking.weather_ensemble = Workshop.WeatherEnsemble.NONE
    service.will_answer(body=told_by_open_meteo())
    fetch_forecast(asking, NOW, base_url=service.url)
    assert len(service.asked) == 1


def test_one_that_has_run_out_or_is_another_service_s_is_not_told(asking, service):  # noqa: F811
    for body in (told_by_open_meteo(), members()):
        service.will_answer(body=body)
    fetch_forecast(asking, NOW, base_url=service.url)
    assert Ensemble.objects.told_to(asking, NOW)
    assert not Ensemble.objects.told_to(asking, NOW + timedelta(days=3))
    asking.weather_service = Workshop.WeatherService.MET_NORWAY
    assert not Ensemble.objects.told_to(asking, NOW)


def test_invented_weather_brings_invented_members_that_part_from_it_with_the_days(workshop):
    workshop.weather_service = Workshop.WeatherService.INVENTED
    forecast = fetch_forecast(workshop, NOW).forecast.to_hours()
    told = Ensemble.objects.get().ahead(NOW)
    assert len(told) == 10

    def apart(hours):
        return max(abs(member.temperature[hours] - forecast.temperature[hours]).max() for member in told)

    assert apart(slice(0, 6)) < 0.5 < apart(slice(150, 220))
