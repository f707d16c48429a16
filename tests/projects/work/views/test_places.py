"""A place's page, and the part of it that a piece's page asks for."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.urls import reverse

from tests import factories

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)


@pytest.fixture
def measured(workshop, roof):
    factories.steady_forecast(workshop, NINE - timedelta(days=20), hours=24 * 30)
    for day in range(6):
        taken_at = NINE - timedelta(days=day, hours=1)
        factories.ReadingFactory(place=roof, taken_at=taken_at, temperature=20, humidity=55, surface_temperature=18.8)
    return roof


def told(client, place, **headers):
    with time_machine.travel(NINE, tick=False):
        response = client.get(reverse("place", args=[place.pk]), headers=headers)
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def test_it_says_which_way_the_estimate_runs_and_that_nothing_is_corrected(guest_client, measured):
    page = told(guest_client, measured)
    assert "The estimate runs <b>1.2 °C warm</b> here, from 6 readings of the last 30 days." in page
    assert "It is not corrected by them." in page
    assert "on no piece" in page


def test_it_asks_for_more_where_there_are_few(guest_client, yard):
    assert "with 5 it can be said how far the estimate misses" in told(guest_client, yard)


def test_a_pieces_page_takes_only_the_words(guest_client, measured):
    part = told(guest_client, measured, HX_Request="true")
    assert "1.2 °C warm" in part
    assert "<html" not in part


def test_another_workshops_place_is_not_there(stranger_client, yard):
    assert stranger_client.get(reverse("place", args=[yard.pk])).status_code == 404


def test_the_weather_page_leads_there(guest_client, measured):
    with time_machine.travel(NINE, tick=False):
        page = guest_client.get(reverse("weather")).content.decode()
    assert reverse("place", args=[measured.pk]) in page
