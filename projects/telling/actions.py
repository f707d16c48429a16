"""Mails about what is urgent, sent by the worker through the workshop's own server, once for each event."""

import base64
import hashlib
import logging
from collections.abc import Iterable
from datetime import datetime

from cryptography.fernet import Fernet, InvalidToken
from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.db import DatabaseError
from django.utils import timezone

from finishing.workshops.domain.site_address import site_address
from finishing.workshops.models import Workshop
from projects.record.models import MailReader, MailSent, MailServer

from .domain import Event, events

LOG = logging.getLogger(__name__)
PATIENCE = 15  # seconds that a mail server may take
Security = MailServer.Security


def sealed(password: str) -> str:
    """For the database, where a copy of it alone opens nothing: the key comes from the installation's own secret."""
    return _seal().encrypt(password.encode()).decode()


def unsealed(password: str) -> str:
    """Empty where the installation has another secret by now: the password is typed again."""
    try:
        return _seal().decrypt(password.encode()).decode() if password else ""
    except InvalidToken:
        return ""


def _seal() -> Fernet:
    return Fernet(base64.urlsafe_b64encode(hashlib.sha256(f"mail {settings.SECRET_KEY}".encode()).digest()))


def tell_all(now: datetime) -> None:
    """Each workshop that sends mail; one whose server or air is in trouble keeps no other waiting."""
    for server in MailServer.objects.filter(on=True, workshop__deleted_at=None).select_related("workshop"):
        try:
            tell(server, now)
        except DatabaseError:  # it is busy: the next turn comes
            return
        except Exception:
            LOG.exception("The mails of %s could not be written", server.workshop)


def tell(server: MailServer, now: datetime) -> None:
    """Who asked for them hears of the events that nobody was told of, in one mail each."""
    workshop = server.workshop
    readers = list(MailReader.objects.of(workshop))
    asked = {about for reader in readers for about in reader.about}
    with timezone.override(workshop.zone):
        found = [event for event in events(workshop, now) if event.about in asked] if asked else []
        new = [event for event in found if _claimed(workshop, event, now)]
        if not new:
            return
        mails = [
            _mail(server, reader, own) for reader in readers if (own := [e for e in new if e.about in reader.about])
        ]
        if trouble := sent(server, mails):
            MailSent.objects.of(workshop).filter(key__in=[event.key for event in new]).delete()
        if trouble != server.trouble:
            MailServer.objects.filter(pk=server.pk).update(trouble=trouble)


def _claimed(workshop: Workshop, event: Event, now: datetime) -> bool:
    """Another worker may be at it too: who makes the row tells of it."""
    return bool(MailSent.objects.get_or_create(workshop=workshop, key=event.key, defaults={"at": now})[1])


def _mail(server: MailServer, reader: MailReader, told: Iterable[Event]) -> EmailMessage:
    here = site_address(server.workshop)
    lines = [f"{event.words}\n{here}{event.path}" if here else event.words for event in told]
    first = lines[0].splitlines()[0]
    subject = first if len(lines) == 1 else f"{first} (and {len(lines) - 1} more)"
    foot = f"{server.workshop}. Who is told of what: Settings, Mail."
    return EmailMessage(subject[:150], "\n\n".join([*lines, foot]), server.sender, [reader.address])


def sent(server: MailServer, mails: list[EmailMessage]) -> str:
    """What went wrong, in words for the page; empty where they were taken."""
    try:
        connection_of(server).send_messages(mails)
    except OSError as error:  # what smtplib raises is of this kind too
        return f"{type(error).__name__}: {error}"[:300]
    return ""


def send_test(server: MailServer, to: str) -> str:
    words = f"Mail of {server.workshop} arrives. {site_address(server.workshop)}"
    return sent(server, [EmailMessage(f"{server.workshop}: a test", words, server.sender, [to])])


def connection_of(server: MailServer) -> BaseEmailBackend:
    backend: BaseEmailBackend = get_connection(
        host=server.host,
        port=server.port,
        username=server.user,
        password=unsealed(server.password),
        use_tls=server.security == Security.STARTTLS,
        use_ssl=server.security == Security.TLS,
        timeout=PATIENCE,
    )
    return backend
