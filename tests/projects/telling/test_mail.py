"""Mails about what is urgent: once for each event, to who asked, by the owner's own server."""

import smtplib
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.core import mail
from django.core.mail.backends import locmem
from django.urls import reverse

from projects.record.models import MailReader, MailSent, MailServer, Plan, TinLook
from projects.telling.actions import connection_of, sealed, tell_all
from tests import factories

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)
ALL = list(MailReader.About.values)


@pytest.fixture(autouse=True)
def _at_nine():
    with time_machine.travel(NINE, tick=False):
        yield


@pytest.fixture
def server(workshop):
    workshop.site_address = "https://anvil.local:8443"
    workshop.save()
    MailReader.objects.create(workshop=workshop, address="ida@example.org", about=ALL)
    MailReader.objects.create(workshop=workshop, address="tom@example.org", about=["plan"])
    own = {"host": "smtp.example.org", "sender": "shop@example.org", "user": "shop"}
    return MailServer.objects.create(workshop=workshop, on=True, password=sealed("rust & dew"), **own)


@pytest.fixture
def bare(workshop, roof, system):
    """Blasted five hours ago, of eight: more than half is gone."""
    workshop.salt = "clean"
    workshop.save()
    factories.steady_forecast(workshop, NINE - timedelta(days=3))
    piece = factories.PieceFactory(part__design__workshop=workshop, part__system=system, place=roof, mark="F-01")
    factories.StepFactory(piece=piece, kind="blasted", happened_at=NINE - timedelta(hours=5))
    return piece


def test_bare_iron_half_way_is_told_once_to_who_asked_with_a_link(server, bare):
    tell_all(NINE)
    tell_all(NINE + timedelta(minutes=1))
    (letter,) = mail.outbox
    assert (letter.to, letter.from_email) == (["ida@example.org"], "shop@example.org")
    assert letter.subject.startswith("F-01 in Lean-to: bare, last stroke by Tue 12 May, ")
    assert f"https://anvil.local:8443/pieces/{bare.pk}/" in letter.body


def test_nothing_goes_out_before_half_its_time_or_where_mail_is_off(server, bare):
    tell_all(NINE - timedelta(hours=4))
    MailServer.objects.update(on=False)
    tell_all(NINE)
    assert (mail.outbox, MailSent.objects.count()) == ([], 0)


def test_what_a_server_did_not_take_is_tried_again_and_told_on_the_page(server, bare, monkeypatch, owner_client):
    def refused(self, letters):
        raise smtplib.SMTPAuthenticationError(535, b"no")

    with monkeypatch.context() as broken:
        broken.setattr(locmem.EmailBackend, "send_messages", refused)
        tell_all(NINE)
    assert "The last mail was not taken" in owner_client.get(reverse("mail")).content.decode()
    tell_all(NINE)
    assert len(mail.outbox) == 1
    assert "was not taken" not in owner_client.get(reverse("mail")).content.decode()


def test_a_broken_plan_and_frost_on_waterborne_paint_are_told(workshop, roof, server, owner):
    plan = factories.PlanFactory(run=factories.PlanRunFactory(workshop=workshop), state=Plan.State.KEPT)
    factories.SlotFactory(plan=plan, rack="frame", key="coat:1", broken="rain from 14:00")
    factories.steady_forecast(workshop, NINE, temperature=-3.0)
    paint = factories.CoatingFactory(workshop=workshop, name="Water grey", generic_type="waterborne acrylic")
    project = factories.ProjectFactory(design__workshop=workshop)
    cost_of = {"project": project, "coating": paint, "litres": 5, "price": 90, "currency": "EUR"}
    workshop_row = {"workshop": workshop, "by": owner, "bought_on": NINE.date()}
    project.paint_receipts.create(**cost_of, **workshop_row)
    tell_all(NINE)
    ida, tom = sorted(mail.outbox, key=lambda letter: letter.to)
    assert "frame" in tom.body
    assert "rain from 14:00" in tom.body
    assert "Frost" not in tom.body
    frost = next(line for line in ida.body.splitlines() if line.startswith("Frost from Tue 12 May, 09:00 in "))
    assert "Lean-to" in frost
    assert frost.endswith("Water grey must not freeze where it is kept.")


def test_the_password_is_kept_sealed_and_never_shown(owner_client, server, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    page = owner_client.get(reverse("mail")).content.decode()
    assert "rust &" not in page
    assert "rust" not in server.password
    assert server.password not in page
    assert connection_of(server).password == "rust & dew"  # pragma: allowlist secret
    kept = {"host": "smtp.example.org", "port": 465, "security": "tls", "user": "shop", "sender": "a@example.org"}
    owner_client.post(reverse("mail"), kept)
    changed = MailServer.objects.get()
    assert (connection_of(changed).password, connection_of(changed).use_ssl, changed.on) == ("rust & dew", True, False)
    settings.SECRET_KEY = "another"  # pragma: allowlist secret
    assert connection_of(changed).password == ""


def test_an_owner_adds_and_takes_out_readers_tries_the_server_and_nobody_else_does(owner_client, helper_client, server):
    owner_client.post(reverse("mail-reader-new"), {"address": "eva@example.org", "about": ["bare", "frost"]})
    row = MailReader.objects.get(address="eva@example.org")
    assert row.about == ["bare", "frost"]
    again = owner_client.post(reverse("mail-reader-new"), {"address": "Eva@example.org", "about": ["bare"]})
    assert "This address is told already" in again.content.decode()
    assert "Enter a valid email address" in owner_client.post(reverse("mail-test"), {"to": "eva"}).content.decode()
    owner_client.post(reverse("mail-test"), {"to": "eva@example.org"})
    assert mail.outbox[0].subject.endswith(": a test")
    assert helper_client.get(reverse("mail")).status_code == 403
    owner_client.post(reverse("mail-reader-remove", args=[row.pk]))
    assert not MailReader.objects.filter(pk=row.pk).exists()


@pytest.mark.parametrize(
    ("opened_on", "found", "told"),
    [
        ("2025-05-11", None, "its keeping time ended Mon 11 May"),  # of 365 days, a day ago
        ("2025-05-12", None, ""),  # its last day
        ("2025-05-11", "used up", ""),
        ("2026-05-01", "lid off", "its lid was not shut tight"),
    ],
)
def test_an_opened_tin_past_the_time_of_its_sheet_is_told_once(server, workshop, opened_on, found, told):
    coating = factories.CoatingFactory(workshop=workshop, name="Green enamel", keeps_opened=365)
    tin = factories.OpenedTinFactory(coating=coating, opened_on=date.fromisoformat(opened_on), litres=0.75)
    if found:
        TinLook.objects.create(workshop=workshop, tin=tin, found=found, by=tin.by)
    tell_all(NINE)
    tell_all(NINE + timedelta(days=1)) if told else None
    bodies = [letter.body for letter in mail.outbox]
    assert len(bodies) == bool(told)
    page = reverse("opened-tin", args=[tin.pk])
    assert all(told in body and page in body and "750 mL left" in body for body in bodies)
