"""Which workshop a request acts for, what a role or whoever holds a secret address may do there, and whether its
browser has the page already."""

import hashlib
import re
import secrets
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import wraps
from io import BytesIO
from math import ceil
from typing import Concatenate, ParamSpec, TypeVar, cast
from uuid import UUID

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import AnonymousUser
from django.contrib.messages import get_messages
from django.core.exceptions import ObjectDoesNotExist, PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.middleware.csrf import get_token
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.cache import cache_control
from django.views.decorators.http import condition
from django.views.decorators.vary import vary_on_headers
from django_htmx.middleware import HtmxDetails

from finishing.site.editions import current_edition
from finishing.site.kept_pages import OLDER, KeptPages

from .models import Membership, User, Workshop
from .models.addresses import SecretAddress
from .models.sign_ins import digest

Role = Membership.Role

# each right, and the roles that have it
RIGHTS = {
    "look": {Role.OWNER, Role.RESTORER, Role.HELPER, Role.GUEST},
    "log": {Role.OWNER, Role.RESTORER, Role.HELPER},
    "plan": {Role.OWNER, Role.RESTORER},
    "settle": {Role.OWNER},
    "money": {Role.OWNER, Role.RESTORER, Role.HELPER},
}

IN_WORDS = {
    "look": "see machines, pieces, their log and photos, the plan, the visits, paint lists and the weather",
    "money": "see what visits, plans and paint cost",
    "log": "log steps and readings, receive what was ordered, fit machines, run a visit's day",
    "plan": "enter designs, projects, pieces and coatings, make and accept plans, ask, buy and reckon costs",
    "settle": "settle a visit, set rates, change settings, places and days off, invite people and say what they may",
}


RestsOn = tuple[str, datetime]  # the edition and the minute that a page shows


class VisitorRequest(HttpRequest):
    """A request of anybody, signed in or not; without a membership there is no workshop."""

    user: User | AnonymousUser
    htmx: HtmxDetails
    membership: Membership | None
    workshop: Workshop | None
    may: set[str]


class WorkshopRequest(HttpRequest):
    """A request that has passed `member`: it acts for a workshop.

    rests_on: edition and minute of a page that is `unless_unchanged`; None where no edition has been written yet, and
        of a form sent.
    """

    user: User
    htmx: HtmxDetails
    membership: Membership
    workshop: Workshop
    may: set[str]
    rests_on: RestsOn | None


class WorkshopMiddleware:
    """Gives each request its membership and workshop, and the workshop's own clock."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: VisitorRequest) -> HttpResponse:
        request.membership = membership_of(request)
        request.workshop = request.membership.workshop if request.membership else None
        request.may = {right for right in RIGHTS if may(request, right)}
        if not request.workshop:
            return self.get_response(request)
        with timezone.override(request.workshop.zone):
            response = self.get_response(request)
        if request.method not in ("GET", "HEAD"):
            response.set_cookie(
                WROTE, "1", max_age=WROTE_FOR, secure=settings.SESSION_COOKIE_SECURE, httponly=True, samesite="Lax"
            )
        return response


def membership_of(request: VisitorRequest) -> Membership | None:
    """The membership chosen in this session, else the first one."""
    if not request.user.is_authenticated:
        return None
    own = Membership.objects.filter(user=request.user).select_related("workshop", "user").order_by("workshop__name")
    chosen = request.session.get("workshop")
    return min(own, key=lambda membership: str(membership.workshop_id) != str(chosen), default=None)


def may(request: VisitorRequest | WorkshopRequest, right: str) -> bool:
    return bool(request.membership and request.membership.role in RIGHTS[right])


DEVICE = "device"  # the cookie of a device on which somebody has signed in
KEPT_FOR = timedelta(days=400)  # browsers keep none longer
MOST_NAMES = 6  # of people who share a device


class DeviceMiddleware:
    """Marks a device on which somebody signs in: a secret number, and who it was, signed."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: VisitorRequest) -> HttpResponse:
        known = request.user.is_authenticated
        response = self.get_response(request)
        if request.user.is_authenticated and not known:
            mark, names = _marked(request)
            own = digest(request.user.get_username())
            names = [own, *(name for name in names if name != own)][:MOST_NAMES]
            response.set_signed_cookie(
                DEVICE,
                " ".join([mark or secrets.token_hex(16), *names]),
                max_age=KEPT_FOR,
                secure=settings.SESSION_COOKIE_SECURE,
                httponly=True,
                samesite="Lax",
            )
        return response


def known_device(request: HttpRequest, name: str) -> str:
    """The mark of the device that asks, where this name has signed in on it before; else ""."""
    mark, names = _marked(request)
    return mark if digest(name) in names else ""


