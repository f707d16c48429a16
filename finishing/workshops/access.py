"""Which workshop a request acts for, and what a role may do there."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from .models import Membership

Role = Membership.Role

# each right, and the roles that have it
RIGHTS = {
    "look": {Role.OWNER, Role.RESTORER, Role.HELPER, Role.GUEST},
    "log": {Role.OWNER, Role.RESTORER, Role.HELPER},
    "plan": {Role.OWNER, Role.RESTORER},
    "settle": {Role.OWNER},
}


class WorkshopMiddleware:
    """Gives each request its membership and workshop, and the workshop's own clock."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: Any) -> HttpResponse:
        request.membership = membership_of(request)
        request.workshop = request.membership.workshop if request.membership else None
        request.may = {right for right in RIGHTS if may(request, right)}
        if request.workshop:
            with timezone.override(request.workshop.zone):
                return self.get_response(request)
        return self.get_response(request)


def membership_of(request: Any) -> Membership | None:
    """The membership chosen in this session, else the first one."""
    if not request.user.is_authenticated:
        return None
    own = Membership.objects.filter(user=request.user).select_related("workshop", "user").order_by("workshop__name")
    return own.filter(workshop=request.session.get("workshop")).first() or own.first()


def may(request: Any, right: str) -> bool:
    return bool(request.membership and request.membership.role in RIGHTS[right])


def member(right: str = "look") -> Callable[..., Any]:
    """A view for members of a workshop who have this right."""

    def door(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @login_required
        @wraps(view)
        def guarded(request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
            if request.membership is None:
                return redirect("no-workshop")
            if not may(request, right):
                raise PermissionDenied(f"A {request.membership.role} may not do this here.")
            return view(request, *args, **kwargs)

        return guarded

    return door
