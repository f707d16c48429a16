"""A sensor sends its readings: what it may, what is kept of it, and when it may no longer."""

import json
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from finishing.air.actions.sensors import MOST_A_MINUTE
from finishing.air.models import Reading, Sensor

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 5, 12, 9, 20, tzinfo=UTC)
AIR = {"temperature": 12.4, "humidity": 71}


@pytest.fixture(autouse=True)
def _now():
    cache.clear()
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def sensor(owner_client, workshop, yard):
    owner_client.post(reverse("sensors"), {"name": "by the door", "place": yard.pk})
    return Sensor.objects.of(workshop).get()


def address(sensor):
    return reverse("sensor-hear", args=[sensor.token])


def sent(sensor, data, **how):
    """As a device sends: no sign-in, no cookie, and a forged request counts for nothing here."""
    stranger = Client(enforce_csrf_checks=True)
    return stranger.post(address(sensor), json.dumps(data), content_type="application/json", **how)


def test_what_it_sends_is_a_reading_of_its_place(sensor, yard):
    assert sent(sensor, AIR).status_code == 201
    reading = Reading.objects.get()
    assert (reading.place, reading.taken_at, reading.source, reading.by) == (yard, NOW, "sensor by the door", None)
    assert reading.temperature.magnitude == 12.4
    assert reading.humidity.magnitude == 71


def test_a_form_post_will_do(sensor):
    assert Client(enforce_csrf_checks=True).post(address(sensor), AIR).status_code == 201


def test_a_bare_number_is_celsius_though_the_workshop_reads_fahrenheit(sensor, workshop):
    type(workshop).objects.update(units="us")
    assert sent(sensor, {**AIR, "surface_temperature": "50 °F"}).status_code == 201
    reading = Reading.objects.get()
    assert reading.temperature.magnitude == 12.4
    assert reading.surface_temperature.magnitude == pytest.approx(10)


@pytest.mark.parametrize(
    "written", ["2026-05-12T09:10:00Z", "2026-05-12T10:10:00+01:00", 1778577000, "1778577000", 1778577000000]
)
def test_its_own_time_counts_where_it_tells_one(sensor, written):
    assert sent(sensor, {**AIR, "taken_at": written}).status_code == 201
    assert Reading.objects.get().taken_at == datetime(2026, 5, 12, 9, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"temperature": 12}, "humidity"),
        ({**AIR, "temperature": "warm"}, "temperature"),
        ({**AIR, "temperature": 1e999}, "temperature"),
        ({**AIR, "humidity": 0}, "humidity"),
        ({**AIR, "humidity": 140}, "humidity"),
        ({**AIR, "taken_at": "soon"}, "taken_at"),
        ({**AIR, "taken_at": 1e300}, "taken_at"),
        ({**AIR, "taken_at": "2026-05-12T12:00:00Z"}, "taken_at"),
    ],
)
def test_what_is_wrong_is_told_by_its_name(sensor, wrong, field):
    answer = sent(sensor, wrong)
    assert answer.status_code == 422
    assert answer.json()["errors"][field]
    assert not Reading.objects.exists()


GARBLED = [b"{", b"[]", b'"air"', b'{"temperature": {"a": 1}}', b"\xff", b"[" * 3000, b" " * 5000]


@pytest.mark.parametrize("garbled", GARBLED)
def test_what_cannot_be_read_is_told_so(sensor, garbled):
    answer = Client().post(address(sensor), garbled, content_type="application/json")
    assert answer.status_code == 400
    assert "JSON" in answer.json()["errors"][""][0]


def test_no_more_is_kept_than_one_in_five_minutes(sensor):
    answers = []
    for minutes in range(11):
        with time_machine.travel(NOW + timedelta(minutes=minutes), tick=False):
            cache.clear()
            answers.append(sent(sensor, AIR).status_code)
    assert [minute for minute, status in enumerate(answers) if status == 201] == [0, 5, 10]
    assert {status for status in answers if status != 201} == {200}


def test_who_sends_all_the_time_is_told_to_wait(sensor):
    answers = [sent(sensor, AIR).status_code for _ in range(MOST_A_MINUTE + 1)]
    assert answers[-2:] == [200, 429]


def test_a_closed_sensor_is_heard_no_more_and_what_it_read_stays(sensor, owner_client):
    sent(sensor, AIR)
    owner_client.post(reverse("sensor-close", args=[sensor.pk]))
    assert sent(sensor, AIR).status_code == 404
    assert Reading.objects.count() == 1


def test_its_address_opens_nothing_to_read(sensor):
    assert Client().get(address(sensor)).status_code == 405
    assert Client().post(reverse("sensor-hear", args=["not-this"]), AIR).status_code == 404


def test_a_reading_of_a_sensor_that_lies_is_taken_out(sensor, helper_client):
    sent(sensor, AIR)
    remove = reverse("reading-remove", args=[Reading.objects.get().pk])
    assert remove in helper_client.get(reverse("readings")).content.decode()
    helper_client.post(remove)
    assert not Reading.objects.exists()


def test_two_of_one_name_would_not_be_told_apart(sensor, owner_client, yard):
    page = owner_client.post(reverse("sensors"), {"name": "by the door", "place": yard.pk})
    assert "choose another name" in page.content.decode()
    assert Sensor.objects.count() == 1


def test_the_page_tells_when_it_was_heard_and_a_helper_may_not_give_addresses(sensor, owner_client, helper_client):
    assert "not heard yet" in owner_client.get(reverse("sensors")).content.decode()
    sent(sensor, AIR)
    assert "heard" in owner_client.get(reverse("sensors")).content.decode()
    assert helper_client.get(reverse("sensors")).status_code == 403
