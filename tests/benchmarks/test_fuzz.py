"""Ten thousand posts to every form that stands on a page, and a query string with every fourth."""

import logging
import os
import random

import pytest
import requests

from tests.fuzzing import MOST_MEMORY, Fuzz, memory

pytestmark = pytest.mark.django_db
POSTS = int(os.environ.get("POSTS", "10000"))


@pytest.fixture
def _refusals_unsaid():
    """pytest keeps each line of the log, and with one of a refused form the whole request and its files."""
    logging.disable(logging.WARNING)
    yield
    logging.disable(logging.NOTSET)


@pytest.mark.usefixtures("_refusals_unsaid")
def test_fuzz_breaks_nothing(owner_client, tried, monkeypatch):
    def dead(*args, **kwargs):
        raise requests.ConnectionError("nobody answers")

    monkeypatch.setattr(requests.Session, "send", dead)
    begun = memory()  # of what the tests themselves hold
    fuzz = Fuzz(owner_client, random.Random(int(os.environ.get("SEED", "1")))).go(tried, POSTS)
    print(f"\nfigure fuzz.posts {fuzz.sent} posts")
    print(f"figure fuzz.forms {len(fuzz.by_name)} addresses")
    print(f"figure fuzz.errors {len(fuzz.errors)} errors")
    print(f"figure fuzz.slowest {fuzz.slowest[0]:.2f} s ({fuzz.slowest[1]})")
    print(f"figure fuzz.memory {memory():.0f} MB, {begun:.0f} of them before the first post")
    for error in fuzz.errors:
        print(error)
    assert not fuzz.errors
    assert memory() <= MOST_MEMORY
