"""What the script that keeps entries in the browser is told: where a form would have led, and who is signed in."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse

MEMBER = "member"  # the cookie by which the script tells whose entries it keeps; it opens nothing


class OutboxMiddleware:
    """A form sent by the script is answered by the address to go to, so that its message waits for that page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.headers.get("X-Outbox") and response.status_code == 302:
            response = JsonResponse({"to": response["Location"]})
        membership = getattr(request, "membership", None)
        own = str(membership.pk) if membership else ""
        if own and request.COOKIES.get(MEMBER) != own:
            response.set_cookie(
                MEMBER, own, max_age=settings.SESSION_COOKIE_AGE, secure=settings.SESSION_COOKIE_SECURE, samesite="Lax"
            )
        return response
