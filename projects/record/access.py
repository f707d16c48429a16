"""Above finishing's doors: the public addresses at which a customer follows a project, and a calendar the plan."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone

from .models import CalendarAddress, Follower


def follower(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """A view for whoever holds a project's public address: no sign-in, that project and nothing else.

    The view is given the Follower; it runs on the workshop's clock, and no search engine or cache keeps its answer.
    """

    @wraps(view)
    def guarded(request: HttpRequest, token: str, *args: Any, **kwargs: Any) -> HttpResponse:
        row = _open_address(token)
        if row is None:
            raise Http404("This address is not, or no longer, in use.")
        with timezone.override(row.project.workshop.zone):
            return _unlisted(view(request, row, *args, **kwargs))

    return guarded


def calendar_reader(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """A view for whoever holds the address of a calendar; it is given the Workshop, and runs on its clock."""

    @wraps(view)
    def guarded(request: HttpRequest, token: str) -> HttpResponse:
        rows = CalendarAddress.objects.filter(token=token, closed=False) if token.isprintable() else ()
        row = next(iter(rows), None)
        if row is None:
            raise Http404("This address is not, or no longer, in use.")
        with timezone.override(row.workshop.zone):
            return _unlisted(view(request, row.workshop))

    return guarded


def _unlisted(response: HttpResponse) -> HttpResponse:
    """Kept by no cache and found by no search engine."""
    response.headers.setdefault("Cache-Control", "private, no-store")
    response.headers["X-Robots-Tag"] = "noindex, nofollow"
    response.headers["Referrer-Policy"] = "no-referrer"
    return response


def _open_address(token: str) -> Follower | None:
    if not token.isprintable():  # PostgreSQL refuses a NUL with an error of its own
        return None
    return Follower.objects.filter(token=token, closed=False).select_related("project__workshop").first()
