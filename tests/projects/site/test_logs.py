"""A line of JSON each, and a word for whoever watches."""

import json
import logging
import sys

import pytest
from django.db import OperationalError, connection
from django.test import RequestFactory
from django.urls import reverse

from projects.site.logs import JsonLines


def test_a_line_says_when_what_and_of_which_request():
    record = logging.LogRecord("django.request", logging.WARNING, __file__, 1, "Not Found: %s", ("/☃/",), None)
    record.request, record.status_code = RequestFactory().get("/☃/"), 404
    line = json.loads(JsonLines().format(record))
    assert line.pop("at").endswith("+00:00")
    assert line == {
        "level": "warning",
        "logger": "django.request",
        "message": "Not Found: /☃/",
        "method": "GET",
        "path": "/☃/",
        "status": 404,
    }


def test_an_error_keeps_its_traceback_on_the_one_line():
    try:
        raise ValueError("rust")
    except ValueError:
        record = logging.LogRecord("x", logging.ERROR, __file__, 1, "broken", (), sys.exc_info())
    said = JsonLines().format(record)
    assert "\n" not in said
    assert "ValueError: rust" in json.loads(said)["traceback"]


@pytest.mark.django_db
def test_the_site_is_well_while_its_database_answers(client, monkeypatch):
    backups = "made here" if connection.vendor == "sqlite" else "PostgreSQL's own, by pg_dump"
    assert client.get(reverse("healthy")).content.decode() == f"well\nbackups: {backups}\n"

    def gone():
        raise OperationalError("gone")

    monkeypatch.setattr(connection, "cursor", gone)
    assert client.get(reverse("healthy")).status_code == 503
