"""Passwords cannot be tried out at speed, and nobody else is shut out by it."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from finishing.workshops.access import DEVICE
from finishing.workshops.actions.sign_ins import try_sign_in
from finishing.workshops.models import FailedSignIn
from finishing.workshops.models.sign_ins import COUNTS_FOR, OF_A_STRANGER, digest
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db
FEW, OF_AN_ADDRESS, OF_A_NAME = (most for _, most in OF_A_STRANGER)
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
    client.post(reverse("sign-out"))
    return client.post(reverse(door), {"username": name, "password": password}, REMOTE_ADDR=address)


def wrong(client, times, name="ada", **where):
    return [sign_in(client, name, "guessed", **where) for _ in range(times)]


def said(answer):
    return " ".join(answer.content.decode().split())


def test_after_several_wrong_passwords_even_the_right_one_waits_and_the_page_says_how_long(client, clock):
    assert "Wait" not in said(wrong(client, FEW)[-1])
    answer = sign_in(client, "ada")
    assert answer.status_code == 200
    assert "Too many wrong passwords" in said(answer)
    assert "Wait 10 minutes" in said(answer)
    assert 'value="ada"' in said(answer)


def test_the_right_password_works_again_after_the_wait(client, clock):
    wrong(client, FEW)
    clock.move_to(NOON + COUNTS_FOR - timedelta(seconds=30))
    assert "Wait 1 minute," in said(sign_in(client, "ada"))
    clock.move_to(NOON + COUNTS_FOR)
    assert sign_in(client, "ada").status_code == 302


def test_tries_while_waiting_do_not_make_the_wait_longer(client, clock):
    wrong(client, FEW)
    clock.move_to(NOON + COUNTS_FOR / 2)
    wrong(client, 3)
    clock.move_to(NOON + COUNTS_FOR)
    assert sign_in(client, "ada").status_code == 302


def test_another_person_comes_in_from_the_same_device(client, clock):
    wrong(client, FEW + 3)
    assert sign_in(client, "bea").status_code == 302


def test_wrong_passwords_from_elsewhere_shut_nobody_out(client, clock):
    wrong(client, FEW + 3)
    assert sign_in(client, "ada", address="198.51.100.1").status_code == 302


def test_a_name_that_is_tried_from_many_addresses_waits_on_devices_that_it_does_not_know(client, clock):
    at_home = Client()
    assert sign_in(at_home, "ada", address="203.0.113.5").status_code == 302
    for last in range(OF_A_NAME):
        wrong(client, 1, address=f"192.0.2.{last}")
    assert "Wait" in said(sign_in(client, "ada", address="198.51.100.1"))
    assert sign_in(at_home, "ada", address="203.0.113.9").status_code == 302


def test_a_known_device_comes_in_beside_a_stranger_at_the_same_address(client, clock):
    at_home = Client()
    sign_in(at_home, "ada")
    for at in range(OF_AN_ADDRESS):
        wrong(client, 1, name=f"name{at}")
    assert "Wait" in said(sign_in(client, "ada"))
    assert sign_in(at_home, "ada").status_code == 302


def test_a_known_device_has_as_few_tries_as_others_and_only_for_who_signed_in_on_it(client, clock):
    sign_in(client, "ada")
    assert "Wait" in said(wrong(client, FEW + 1, address="192.0.2.8")[-1])
    assert "Wait" in said(sign_in(client, "ada", address="192.0.2.9"))
    assert "Wait" in said(wrong(client, FEW + 1, name="bea")[-1])
    assert sign_in(client, "bea", address="192.0.2.9").status_code == 302


def test_a_mark_that_nobody_gave_is_none(client, clock):
    wrong(client, OF_AN_ADDRESS, name="ada")
    client.cookies[DEVICE] = f"made-up {digest('ada')}:{'x' * 20}"
    assert "Wait" in said(sign_in(client, "ada"))


def test_who_is_signed_in_gets_no_new_mark(client, clock):
    """Else a stolen session would be as many devices as it likes, each with tries of its own."""
    sign_in(client, "ada")
    del client.cookies[DEVICE]
    assert client.get(reverse("sources")).status_code == 200
    assert DEVICE not in client.cookies


def test_the_old_password_cannot_be_tried_out_either(client, clock):
    sign_in(client, "ada")
    new = {"new_password1": "iron and grit", "new_password2": "iron and grit"}

    def change(old):
        return client.post(reverse("password"), {"old_password": old, **new})

    for _ in range(FEW):
        assert "Wait" not in said(change("guessed"))
    assert "Too many wrong passwords. Wait 10 minutes" in said(change(RIGHT))
    clock.move_to(NOON + COUNTS_FOR)
    assert change(RIGHT).status_code == 302
    assert not FailedSignIn.objects.exists()


def test_an_address_that_tries_many_names_waits_and_others_do_not(client, clock):
    for at in range(OF_AN_ADDRESS):
        wrong(client, 1, name=f"name{at}")
    assert "Wait" in said(sign_in(client, "bea"))
    assert sign_in(client, "bea", address="198.51.100.1").status_code == 302


def test_the_right_password_clears_the_count_where_it_was_given(client, clock):
    for _ in range(3):
        wrong(client, FEW - 1)
        assert sign_in(client, "ada").status_code == 302
        del client.cookies[DEVICE]
    assert not FailedSignIn.objects.exists()


def test_an_empty_password_clears_nothing_and_counts_as_nothing(client, clock):
    wrong(client, FEW)
    assert "Wait" not in said(sign_in(client, "ada", ""))
    assert FailedSignIn.objects.count() == FEW
    assert "Wait" in said(sign_in(client, "ada"))


def test_the_door_of_the_back_room_is_as_patient(client, clock):
    wrong(client, FEW, door="admin:login")
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
    assert [bool(try_sign_in("ada", "192.0.2.7", "", NOON)) for _ in range(2 * FEW)].count(False) == FEW
