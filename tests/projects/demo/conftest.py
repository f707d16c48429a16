"""The demonstration, built at any moment, or once for the tests of this folder."""

from contextlib import contextmanager
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.db import transaction
from django.test import override_settings

from projects.demo.actions import build_demo


@contextmanager
def built(moment, media):
    """The demonstration's workshop and its moment, by London's clock; the clock stands there meanwhile."""
    now = moment.replace(tzinfo=ZoneInfo("Europe/London")).astimezone(UTC)
    with time_machine.travel(now, tick=False), override_settings(MEDIA_ROOT=media):
        yield build_demo(now), now


@pytest.fixture
def start(db, request, tmp_path):
    """The demonstration at the moment that the test is tried with."""
    with built(request.param, tmp_path) as demonstration:
        yield demonstration


@pytest.fixture(scope="package")
def demonstration(django_db_setup, django_db_blocker, tmp_path_factory):
    """The demonstration on a morning in May, for this and the files after it; what a test changes is gone after it."""
    with django_db_blocker.unblock(), transaction.atomic():
        with built(datetime(2026, 5, 12, 10, 20), tmp_path_factory.mktemp("media")) as demonstration:
            yield demonstration
        transaction.set_rollback(True)
