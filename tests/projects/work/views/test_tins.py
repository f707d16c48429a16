"""Opened tins: noted with one tap, looked at later, asked for on the day sheet when their keeping time is over."""

import uuid
from datetime import date

import pytest
import time_machine
from django.db import DatabaseError, transaction
from django.urls import reverse

from projects.record.models import OpenedTin, TinLook
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _a_day_in_november():
    with time_machine.travel("2026-11-18 10:00", tick=True):
        yield


@pytest.fixture
def enamel(workshop):
    return factories.CoatingFactory(workshop=workshop, name="Green enamel", keeps_opened=180)


def read(client, name, *args):
    return client.get(reverse(name, args=args)).content.decode()


def test_one_tap_is_one_tin_however_often_and_another_is_said_so(helper_client, enamel):
    for _ in range(2):
        answer = helper_client.post(reverse("opened-tin-today"), {"coating": enamel.pk})
    tin = OpenedTin.objects.get()
    assert (answer.url, tin.opened_on) == (reverse("opened-tin", args=[tin.pk]), date(2026, 11, 18))
    assert "Keeps until Monday 17 May 2027" in read(helper_client, "opened-tin", tin.pk)  # 180 days on
    more = {"id": str(uuid.uuid4()), "coating": enamel.pk, "opened_on": "2026-11-18", "litres": "1 L"}
    helper_client.post(reverse("opened-tin-new"), more)
    helper_client.post(reverse("opened-tin-new"), more)
    assert OpenedTin.objects.count() == 2
    more["opened_on"] = "2026-11-19"
    assert "still to come" in helper_client.post(reverse("opened-tin-new"), {**more, "id": ""}).content.decode()


def test_the_latest_look_says_how_it_stands_and_the_day_sheet_asks_for_it_no_longer(helper_client, enamel):
    tin = factories.OpenedTinFactory(coating=enamel, opened_on=date(2026, 5, 1), litres=2.5)
    assert "past its time since 28 Oct 2026" in read(helper_client, "day-sheet")
    page = reverse("opened-tin", args=[tin.pk])
    wrong = helper_client.post(page, {"id": str(uuid.uuid4()), "found": "used up", "litres": "0.5 L"})
    assert "Nothing remains of it then" in wrong.content.decode()
    helper_client.post(page, {"id": str(uuid.uuid4()), "found": "shut", "litres": "0.5 L"})
    assert "500 mL left" in read(helper_client, "day-sheet")
    helper_client.post(page, {"id": str(uuid.uuid4()), "found": "thrown away"})
    assert "Opened tins to look at" not in read(helper_client, "day-sheet")
    assert "Green enamel" not in read(helper_client, "opened-tins").split("<main")[1]
    assert "Green enamel" in helper_client.get(reverse("opened-tins") + "?all=1").content.decode()
    helper_client.post(page, {"id": str(uuid.uuid4()), "found": "shut"})
    assert "Opened tins to look at" in read(helper_client, "day-sheet")


def test_neither_tin_nor_look_is_changed_and_a_guest_notes_none(guest_client, enamel):
    tin = factories.OpenedTinFactory(coating=enamel)
    TinLook.objects.create(workshop=enamel.workshop, tin=tin, found="shut", by=tin.by)
    for rows in (OpenedTin.objects, TinLook.objects):
        for attempt in (lambda rows=rows: rows.update(note="never mind"), lambda rows=rows: rows.all().delete()):
            with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
                attempt()
    assert guest_client.post(reverse("opened-tin-today"), {"coating": enamel.pk}).status_code == 403
    guest_client.post(reverse("opened-tin", args=[tin.pk]), {"found": "used up"})
    assert TinLook.objects.count() == 1
