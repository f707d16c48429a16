"""Each form of the site is sent with rubbish a few times; benchmarks/ does it ten thousand times."""

import random

import pytest
import requests

from .fuzzing import Fuzz

pytestmark = pytest.mark.django_db


@pytest.fixture
def _service_is_dead(monkeypatch):
    def dead(*args, **kwargs):
        raise requests.ConnectionError("nobody answers")

    monkeypatch.setattr(requests.Session, "send", dead)


@pytest.mark.usefixtures("_service_is_dead")
def test_no_rubbish_in_a_form_breaks_anything(owner_client, tried):
    fuzz = Fuzz(owner_client, random.Random(20260512)).go(tried, posts=150)
    assert not fuzz.errors
    assert len(fuzz.by_name) > 50
