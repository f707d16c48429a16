"""The door before the site, on a real socket: those who wait in silence, and those who bring too much."""

import socket
import threading
from contextlib import ExitStack, closing, contextmanager

import pytest
from django.conf import settings
from waitress.adjustments import Adjustments

from projects.management import door

HEAD = b"GET / HTTP/1.1\r\nHost: localhost\r\n"
LARGE = 300_000_000


@contextmanager
def an_open_door():
    """A server in a thread of its own; gives a way to knock."""

    def site(environ, start_response):
        start_response("200 OK", [("Content-Length", "2")])
        environ["wsgi.input"].read()
        return [b"ok"]

    with closing(socket.socket()) as listener:
        listener.bind(("127.0.0.1", 0))
        server = door.listening(listener, site)
        running = threading.Thread(target=server.run, daemon=True)
        running.start()

        def knock(sent):
            connection = socket.create_connection(listener.getsockname(), timeout=20)
            connection.sendall(sent)
            return connection

        yield knock
        server.close()
        running.join(5)


def test_whoever_knocks_is_answered_however_many_wait_in_silence():
    with an_open_door() as knock, ExitStack() as held:
        for _ in range(3 * door.MOST_OPEN):
            held.enter_context(knock(HEAD))
        with knock(HEAD + b"\r\n") as connection:
            assert connection.recv(100).startswith(b"HTTP/1.1 200")


def test_a_load_of_a_stranger_s_is_refused_by_its_head():
    with an_open_door() as knock:
        sized = b"Content-Length: %d" % LARGE
        for head in (sized, b"Expect: 100-continue\r\n" + sized, b"Transfer-Encoding: chunked"):
            with knock(HEAD.replace(b"GET", b"POST") + head + b"\r\n\r\n") as connection:
                assert connection.recv(100).startswith(b"HTTP/1.1 413")


def refused(size, *cookies):
    request = door.Request(Adjustments(max_request_body_size=settings.MEMBER_MOST_BYTES))
    lines = [f"Content-Length: {size}", *(f"Cookie: {settings.SESSION_COOKIE_NAME}={cookie}" for cookie in cookies)]
    request.received(HEAD.replace(b"GET", b"POST") + "\r\n".join([*lines, "", ""]).encode())
    return bool(request.error)


@pytest.mark.django_db(transaction=True)  # the door closes the connection that it asked by
def test_who_is_signed_in_may_bring_photos_but_not_without_end(owner_client):
    key = owner_client.cookies[settings.SESSION_COOKIE_NAME].value
    assert [refused(size, key) for size in (40_000_000, LARGE)] == [False, True]
    assert refused(40_000_000, "made-up")
    assert refused(40_000_000)
    assert not refused(100_000)
    owner_client.logout()
    assert refused(40_000_000, key)


def test_only_behind_tls_is_a_proxy_believed(settings):
    settings.BEHIND_TLS = False
    assert door.proxy() == {}
    settings.BEHIND_TLS = True
    assert door.proxy()["trusted_proxy_headers"] == {"x-forwarded-proto", "x-forwarded-for"}
