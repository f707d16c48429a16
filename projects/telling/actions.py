"""Mails about what is urgent, sent by the worker through the workshop's own server, once for each event."""

import base64
import hashlib
import logging
import ssl
from collections.abc import Iterable
from datetime import datetime
from smtplib import (
    SMTPAuthenticationError,
    SMTPNotSupportedError,
    SMTPRecipientsRefused,
    SMTPResponseException,
    SMTPSenderRefused,
    SMTPServerDisconnected,
)
from socket import gaierror

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
    """Who asked for them hears of the events that they were not told of, in one mail each.

    An address that the server refuses for good is not tried again, and keeps no other from being told.
    """
    workshop, troubles, tried = server.workshop, [], False
    readers = list(MailReader.objects.of(workshop))
    asked = {about for reader in readers for about in reader.about}
    with timezone.override(workshop.zone):
        found = [event for event in events(workshop, now) if event.about in asked] if asked else []
        for reader in readers:
            own = [event for event in found if event.about in reader.about]
            new = [event for event in own if _claimed(workshop, reader, event, now)]
            if not new:
                continue
            tried = True
            try:
                _send(server, _mail(server, reader, new))
            except OSError as error:  # what smtplib raises is of this kind too
                troubles.append(in_words(error, server))
                if not _refused_for_good(error):
                    keys = [_key(event, reader) for event in new]
                    MailSent.objects.of(workshop).filter(key__in=keys).delete()
                if not isinstance(error, SMTPRecipientsRefused):
                    break  # the others go by the same server
    trouble = " ".join(troubles)[:300]
    if tried and trouble != server.trouble:
        MailServer.objects.filter(pk=server.pk).update(trouble=trouble)


def _key(event: Event, reader: MailReader) -> str:
    return f"{event.key} {reader.pk}"


def _claimed(workshop: Workshop, reader: MailReader, event: Event, now: datetime) -> bool:
    """Another worker may be at it too: who makes the row tells of it."""
    return bool(MailSent.objects.get_or_create(workshop=workshop, key=_key(event, reader), defaults={"at": now})[1])


def _refused_for_good(error: OSError) -> bool:
    """By a server's 5xx answer to the address (RFC 5321, 4.2.1); on 4xx it may take it later."""
    return isinstance(error, SMTPRecipientsRefused) and all(code >= 500 for code, _ in error.recipients.values())


def _mail(server: MailServer, reader: MailReader, told: Iterable[Event]) -> EmailMessage:
    here = site_address(server.workshop)
    lines = [f"{event.words}\n{here}{event.path}" if here else event.words for event in told]
    first = lines[0].splitlines()[0]
    subject = first if len(lines) == 1 else f"{first} (and {len(lines) - 1} more)"
    foot = f"{server.workshop}. Who is told of what: Settings, Mail."
    return EmailMessage(subject[:150], "\n\n".join([*lines, foot]), server.sender, [reader.address])


def _send(server: MailServer, mail: EmailMessage) -> None:
    connection_of(server).send_messages([mail])


def in_words(error: OSError, server: MailServer) -> str:
    """What went wrong, for the page."""
    match error:
        case SMTPRecipientsRefused():
            refusals = [f"{to} ({code} {_text(says)})" for to, (code, says) in error.recipients.items()]
            return f"{server} takes no mail for {', '.join(refusals)}."
        case SMTPAuthenticationError():
            return f"{server} does not know this name with this password ({error.smtp_code} {_text(error.smtp_error)})."
        case SMTPSenderRefused():
            refusal = f"{error.smtp_code} {_text(error.smtp_error)}"
            return f"{server} takes no mail that comes from {error.sender} ({refusal})."
        case SMTPResponseException():
            return f"{server} answered: {error.smtp_code} {_text(error.smtp_error)}."
        case SMTPNotSupportedError():
            return f"{server} does not offer what the settings ask of it: {error}"
        case SMTPServerDisconnected() if isinstance(error.__context__, TimeoutError):  # smtplib's way of telling it
            return in_words(error.__context__, server)
        case SMTPServerDisconnected():
            return f"{server} hung up, or is no mail server that speaks so: look at its port and security."
        case ssl.SSLCertVerificationError():
            return f"The certificate of {server} is not one to trust: {error.verify_message}."
        case ssl.SSLError():
            return f"{server} does not speak TLS as the settings say: look at its port and security."
        case TimeoutError():
            return f"{server} did not answer within {PATIENCE} seconds: look at its name and port."
        case ConnectionRefusedError():
            return f"Nothing listens at {server}: look at its port."
        case gaierror():
            return f"No server is found by the name {server.host}: look at how it is written, and at the network."
    return f"{server} could not be reached: {error}"


def _text(says: bytes | str) -> str:
    return says.decode(errors="replace") if isinstance(says, bytes) else says


def send_test(server: MailServer, to: str) -> str:
    """What went wrong, in words for the page; empty where it was taken."""
    words = f"Mail of {server.workshop} arrives. {site_address(server.workshop)}"
    try:
        _send(server, EmailMessage(f"{server.workshop}: a test", words, server.sender, [to]))
    except OSError as error:
        return in_words(error, server)
    return ""


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
