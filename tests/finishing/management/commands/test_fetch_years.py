"""Past years from the command line, with invented weather so that nobody is asked."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from finishing.air.actions import years
from finishing.air.models import YearOfWeather
from finishing.weather import WeatherUnavailable
from finishing.workshops.models import Workshop

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _two_years_are_enough(monkeypatch):
    monkeypatch.setattr(years, "YEARS_BACK", 2)


@pytest.fixture
def invented(workshop):
    Workshop.objects.update(weather_service=Workshop.WeatherService.INVENTED)
    return workshop


def said(**options):
    out = StringIO()
    call_command("fetch_years", stdout=out, **options)
    return out.getvalue()


def test_it_fetches_until_all_are_here_and_then_asks_no_more(invented):
    assert "2 of 2 years; all are here." in said()
    assert YearOfWeather.objects.count() == 2
    assert "…" not in said()


def test_one_workshop_may_be_named(invented, other_workshop):
    said(workshop=invented.name)
    assert not YearOfWeather.objects.of(other_workshop).exists()


def test_it_stops_at_the_first_trouble_and_says_it(workshop, monkeypatch):
    def refused(*anything):
        raise WeatherUnavailable("The archive is away.")

    Workshop.objects.update(weather_service=Workshop.WeatherService.OPEN_METEO)
    monkeypatch.setattr(years, "keep_past_year", refused)
    assert "0 of 2 years; The archive is away." in said()


def test_a_workshop_that_is_not_there_is_told(db):
    with pytest.raises(CommandError, match="no workshop called Nowhere"):
        said(workshop="Nowhere")
    with pytest.raises(CommandError, match="no workshop yet"):
        said()
