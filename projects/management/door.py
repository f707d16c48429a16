"""The door before the site: whoever knocks is let in, and who leaves a large load is known first."""

import socket
from typing import Any

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.db import DatabaseError, close_old_connections
from django.http import parse_cookie
from waitress import create_server
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.utilities import RequestEntityTooLarge

MOST_OPEN = 120  # connections: a browser keeps six
IDLE = 60  # seconds after which a silent connection is closed
CLOSED_EVERY = 10  # seconds


class Request(HTTPRequestParser):
    """A body larger than a form is read only from somebody who is signed in, by what its head says of it."""

    error: RequestEntityTooLarge | None = None

    def received(self, data: bytes) -> int:
        in_head = not self.headers_finished
        consumed: int = super().received(data)
        large = self.chunked or self.content_length > settings.STRANGER_MOST_BYTES
        if (
            in_head
            and self.headers_finished
            and large
            and not self.error
            and not signed_in(self.headers.get("COOKIE", ""))
        ):
            self.error = RequestEntityTooLarge("Sign in first.")
            self.completed = True
        if self.error:
            self.expect_continue = False  # else what is refused would be asked for all the same
        return consumed


def signed_in(cookies: str) -> bool:
    """Whether somebody is, by the cookies that a browser sends."""
    key = parse_cookie(cookies).get(settings.SESSION_COOKIE_NAME)
    try:
        return bool(key) and SESSION_KEY in SessionStore(key)
    except DatabaseError:
        return False
    finally:
        close_old_connections()


class Channel(HTTPChannel):
    """Where too many are open, a newcomer takes the place of the one that has been silent the longest."""

    parser_class = Request

    def __init__(self, server: Any, sock: socket.socket, addr: Any, adj: Any, map: Any = None) -> None:
        super().__init__(server, sock, addr, adj, map)
        waiting = [other for other in server.active_channels.values() if other is not self and not other.requests]
        if len(server.active_channels) > MOST_OPEN and waiting:
            min(waiting, key=lambda other: other.last_activity).will_close = True


def listening(listener: socket.socket, site: Any) -> Any:
    """The server on this socket, not running yet."""
    server = create_server(
        site,
        sockets=[listener],
        threads=8,
        connection_limit=2 * MOST_OPEN,
        channel_timeout=IDLE,
        cleanup_interval=CLOSED_EVERY,
        asyncore_use_poll=True,  # select knows no more than 1,024 open files
        max_request_body_size=settings.MEMBER_MOST_BYTES,
        **proxy(),
    )
    server.channel_class = Channel
    return server


def proxy() -> dict[str, Any]:
    """Behind TLS a proxy stands in front: it alone reaches us, and it says how the browser came, and whence."""
    if not settings.BEHIND_TLS:
        return {}
    headers = {"x-forwarded-proto", "x-forwarded-for"}
    return {"trusted_proxy": "*", "trusted_proxy_headers": headers, "clear_untrusted_proxy_headers": True}
