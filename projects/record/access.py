"""Above finishing's doors: the secret addresses at which a customer follows a project, and a calendar the plan."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from django.http import Http404, HttpResponseBase
from django.utils import timezone

from finishing.workshops.access import VisitorRequest

from .models import CalendarAddress, Follower

Address = TypeVar("Address", Follower, CalendarAddress)
P = ParamSpec("P")


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
            response.headers["Referrer-Policy"] = "no-referrer"
            return response

        return guarded

    return door
