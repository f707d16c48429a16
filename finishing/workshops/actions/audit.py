"""Notes what was done and by whom, and keeps the list of devices on which people are signed in."""

from collections.abc import Callable
from datetime import datetime, timedelta

from django.contrib.sessions.models import Session
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from finishing.workshops.access import VisitorRequest
from finishing.workshops.models import AuditEntry, SignIn, User, Workshop
from finishing.workshops.models.audit import KEPT_FOR

SEEN_EVERY = timedelta(minutes=10)
BROWSERS = ("Edg", "Firefox", "Chrome", "Safari")
SYSTEMS = ("Android", "iPhone", "iPad", "Windows", "Mac OS", "Linux")
OWN_NAMES = {"Edg": "Edge", "Mac OS": "Mac"}


def note(
    what: AuditEntry.What,
    *,
    by: User | None,
    workshop: Workshop | None = None,
    about: str = "",
    address: str = "",
    name: str = "",
) -> None:
    AuditEntry.objects.create(
        what=what,
        user=by,
        name=(name or str(by or ""))[:150],
        workshop=workshop,
        about=about[:200],
        address=address[:45],
    )


def forget_old_notes(now: datetime) -> None:
    AuditEntry.objects.filter(at__lt=now - KEPT_FOR).delete()


def note_sign_in(request: HttpRequest, user: User) -> None:
    if not request.session.session_key:
        request.session.save()
    SignIn.objects.filter(user=user).exclude(pk__in=SignIn.objects.still_open().values("pk")).delete()
    SignIn.objects.update_or_create(
        session_key=request.session.session_key,
        defaults={
            "user": user,
            "device": device_in_words(request.headers.get("User-Agent", "")),
            "address": address_of(request),
        },
    )
    note(AuditEntry.What.SIGNED_IN, by=user, address=address_of(request))
    forget_old_notes(timezone.now())


def note_sign_out(request: HttpRequest, user: User) -> None:
    SignIn.objects.filter(session_key=request.session.session_key).delete()
    note(AuditEntry.What.SIGNED_OUT, by=user, address=address_of(request))


def note_refused(request: HttpRequest | None, name: str) -> None:
    """Only of a name that there is: some people type a password into the box for the name."""
    if user := User.objects.filter(username=name).first():
        note(AuditEntry.What.REFUSED, by=user, address=address_of(request) if request else "")


def end_sign_ins(sign_ins: QuerySet[SignIn]) -> None:
    """Those devices have to sign in again from this moment on."""
    keys = list(sign_ins.values_list("session_key", flat=True))
    Session.objects.filter(session_key__in=keys).delete()
    SignIn.objects.filter(session_key__in=keys).delete()


class AuditMiddleware:
    """Notes when a device was last seen, and each file that somebody took away."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: VisitorRequest) -> HttpResponse:
        response = self.get_response(request)
        if isinstance(request.user, User):
            self._note_seen(request, request.user, timezone.now())
            disposition = response.get("Content-Disposition", "")
            if disposition.startswith("attachment") and response.status_code == 200:
                note(
                    AuditEntry.What.EXPORTED,
                    by=request.user,
                    workshop=request.workshop,
                    about=disposition.partition("=")[2].strip('"'),
                    address=address_of(request),
                )
        return response

    def _note_seen(self, request: HttpRequest, user: User, now: datetime) -> None:
        """At most every ten minutes: a page that is read writes nothing otherwise."""
        if now.timestamp() - request.session.get("seen_at", 0) > SEEN_EVERY.total_seconds():
            request.session["seen_at"] = now.timestamp()
            SignIn.objects.filter(session_key=request.session.session_key, user=user).update(seen_at=now)


def device_in_words(agent: str) -> str:
    """As "Firefox on Android": enough to know one's own phone by."""
    browser = next((name for name in BROWSERS if name in agent), "")
    system = next((name for name in SYSTEMS if name in agent), "")
    words = [OWN_NAMES.get(word, word) for word in (browser, system) if word]
    return " on ".join(words) if words else agent[:60]


def address_of(request: HttpRequest) -> str:
    return str(request.META.get("REMOTE_ADDR", ""))[:45]
