"""Passwords cannot be tried out at speed, and nobody else is shut out by it."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.urls import reverse

from finishing.workshops.actions.sign_ins import try_sign_in
from finishing.workshops.models import FailedSignIn
from finishing.workshops.models.sign_ins import COUNTS_FOR, MOST
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 5, 12, 12, tzinfo=UTC)
RIGHT = "grit and iron"


@pytest.fixture(autouse=True)
def people(workshop):
    for name in ("ada", "bea"):
        person = UserFactory(username=name)
        person.set_password(RIGHT)
        person.save()


@pytest.fixture
def clock():
    with time_machine.travel(NOON, tick=False) as traveller:
        yield traveller


def sign_in(client, name, password=RIGHT, address="192.0.2.7", door="sign-in"):
    client.logout()
    return client.post(reverse(door), {"username": name, "password": password}, REMOTE_ADDR=address)


def wrong(client, times, name="ada", **where):
    return [sign_in(client, name, "guessed", **where) for _ in range(times)]


def said(answer):
    return " ".join(answer.content.decode().split())


def test_after_several_wrong_passwords_even_the_right_one_waits_and_the_page_says_how_long(client, clock):
    assert "Wait" not in said(wrong(client, MOST["name"])[-1])
    answer = sign_in(client, "ada")
    assert answer.status_code == 200
    assert "Too many wrong passwords" in said(answer)
    assert "Wait 10 minutes" in said(answer)
    assert 'value="ada"' in said(answer)


def test_the_right_password_works_again_after_the_wait(client, clock):
    wrong(client, MOST["name"])
    clock.move_to(NOON + COUNTS_FOR - timedelta(seconds=30))
    assert "Wait 1 minute," in said(sign_in(client, "ada"))
    clock.move_to(NOON + COUNTS_FOR)
    assert sign_in(client, "ada").status_code == 302


def test_tries_while_waiting_do_not_make_the_wait_longer(client, clock):
    wrong(client, MOST["name"])
    clock.move_to(NOON + COUNTS_FOR / 2)
    wrong(client, 3)
    clock.move_to(NOON + COUNTS_FOR)
    assert sign_in(client, "ada").status_code == 302


def test_another_person_comes_in_from_the_same_device(client, clock):
    wrong(client, MOST["name"] + 3)
    assert sign_in(client, "bea").status_code == 302


def test_a_name_waits_from_wherever_it_is_tried(client, clock):
    for last in range(MOST["name"]):
        wrong(client, 1, address=f"192.0.2.{last}")
    assert "Wait" in said(sign_in(client, "ada", address="198.51.100.1"))


def test_an_address_that_tries_many_names_waits_and_others_do_not(client, clock):
    for at in range(MOST["address"]):
        wrong(client, 1, name=f"name{at}")
    assert "Wait" in said(sign_in(client, "bea"))
    assert sign_in(client, "bea", address="198.51.100.1").status_code == 302


def test_the_right_password_clears_the_count(client, clock):
    for _ in range(3):
        wrong(client, MOST["name"] - 1)
        assert sign_in(client, "ada").status_code == 302
    assert not FailedSignIn.objects.exists()


def test_an_empty_password_clears_nothing_and_counts_as_nothing(client, clock):
    wrong(client, MOST["name"])
    assert "Wait" not in said(sign_in(client, "ada", ""))
    assert FailedSignIn.objects.count() == MOST["name"]
    assert "Wait" in said(sign_in(client, "ada"))


def test_the_door_of_the_back_room_is_as_patient(client, clock):
    wrong(client, MOST["name"], door="admin:login")
    assert "Wait 10 minutes" in said(sign_in(client, "ada", door="admin:login"))
    assert "Wait 10 minutes" in said(sign_in(client, "ada"))


def test_what_was_typed_as_a_name_is_not_kept_and_old_tries_go(client, clock):
    wrong(client, 1, name="my own password")
    assert "password" not in FailedSignIn.objects.get().name
    clock.move_to(NOON + COUNTS_FOR)
    wrong(client, 1, name="ada")
    assert FailedSignIn.objects.count() == 1


def test_tries_at_the_same_moment_count_one_another():
    """Each is noted before it is judged: of twice as many at once, as in several workers, no more are looked at."""
    assert [bool(try_sign_in("ada", "192.0.2.7", NOON)) for _ in range(2 * MOST["name"])].count(False) == MOST["name"]
