"""The server that speaks TLS by itself, and the plain doorstep beside it."""

import socket
from contextlib import ExitStack, closing, contextmanager
from datetime import UTC, datetime

import pytest
import requests

from projects.management import tls
from projects.management.tls import TlsServer, doorstep
from projects.site.authority import AUTHORITY_FILE, kept_authority


@contextmanager
def tls_server(folder, site):
    authority = kept_authority(folder, ["127.0.0.1"], datetime.now(UTC))
    authority.renew_server(["127.0.0.1"], datetime.now(UTC))
    with closing(socket.create_server(("127.0.0.1", 0))) as listener:
        server = TlsServer(listener, site, str(authority.server_file))
        with server.running():
            yield f"https://127.0.0.1:{listener.getsockname()[1]}", str(folder / AUTHORITY_FILE)


def says_how_it_was_asked(environ, start_response):
    start_response("200 OK", [("Content-Type", "text/plain")])
    return [f"{environ['wsgi.url_scheme']} {environ['PATH_INFO']}".encode()]


@pytest.mark.django_db
def test_it_is_reached_over_tls_and_reads_nothing_large_from_a_stranger(tmp_path, settings):
    settings.STRANGER_MOST_BYTES = 1000
    with tls_server(tmp_path, says_how_it_was_asked) as (address, trusted):
        assert requests.get(f"{address}/log/", verify=trusted, timeout=10).text == "https /log/"
        assert requests.post(address, data=b"x" * 1001, verify=trusted, timeout=10).status_code == 413
        with pytest.raises(requests.exceptions.SSLError):
            requests.get(address, timeout=10)


def test_silent_connections_take_no_thread(tmp_path, monkeypatch):
    monkeypatch.setattr(tls, "GREETED_WITHIN", 600)
    monkeypatch.setattr(tls, "SILENT", 600)
    with tls_server(tmp_path, says_how_it_was_asked) as (address, trusted), ExitStack() as silent:
        for _ in range(30):
            silent.enter_context(closing(socket.create_connection(("127.0.0.1", int(address.rsplit(":", 1)[1])))))
        assert requests.get(address, verify=trusted, timeout=20).ok


@pytest.mark.parametrize(
    ("path", "asked", "to"),
    [
        ("/", "", "/trust/"),
        ("/t/BCDFGHJK/", "", "https://10.0.0.5:8443/t/BCDFGHJK/"),
        ("/log/", "piece=1", "https://10.0.0.5:8443/log/?piece=1"),
    ],
)
def test_the_plain_doorstep_leads_on(path, asked, to):
    said = {}
    environ = {"PATH_INFO": path, "QUERY_STRING": asked, "HTTP_HOST": "10.0.0.5:8000"}
    doorstep(says_how_it_was_asked, 8443)(environ, lambda status, headers: said.update(headers, status=status))
    assert (said["status"][:3], said["Location"]) == ("307", to)


@pytest.mark.parametrize("path", ["/trust/", "/trust/fettlebook-authority.crt", "/static/x.css", "/hear/token/"])
def test_what_comes_before_trust_is_answered_in_plain(path):
    environ = {"PATH_INFO": path, "wsgi.url_scheme": "http"}
    assert doorstep(says_how_it_was_asked, 8443)(environ, lambda *_: None) == [f"http {path}".encode()]
