"""What the page does once it is shown."""

from datetime import timedelta

import numpy as np
import pytest
from django.core.cache import cache
from django.utils import timezone

from finishing.air.actions import weather
from finishing.science.hours import Hours, utc
from finishing.weather import WeatherUnavailable, met_norway
from finishing.workshops.models import Workshop

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.browser]


@pytest.fixture
def expired(workshop):
    cache.clear()
    Workshop.objects.update(weather_service="met norway")
    workshop.refresh_from_db()
    fetched = timezone.now() - timedelta(hours=5)
    hours = Hours.from_arrays(utc(fetched).astype("datetime64[h]"), temperature=np.full(240, 11.0), humidity=64)
    return weather.keep_forecast(workshop, hours, fetched)


def test_a_service_that_is_down_is_told_without_keeping_the_page_waiting(signed_in_page, expired, monkeypatch):
    asked = []

    def silent(*args, **kwargs):
        asked.append(args)
        raise WeatherUnavailable("MET Norway did not answer within 15 seconds.")

    monkeypatch.setattr(met_norway, "get_forecast", silent)
    signed_in_page.goto("/weather/")
    told = signed_in_page.locator("#freshness .trouble")
    told.wait_for()
    assert "did not answer within 15 seconds" in told.inner_text()
    assert "last checked 5 h ago" in signed_in_page.locator("#freshness").inner_text()
    signed_in_page.goto("/weather/")
    assert told.is_visible()
    assert len(asked) == 1


def test_a_new_forecast_shows_itself(signed_in_page, expired, monkeypatch):
    def answers(workshop, now):
        hours = Hours.from_arrays(utc(now).astype("datetime64[h]"), temperature=np.full(240, 23.0), humidity=50)
        return weather.Fetched(weather.keep_forecast(workshop, hours, now), news=True)

    monkeypatch.setattr(weather, "fetch_forecast", answers)
    signed_in_page.goto("/weather/")
    signed_in_page.get_by_text("last checked just now").wait_for()
    assert "23 °C" in signed_in_page.locator("table").first.text_content()
