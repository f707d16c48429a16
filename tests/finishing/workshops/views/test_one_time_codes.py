"""One-time codes let in whoever has the phone, once each; the codes are those of RFC 6238."""

from datetime import UTC, datetime, timedelta

import pyotp
import pytest
import time_machine
from django.core.management import call_command
from django.urls import reverse

from finishing.workshops.actions.one_time_codes import begin_codes, step_of
from finishing.workshops.models import AuditEntry, OneTimeCodes
from finishing.workshops.models.sign_ins import COUNTS_FOR

NOON = datetime(2026, 5, 12, 12, tzinfo=UTC)
PASSWORD = "iron and grit"  # pragma: allowlist secret
# RFC 6238, appendix B, the rows of SHA-1: of eight digits the last six are the code of six (RFC 4226, 5.3)
RFC_SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"  # "12345678901234567890" in base 32  # pragma: allowlist secret
RFC_6238 = {
    59: "94287082",
    1111111109: "07081804",
    1111111111: "14050471",
    1234567890: "89005924",
    2000000000: "69279037",
    20000000000: "65353130",
}


@pytest.mark.parametrize(("seconds", "digits"), RFC_6238.items())
def test_codes_are_those_of_the_rfc(seconds, digits):
    moment = datetime.fromtimestamp(seconds, UTC)
    assert step_of(RFC_SECRET, digits[-6:], moment) == seconds // 30
    assert step_of(RFC_SECRET, digits[-6:], moment + timedelta(seconds=30)) == seconds // 30
    assert step_of(RFC_SECRET, digits[-6:], moment + timedelta(seconds=90)) is None
    assert step_of(RFC_SECRET, digits[-6:], moment, after=seconds // 30) is None


@pytest.fixture
def clock():
    with time_machine.travel(NOON, tick=False) as traveller:
        yield traveller


@pytest.fixture
def recovery(owner, clock):
    return begin_codes(owner, RFC_SECRET, code_now(), NOON)


def code_now():
    return pyotp.TOTP(RFC_SECRET).now()


def password(client, name="owner"):
    return client.post(reverse("sign-in"), {"username": name, "password": PASSWORD, "next": reverse("audit")})


def typed(client, code):
    return client.post(reverse("sign-in-code"), {"code": code})


def is_in(client):
    return client.get(reverse("password")).status_code == 200


@pytest.mark.django_db
def test_the_password_alone_lets_nobody_in_who_has_codes(client, recovery, clock):
    assert password(client).url == reverse("sign-in-code")
    assert not is_in(client)
    assert not AuditEntry.objects.filter(what=AuditEntry.What.SIGNED_IN).exists()
    clock.shift(60)
    assert typed(client, code_now()).url == reverse("audit")
    assert is_in(client)


@pytest.mark.django_db
def test_a_code_works_once(client, recovery, clock):
    clock.shift(60)
    code = code_now()
    for let_in in (True, False):
        client.logout()
        password(client)
        typed(client, code)
        assert is_in(client) == let_in


@pytest.mark.django_db
def test_a_recovery_code_works_once_however_it_is_typed(client, recovery):
    assert len(set(recovery)) == 10
    assert not set(recovery) & set(OneTimeCodes.objects.get().recovery)
    for let_in in (True, False):
        client.logout()
        password(client)
        typed(client, f" {recovery[3][:5].upper()} {recovery[3][5:]}")
        assert is_in(client) == let_in


@pytest.mark.django_db
def test_wrong_codes_wait_and_the_account_s_own_device_does_not(client, recovery, clock):
    password(client)
    for _ in range(5):
        assert "not the code of this moment" in typed(client, "000000").content.decode()
    clock.shift(60)
    assert "Wait" in typed(client, code_now()).content.decode()
    clock.shift(COUNTS_FOR)
    password(client)
    assert typed(client, code_now()).status_code == 302
    other = type(client)()
    password(other)
    for _ in range(6):
        typed(other, "000000")
    client.post(reverse("sign-out"))
    password(client)
    clock.shift(60)
    assert typed(client, code_now()).status_code == 302


@pytest.mark.django_db
def test_the_page_of_the_code_is_for_a_short_while_after_the_password(client, recovery, clock):
    assert client.get(reverse("sign-in-code")).url == reverse("sign-in")
    password(client)
    clock.shift(timedelta(minutes=11))
    assert typed(client, code_now()).url == reverse("sign-in")


@pytest.mark.django_db
def test_they_are_switched_on_by_a_first_code_and_off_by_another(owner_client, clock):
    page = owner_client.get(reverse("codes"))
    assert "<svg" in page.content.decode()
    assert page["Cache-Control"] == "no-store"
    secret = page.context["secret"]
    assert "not the code" in owner_client.post(reverse("codes"), {"code": "000000"}).content.decode()
    assert not OneTimeCodes.objects.exists()
    shown = owner_client.post(reverse("codes"), {"code": pyotp.TOTP(secret).now()})
    assert len(shown.context["recovery"]) == 10
    assert "10 recovery codes left" in owner_client.get(reverse("password")).content.decode()
    assert owner_client.get(reverse("codes")).url == reverse("codes-end")
    owner_client.post(reverse("codes-end"), {"code": pyotp.TOTP(secret).now()})
    assert OneTimeCodes.objects.exists()  # the code that switched them on is used up
    clock.shift(60)
    owner_client.post(reverse("codes-end"), {"code": pyotp.TOTP(secret).now()})
    assert not OneTimeCodes.objects.exists()


@pytest.mark.django_db
def test_the_back_room_sends_whoever_has_codes_to_the_front_door(client, owner, recovery):
    owner.is_staff = True
    owner.save()
    page = client.post(reverse("admin:login"), {"username": "owner", "password": PASSWORD})
    assert "own page first" in page.content.decode()
    assert not is_in(client)


@pytest.mark.django_db
def test_who_has_lost_everything_is_helped_by_whoever_runs_the_server(client, recovery):
    call_command("codes_off", "owner")
    password(client)
    assert is_in(client)
