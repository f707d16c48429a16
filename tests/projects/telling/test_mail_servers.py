"""A real mail server takes the mail, refuses it, is silent or is not there: clear words, and nobody is told twice."""

import socket
from datetime import UTC, datetime

import pytest
from aiosmtpd.controller import Controller
from django.urls import reverse

from projects.record.models import MailReader, MailServer, Plan
from projects.telling import actions
from tests import factories

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)


class Letters:
    """A server's own hand: keeps what it takes, and takes nothing for those it does not know."""

    def __init__(self):
        self.taken, self.answer = [], "550 no such mailbox"

    async def handle_RCPT(self, server, session, envelope, address, options):  # noqa: N802  # aiosmtpd's name
        if address.startswith("nobody"):
            return self.answer
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        self.taken.append((envelope.rcpt_tos, envelope.content.decode()))
        return "250 OK"


@pytest.fixture
def port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


@pytest.fixture
def letters(port):
    hand = Letters()
    controller = Controller(hand, hostname="127.0.0.1", port=port)
    controller.start()
    yield hand
    controller.stop()


@pytest.fixture
def server(workshop, settings, port):
    """Two readers of plans, and a kept plan that no longer holds."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    for address in ("ida@example.org", "nobody@example.org", "tom@example.org"):
        MailReader.objects.create(workshop=workshop, address=address, about=["plan"])
    plan = factories.PlanFactory(run=factories.PlanRunFactory(workshop=workshop), state=Plan.State.KEPT)
    factories.SlotFactory(plan=plan, rack="frame", key="coat:1", broken="rain from 14:00")
    own = {"host": "127.0.0.1", "port": port, "security": "none", "sender": "shop@example.org"}
    return MailServer.objects.create(workshop=workshop, on=True, **own)


def trouble(client):
    return client.get(reverse("mail")).content.decode().split("<main")[1]


def test_an_address_that_is_refused_for_good_keeps_no_other_waiting_and_nobody_is_told_twice(
    server, letters, owner_client
):
    actions.tell_all(NINE)
    actions.tell_all(NINE)
    assert [to for to, _ in letters.taken] == [["ida@example.org"], ["tom@example.org"]]
    assert "rain from 14:00" in letters.taken[0][1]
    assert "takes no mail for nobody@example.org (550 no such mailbox)." in trouble(owner_client)


def test_what_may_be_taken_later_is_tried_again(server, letters):
    letters.answer = "450 come back later"
    actions.tell_all(NINE)
    server.refresh_from_db()
    assert "nobody@example.org (450 come back later)" in server.trouble
    MailReader.objects.filter(address="nobody@example.org").update(address="now-known@example.org")
    actions.tell_all(NINE)
    assert sorted(to[0] for to, _ in letters.taken) == ["ida@example.org", "now-known@example.org", "tom@example.org"]
    server.refresh_from_db()
    assert server.trouble == ""


def test_a_dead_and_a_silent_server_are_told_in_words_and_all_is_sent_when_it_is_back(
    server, port, owner_client, monkeypatch
):
    actions.tell_all(NINE)
    assert f"Nothing listens at 127.0.0.1:{port}: look at its port." in trouble(owner_client)
    monkeypatch.setattr(actions, "PATIENCE", 0.2)
    with socket.create_server(("127.0.0.1", port)):
        actions.tell_all(NINE)
        assert f"127.0.0.1:{port} did not answer within 0.2 seconds" in trouble(owner_client)
        sent = owner_client.post(reverse("mail-test"), {"to": "ida@example.org"}, follow=True).content.decode()
        assert "It was not sent. 127.0.0.1" in sent
    hand = Letters()
    controller = Controller(hand, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        actions.tell_all(NINE)
    finally:
        controller.stop()
    assert [to for to, _ in hand.taken] == [["ida@example.org"], ["tom@example.org"]]
