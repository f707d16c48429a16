"""The server that speaks TLS by itself, the plain doorstep beside it, and the certificate kept fresh while it runs."""

import contextlib
import logging
import socket
import ssl
import threading
from collections.abc import Callable, Iterable
from typing import Any

from cheroot.server import HTTPConnection
from cheroot.ssl.builtin import BuiltinSSLAdapter
from cheroot.wsgi import Server
from django.conf import settings
from django.utils import timezone

from projects.management.door import MOST_OPEN, signed_in
from projects.management.gate import Site
from projects.site.authority import Authority

LOG = logging.getLogger(__name__)
THREADS = 8
GREETED_WITHIN = 5  # seconds that a handshake may take
SILENT = 20  # seconds that a browser may be, in the middle of a request or between two
LOOKS_EVERY = 60  # seconds, whether the certificate ends soon or this machine has another address
IN_PLAIN = (
    "/trust/",
    "/static/",
    "/healthy/",
    "/hear/",
)  # what needs no trust, or comes before it; sensors know no TLS


class LaterHandshake(BuiltinSSLAdapter):
    """A connection is greeted by the thread that serves it: one that says nothing keeps nobody waiting."""

    def wrap(self, sock: socket.socket) -> tuple[ssl.SSLSocket, dict[str, str]]:
        greeted_later = self.context.wrap_socket(sock, do_handshake_on_connect=False, server_side=True)
        return greeted_later, {"wsgi.url_scheme": "https", "HTTPS": "on"}


class Connection(HTTPConnection):
    known = greeted = False

    def communicate(self) -> bool:
        if not self.greeted:
            try:
                self.socket.settimeout(GREETED_WITHIN)
                self.socket.do_handshake()
                self.socket.settimeout(self.server.timeout)
            except OSError:  # a browser that does not trust the authority yet, or one that speaks no TLS
                return False
            self.greeted = True
        return bool(super().communicate())


class TlsServer(Server):
    """On a socket that was taken before anything was touched."""

    ConnectionClass = Connection
    _connections: Any  # cheroot's list of the silent

    def __init__(self, listener: socket.socket, site: Site, certificate: str) -> None:
        super().__init__(listener.getsockname()[:2], known_first(site), numthreads=THREADS, timeout=SILENT)
        self.listener = listener
        self.max_request_body_size = settings.MEMBER_MOST_BYTES
        self.keep_alive_conn_limit = MOST_OPEN
        self.ssl_adapter = LaterHandshake(certificate, certificate)

    def bind(self, family: int, type: int, proto: int = 0) -> socket.socket:
        self.socket = self.listener
        return self.listener

    def process_conn(self, conn: Connection) -> None:
        """A newcomer waits among the silent until it says something, and takes up no thread before."""
        if conn.known:
            super().process_conn(conn)
        else:
            conn.known = True
            self._connections.put(conn)

    def error_log(self, msg: str = "", level: int = logging.INFO, traceback: bool = False) -> None:
        LOG.log(level, msg, exc_info=traceback)

    @contextlib.contextmanager
    def running(self) -> Any:
        """In a thread of its own."""
        self.prepare()
        thread = threading.Thread(target=self.serve, daemon=True)
        thread.start()
        try:
            yield
        finally:
            self.stop()
            thread.join()


def known_first(site: Site) -> Site:
    """A body larger than a form is read only from somebody who is signed in."""

    def answer(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        large = "HTTP_TRANSFER_ENCODING" in environ
        large = large or int(environ.get("CONTENT_LENGTH") or 0) > settings.STRANGER_MOST_BYTES
        if large and not signed_in(environ.get("HTTP_COOKIE", "")):
            start_response("413 Request Entity Too Large", [("Content-Type", "text/plain"), ("Connection", "close")])
            return [b"Sign in first."]
        return site(environ, start_response)

    return answer


def doorstep(site: Site, tls_port: int) -> Site:
    """What is answered over plain http beside TLS: how a device comes to trust the site; for all else, where."""

    def answer(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        path = environ["PATH_INFO"]
        if path.startswith(IN_PLAIN):
            return site(environ, start_response)
        host = environ.get("HTTP_HOST", "localhost").rsplit(":", 1)[0] if path != "/" else ""
        asked = f"?{environ['QUERY_STRING']}" if environ.get("QUERY_STRING") else ""
        to = f"https://{host}:{tls_port}{path}{asked}" if host else "/trust/"
        start_response(
            "307 Temporary Redirect", [("Location", to), ("Cache-Control", "no-store"), ("Content-Length", "0")]
        )
        return []

    return answer


class Certifier:
    """Renews the server's certificate before it ends, and when the machine has another name or address."""

    def __init__(self, authority: Authority, names: Callable[[], list[str]]) -> None:
        self.authority, self.names = authority, names
        self.over = threading.Event()
        self.thread: threading.Thread | None = None
        self.renew()

    def renew(self) -> bool:
        names = self.names()
        settings.ALLOWED_HOSTS += [
            name for each in names if (name := f"[{each}]" if ":" in each else each) not in settings.ALLOWED_HOSTS
        ]
        return self.authority.renew_server(names, timezone.now())

    def keep_fresh(self, server: TlsServer) -> "Certifier":
        def look() -> None:
            while not self.over.wait(LOOKS_EVERY):
                try:
                    if self.renew():
                        server.ssl_adapter.context.load_cert_chain(self.authority.server_file)
                except OSError:
                    LOG.exception("The certificate could not be renewed; it is tried again.")

        self.thread = threading.Thread(target=look, daemon=True)
        self.thread.start()
        return self

    def close(self) -> None:
        self.over.set()
        if self.thread:
            self.thread.join()
