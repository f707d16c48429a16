"""Every page is found from the first one, by links and buttons alone."""

import re
from html import unescape
from urllib.parse import urljoin, urlsplit

import pytest
from django.urls import Resolver404, resolve

from .test_site import NAMES, OPEN_TO_EVERYBODY

pytestmark = pytest.mark.django_db

# they stand on a page only while there is something to stop, withdraw, answer or look at; tests of their own press them
ONLY_SOMETIMES = {"day-off-remove", "follower-close", "forecast-fetch", "invite-withdraw", "log-verdict", "no-workshop"}
ONLY_SOMETIMES |= {"photo", "photo-thumbnail", "plan-file", "plan-progress", "plan-stop", "visit-refused", "visit-wait"}
ONLY_SOMETIMES |= {"year-fetch", "year-remove", "good-share-take", "order-cancel", "paper", "part-remove"}
ONLY_SOMETIMES |= {"route-usual", "trial-new", "own-rate-take"}
LEADS_ON = re.compile(r"""(?:href|action|hx-get|hx-post|src)=["']([^"'#]+)""")


def leads_to(page, here):
    """(name, arguments) of each address on a page, and the address."""
    for found in LEADS_ON.findall(page):
        address = urljoin(here, unescape(found))
        try:
            match = resolve(urlsplit(address).path)
        except Resolver404:
            continue
        yield (match.url_name, tuple(match.kwargs.items())), address


def found_from(client, first):
    """Every page that links lead to, one by one."""
    waiting, seen = [first], set()
    while waiting:
        here = waiting.pop()
        answer = client.get(here, follow=True)
        if answer.status_code != 200 or "html" not in answer.headers["Content-Type"]:
            continue
        for page, address in leads_to(answer.content.decode(), here):
            if page not in seen:
                seen.add(page)
                waiting.append(address)
    return {name for name, _ in seen}


def test_every_page_is_found_from_the_first(owner_client, one_of_each):
    lost = set(NAMES) - OPEN_TO_EVERYBODY - ONLY_SOMETIMES - found_from(owner_client, "/")
    assert not lost, " ".join(sorted(lost))
