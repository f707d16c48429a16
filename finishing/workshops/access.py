"""Which workshop a request acts for, what a role may do there, and whether its browser has the page already."""

import hashlib
import secrets
from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import AnonymousUser
from django.contrib.messages import get_messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.cache import cache_control
from django.views.decorators.http import condition
from django.views.decorators.vary import vary_on_headers
from django_htmx.middleware import HtmxDetails

from finishing.site.editions import current_edition

from .models import Membership, User, Workshop
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


class VisitorRequest(HttpRequest):
    """A request of anybody, signed in or not; without a membership there is no workshop."""

    user: User | AnonymousUser
    htmx: HtmxDetails
    membership: Membership | None
    workshop: Workshop | None
    may: set[str]


class WorkshopRequest(HttpRequest):
    """A request that has passed `member`: it acts for a workshop."""

    user: User
    htmx: HtmxDetails
    membership: Membership
    workshop: Workshop
    may: set[str]


class WorkshopMiddleware:
    """Gives each request its membership and workshop, and the workshop's own clock."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: VisitorRequest) -> HttpResponse:
        request.membership = membership_of(request)
        request.workshop = request.membership.workshop if request.membership else None
        request.may = {right for right in RIGHTS if may(request, right)}
        if request.workshop:
            with timezone.override(request.workshop.zone):
                return self.get_response(request)
        return self.get_response(request)


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


STARTED = secrets.token_hex(8)  # another program may show the same rows in another way


def page_tag(request: WorkshopRequest, *args: object, **kwargs: object) -> str | None:
    """Of a page as it is now for this person; None where it is not the same twice: it has a message to tell."""
    edition = current_edition()
    if request.method not in ("GET", "HEAD") or not edition or len(get_messages(request)):
        return None
    cookie = request.COOKIES.get(settings.CSRF_COOKIE_NAME)  # what forms on the page are sent with
    who = (request.user.pk, request.membership.role, request.workshop.pk, cookie)
    what = (request.get_host(), request.get_full_path(), bool(request.htmx))
    when = timezone.now().replace(second=0, microsecond=0)
    return f'"{hashlib.sha256(repr((STARTED, edition, when, *who, *what)).encode()).hexdigest()[:32]}"'


def unless_unchanged(
    view: Callable[Concatenate[WorkshopRequest, P], HttpResponse],
) -> Callable[Concatenate[WorkshopRequest, P], HttpResponse]:
    """Answers 304 where the browser has the page already: nothing was written and no minute has passed since.

    Not for a page whose form is known by a key: opened twice, the second entry would be taken for the first sent again.
    """
    kept: Callable[Concatenate[WorkshopRequest, P], HttpResponse] = condition(etag_func=page_tag)(view)
    return vary_on_headers("HX-Request")(cache_control(private=True, no_cache=True)(kept))
