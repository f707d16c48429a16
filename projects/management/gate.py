"""The gate in front of the site: shut while the database is changed for another, and opened again."""

import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from django.template.loader import render_to_string

LONGEST = 120  # seconds that those who are inside have to come out
Site = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


class StillBusy(Exception):
    """Somebody inside did not come out in time, so nothing was changed."""


class Gate:
    """Lets requests in and counts them; what only shows how a page looks passes a shut gate too."""

    def __init__(self, site: Site):
        self.site = site
        self.shut_because: str | None = None
        self.inside = 0
        self.changed = threading.Condition()

    def __call__(self, environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        if environ["PATH_INFO"].startswith("/static/"):
            return self.site(environ, start_response)
        with self.changed:
            if self.shut_because is not None:
                return shut_page(self.shut_because, start_response)
            self.inside += 1
        try:
            return Counted(self.site(environ, start_response), self.gone)
        except BaseException:
            self.gone()
            raise

    def gone(self) -> None:
        with self.changed:
            self.inside -= 1
            self.changed.notify_all()

    @contextmanager
    def passed(self) -> Iterator[bool]:
        """Work of the server's own, done inside as a request is; False where the gate is shut."""
        with self.changed:
            let_in = self.shut_because is None
            self.inside += let_in
        try:
            yield let_in
        finally:
            if let_in:
                self.gone()

    @contextmanager
    def shut(self, because: str) -> Iterator[None]:
        """Nobody is inside meanwhile."""
        with self.changed:
            self.shut_because = because
        try:
            with self.changed:
                if not self.changed.wait_for(lambda: self.inside == 0, LONGEST):
                    raise StillBusy
            yield
        finally:
            with self.changed:
                self.shut_because = None


class Counted:
    """An answer on its way out: who fetches it is inside until it is closed."""

    def __init__(self, answer: Iterable[bytes], gone: Callable[[], None]):
        self.answer, self.gone = answer, gone

    def __iter__(self) -> Iterator[bytes]:
        return iter(self.answer)

    def close(self) -> None:
        try:
            getattr(self.answer, "close", lambda: None)()
        finally:
            self.gone()


def shut_page(because: str, start_response: Callable[..., Any]) -> list[bytes]:
    page = render_to_string("503.html", {"words": because}).encode()
    headers = [("Content-Type", "text/html; charset=utf-8"), ("Retry-After", "3"), ("Refresh", "3")]
    headers += [("Content-Length", str(len(page))), ("Cache-Control", "no-store")]
    start_response("503 Service Unavailable", headers)
    return [page]
