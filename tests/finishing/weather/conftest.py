"""A weather service on this machine: it answers what it was told, in order, and remembers what it was asked."""

import time
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from urllib.parse import parse_qs, urlsplit

import pytest


@dataclass
class Service:
    url: str = ""
    answers: list = field(default_factory=list)  # (status, body, headers, seconds of silence before)
    asked: list = field(default_factory=list)  # (query, headers)

    def will_answer(self, status=200, body="", headers=None, silence=0.0):
        self.answers.append((status, body.encode(), headers or {}, silence))


@pytest.fixture
def service(monkeypatch):
    monkeypatch.setenv("NO_PROXY", "127.0.0.1")
    told = Service()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self):
            told.asked.append((parse_qs(urlsplit(self.path).query), dict(self.headers)))
            status, body, headers, silence = told.answers.pop(0)
            time.sleep(silence)
            self.send_response(status)
            for name, value in headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *arguments):
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    told.url = f"http://127.0.0.1:{server.server_port}/complete"
    Thread(target=server.serve_forever, args=(0.02,), daemon=True).start()
    yield told
    server.shutdown()
    server.server_close()
