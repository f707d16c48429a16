"""Ten thousand posts to every form that stands on a page, and a query string with every fourth.

Memory is that of a server which has read in all that pages are made by, in a process of its own, and what the posts
added at most to this one, which holds the tests and their tools too.
"""

import logging
import os
import random
import re
import subprocess
import sys
from pathlib import Path

import pytest
import requests

from tests.fuzzing import Fuzz

pytestmark = pytest.mark.django_db
MOST_MEMORY = 400  # MB
AT_REST = """
import django
django.setup()
from django.urls import reverse
reverse("day-sheet")
print(open("/proc/self/status").read())
"""
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
    Path("/proc/self/clear_refs").write_text("5")  # the most it held is counted from here on
    begun = held(Path("/proc/self/status").read_text(), "VmRSS")
    fuzz = Fuzz(owner_client, random.Random(int(os.environ.get("SEED", "1")))).go(tried, POSTS)
    print(f"\nfigure fuzz.posts {fuzz.sent} posts")
    print(f"figure fuzz.forms {len(fuzz.by_name)} addresses")
    print(f"figure fuzz.errors {len(fuzz.errors)} errors")
    print(f"figure fuzz.slowest {fuzz.slowest[0]:.2f} s ({fuzz.slowest[1]})")
    added = held(Path("/proc/self/status").read_text(), "VmHWM") - begun
    server = subprocess.run(
        [sys.executable, "-c", AT_REST],
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "projects.settings"},
        capture_output=True,
        text=True,
        check=True,
    )
    at_rest = held(server.stdout, "VmRSS")
    print(f"figure fuzz.memory {at_rest + added:.0f} MB, {at_rest:.0f} of them a server at rest")
    for error in fuzz.errors:
        print(error)
    assert not fuzz.errors
    assert at_rest + added <= MOST_MEMORY


def held(status, what):
    """In MB, as the system says of a process."""
    return int(re.search(rf"{what}:\s+(\d+) kB", status)[1]) / 1024