def _marked(request: HttpRequest) -> tuple[str, list[str]]:
    """The mark, and the digests of the names; nothing where nobody has signed in, or the cookie is not of ours."""
    mark, *names = (request.get_signed_cookie(DEVICE, default="", max_age=KEPT_FOR) or "").split() or [""]
    return mark, names


P = ParamSpec("P")


def member(
    right: str = "look",
) -> Callable[
    [Callable[Concatenate[WorkshopRequest, P], HttpResponseBase]],
    Callable[Concatenate[VisitorRequest, P], HttpResponseBase],
]:
    """A view for members of a workshop who have this right."""

    def door(
        view: Callable[Concatenate[WorkshopRequest, P], HttpResponseBase],
    ) -> Callable[Concatenate[VisitorRequest, P], HttpResponseBase]:
        @login_required
        @wraps(view)
        def guarded(request: VisitorRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if request.membership is None:
                return redirect("no-workshop")
            if not may(request, right):
                raise PermissionDenied(f"A {request.membership.role} may not do this here.")
            return view(cast(WorkshopRequest, request), *args, **kwargs)

        return guarded

    return door


WROTE = "wrote"  # the cookie of a browser that has just sent something: it is shown no page of before
WROTE_FOR = ceil(OLDER) + 1  # seconds from when the answer has come
STARTED = secrets.token_hex(8)  # another program may show the same rows in another way
OWN_TOKEN, OWN_MESSAGES = secrets.token_hex(32), secrets.token_hex(32)  # where a kept page leaves room for one's own
SHOWN_BY = (  # what a page may be made of, of all that a browser sends
    *("REQUEST_METHOD", "SCRIPT_NAME", "PATH_INFO", "QUERY_STRING", "SERVER_NAME", "SERVER_PORT"),
    *("HTTP_HOST", "HTTP_X_FORWARDED_PROTO", "HTTP_HX_REQUEST", "wsgi.url_scheme"),
)


Address = TypeVar("Address", bound=SecretAddress)


def by_address(
    rows: type[Address],
) -> Callable[
    [Callable[Concatenate[VisitorRequest, Address, P], HttpResponseBase]],
    Callable[Concatenate[VisitorRequest, str, P], HttpResponseBase],
]:
    """A view for whoever holds an address that is in use: no sign-in, what it opens and nothing else.

    The view is given the address; it runs on the workshop's clock, and no search engine or cache keeps its answer.
    """

    def door(
        view: Callable[Concatenate[VisitorRequest, Address, P], HttpResponseBase],
    ) -> Callable[Concatenate[VisitorRequest, str, P], HttpResponseBase]:
        @wraps(view)
        def guarded(request: VisitorRequest, token: str, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            address = (
                rows.objects.in_use()
                .with_token(token)
                .filter(workshop__deleted_at=None)
                .select_related("workshop")
                .first()
            )
            if address is None:
                raise Http404("This address is not, or no longer, in use.")
            with timezone.override(address.workshop.zone):
                response = view(request, address, *args, **kwargs)
            response.headers.setdefault("Cache-Control", "private, no-store")
            response.headers["X-Robots-Tag"] = "noindex, nofollow"
            return response

        return guarded

    return door


BLANKS = re.compile(rb"\s*\n\s*")  # a template's own shape; no page that is kept has a text box in which it would count


class PersonalPage(Exception):
    """A page that is kept for all who may do the same asked who looks at it."""


class AnyMember:
    """Whoever looks at a page that is kept for all."""

    is_authenticated = True

    def __getattr__(self, name: str) -> object:
        raise PersonalPage(name)


@dataclass(frozen=True)
class ShownAlike:
    """A page as all are shown it who may do the same in a workshop; nothing of a person is in it."""

    view: Callable[..., HttpResponse]
    names: tuple[tuple[str, object], ...]  # in its address
    asked: tuple[tuple[str, str], ...]  # of the request
    workshop: UUID
    role: str

    @classmethod
    def to(
        cls, request: WorkshopRequest, view: Callable[..., HttpResponse], names: Mapping[str, object]
    ) -> "ShownAlike":
        asked = tuple((name, request.META[name]) for name in SHOWN_BY if name in request.META)
        return cls(view, tuple(names.items()), asked, request.workshop.pk, request.membership.role)

    def made(self) -> HttpResponse:
        workshop = Workshop.objects.get(pk=self.workshop)  # as it is now, not as the one who asks has read it
        request = cast(WorkshopRequest, WSGIRequest({**dict(self.asked), "wsgi.input": BytesIO()}))
        request.user = cast(User, AnyMember())
        request.htmx = HtmxDetails(request)
        request.membership = Membership(workshop=workshop, role=self.role)
        request.workshop = workshop
        request.may = {right for right, roles in RIGHTS.items() if self.role in roles}
        with timezone.override(workshop.zone):
            return self.view(request, **dict(self.names))


PAGES: KeptPages[ShownAlike, RestsOn, HttpResponse] = KeptPages()


def own_parts(request: HttpRequest) -> dict[str, str]:
    """For a template of a page that is kept: marks in place of what is put in for each who is shown it."""
    anybody = isinstance(getattr(request, "user", None), AnyMember)
    return {"csrf_token": OWN_TOKEN, "own_messages": OWN_MESSAGES} if anybody else {}


def _with_own_parts(page: HttpResponse, request: WorkshopRequest) -> HttpResponse:
    content = page.content
    if OWN_TOKEN.encode() in content:
        content = content.replace(OWN_TOKEN.encode(), get_token(request).encode())
    if OWN_MESSAGES.encode() in content:
        own = {"messages": get_messages(request), "csrf_token": get_token(request)}
        told = render_to_string("base.html#messages", own)
        content = content.replace(OWN_MESSAGES.encode(), told.encode())
    return HttpResponse(content, status=page.status_code, headers=page.headers)


def this_minute() -> datetime:
    return timezone.now().replace(second=0, microsecond=0)


def rests_on_now() -> RestsOn | None:
    """The edition and the minute of what pages show now; None where no edition has been written yet."""
    moment = time.monotonic()
    edition, minute = current_edition(), this_minute()
    if not edition:
        return None
    PAGES.note_held((edition, minute), moment)
    return edition, minute


def page_tag(request: WorkshopRequest, *args: object, **kwargs: object) -> str | None:
    """Of a page as it is now for this person; None where it is not the same twice: it has a message to tell."""
    return _tag(request, request.rests_on)


def _tag(request: WorkshopRequest, rests_on: RestsOn | None) -> str | None:
    if rests_on is None or len(get_messages(request)):
        return None
    cookie = request.COOKIES.get(settings.CSRF_COOKIE_NAME)  # what forms on the page are sent with
    who = (request.user.pk, request.membership.role, request.workshop.pk, cookie)
    what = (request.get_host(), request.get_full_path(), bool(request.htmx))
    when = (STARTED, *rests_on)
    return f'"{hashlib.sha256(repr((*when, *who, *what)).encode()).hexdigest()[:32]}"'


def unless_unchanged(
    view: Callable[Concatenate[WorkshopRequest, P], HttpResponse],
) -> Callable[Concatenate[WorkshopRequest, P], HttpResponse]:
    """Answers 304 where the browser has the page already: nothing was written and no minute has passed since.

    Else the page as it was made for the first who asked of all who may do the same in this workshop, with one's own
    messages and token put in. Not for a page whose form is known by a key: opened twice, the second entry would be
    taken for the first sent again. A view that asks who looks is refused (PersonalPage).

    While somebody else makes the page anew, the one that held until just now is shown, with its own tag; not to whoever
    has just sent something, nor to whoever has been shown a newer one.
    """

    def without_blanks(request: WorkshopRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        page = view(request, *args, **kwargs)
        page.content = BLANKS.sub(b"\n", page.content)
        return page

    def as_kept(request: WorkshopRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if request.method not in ("GET", "HEAD"):
            return view(request, *args, **kwargs)
        if request.rests_on is None:
            return without_blanks(request, *args, **kwargs)
        shown = ShownAlike.to(request, without_blanks, kwargs)
        PAGES.note_asked(shown)
        before = None if WROTE in request.COOKIES else PAGES.before(shown, request.rests_on, request.user.pk)
        rests_on, page = before or (request.rests_on, PAGES.get(shown, request.rests_on, shown.made))
        PAGES.note_read(request.user.pk, rests_on)
        tag, response = _tag(request, rests_on), _with_own_parts(page, request)
        if tag:
            response["ETag"] = tag
        return response

    unless_there: Callable[Concatenate[WorkshopRequest, P], HttpResponse] = condition(etag_func=page_tag)(as_kept)

    @wraps(view)
    def answered(request: WorkshopRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        request.rests_on = rests_on_now() if request.method in ("GET", "HEAD") else None
        return unless_there(request, *args, **kwargs)

    return vary_on_headers("HX-Request")(cache_control(private=True, no_cache=True)(answered))


MOST_AHEAD = 4  # pages


def make_ahead(done: RestsOn | None) -> RestsOn | None:
    """Make the pages that are looked at most, where something was written or a minute has passed, before they are asked
    for again. `done` is what this gave the last time."""
    begun = rests_on_now()
    if begun and begun != done:
        for shown in PAGES.keep_up(MOST_AHEAD):
            with suppress(Http404, ObjectDoesNotExist):  # gone meanwhile: whoever asks is told so
                PAGES.get(shown, rests_on_now() or begun, shown.made)
    return begun
