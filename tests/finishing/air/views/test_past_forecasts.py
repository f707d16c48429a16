"""How good were the forecasts here: the page, told and not told yet."""

import pytest
import time_machine
from django.urls import reverse

from tests.finishing.air.domain.test_past_forecasts import DAYS, NOW, read_on, tell, told, workshop  # noqa: F401

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now():
    with time_machine.travel(NOW, tick=False):
        yield


def look(client):
    response = client.get(reverse("how-good"))
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def test_it_says_how_far_they_were_off_and_shows_it_first(guest_client, roof, yard, told):  # noqa: F811
    read_on(roof)
    shown = look(guest_client)
    assert "2 °C too warm" in shown
    assert "100 %</b> were" in shown
    assert shown.index("<svg") < shown.index("<table")
    assert '<td class="number">2 °C</td>' in shown
    assert "Nobody said with a reading whether it rained" in shown
    assert "<b>Yard</b> 0" in shown  # where nothing was read


def test_until_then_it_says_what_is_missing(owner_client, roof, told):  # noqa: F811
    read_on(roof, days=1, every=12)
    shown = look(owner_client)
    assert "Not known yet" in shown
    assert f"{DAYS} days of forecasts are kept" in shown
    assert reverse("logger-import") in shown
    assert "<svg" not in shown.split("<main")[1]


def test_a_us_workshop_reads_fahrenheit(owner_client, roof, workshop, told):  # noqa: F811
    read_on(roof)
    type(workshop).objects.update(units="us")
    assert "3.6 °F too warm" in look(owner_client)


def test_it_is_reached_from_the_weather(owner_client):
    assert reverse("how-good") in owner_client.get(reverse("weather")).content.decode()
