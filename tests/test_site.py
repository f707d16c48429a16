"""Every address of the site at once: who may open it, what a stranger sees, and rubbish that is no error of ours."""

import re
import uuid

import pytest
from django.db import connection
from django.urls import reverse

from .addresses import NAMES, address, is_read, names_a_row, nothing_kept, pages

pytestmark = pytest.mark.django_db

OPEN_TO_EVERYBODY = {"sign-in", "sign-out", "first-start", "towns", "join", "sources", "help", "follow"}
OPEN_TO_EVERYBODY |= {"follow-photo", "follow-thumbnail", "follow-story"}  # they ask for the address's own token
OPEN_TO_EVERYBODY |= {"healthy"}  # it tells nothing but that
OPEN_TO_EVERYBODY |= {"new-password"}  # a link that works once
OPEN_TO_EVERYBODY |= {"feed", "sensor-hear"}  # secret addresses of a calendar and of a sensor,
OPEN_TO_EVERYBODY |= {"colour-sheet", "colour-sheet-picture"}  # and of colours to choose from
OPEN_TO_EVERYBODY |= {"tag"}  # says to a stranger that it is one
OPEN_TO_EVERYBODY |= {"trust", "authority-file", "manifest", "offline-worker"}  # of the site, not of a workshop
OPEN_TO_EVERYBODY |= {"calculators", "calculator"}  # they know nobody's rows
ASKS_FOR_MORE = {
    "mesh-take",
    "fit",
    "trial-new",
    "paper",
    "rack-undo",
}  # the address goes on: which place, check, rack; a row with a paper
PUT_BACK = {"member-put-back", "project-put-back"}  # only while something is deleted; tests of their own press them
ASKS_FOR_MORE |= PUT_BACK
# they stand on a page only while there is something to stop, withdraw, answer or look at; tests of their own press them
ONLY_SOMETIMES = {"follower-close", "forecast-fetch", "good-share-take", "invite-withdraw", "no-workshop"}
ONLY_SOMETIMES |= {"order-cancel", "own-rate-take", "paper", "plan-file", "plan-progress", "plan-stop"}
ONLY_SOMETIMES |= PUT_BACK
ONLY_SOMETIMES |= {"project-keep", "project-throw-away"}  # of a trial
ONLY_SOMETIMES |= {"refit-undo", "strip-down-correct"}  # of what is back; of what was just taken off
ONLY_SOMETIMES |= {"loan-undo"}  # of what is back
ONLY_SOMETIMES |= {"photo-remove"}  # of a photo that no entry shows
ONLY_SOMETIMES |= {"opened-tin-today"}  # of paint that is needed, or mixed today
ONLY_SOMETIMES |= {"log-yard", "try-out-marks"}  # fetched by a script
ONLY_SOMETIMES |= {"codes-end", "sign-in-code"}  # of whoever has one-time codes
ONLY_SOMETIMES |= {"backup", "backup-remove", "backup-restore"}  # of files, of which there are none here
if connection.vendor == "postgresql":  # pg_dump makes backups there
    ONLY_SOMETIMES |= {"backup-bring", "backup-new"}
ONLY_SOMETIMES |= {"member-password", "sign-ins-end"}  # of another member, of another device
ONLY_SOMETIMES |= {"mail-test"}  # where a mail server is named
ONLY_SOMETIMES |= {"project-plan-pdf"}  # of a project that a plan is in
ONLY_SOMETIMES |= {"mesh-take"}  # after a mesh was measured
ONLY_SOMETIMES |= {"route-usual", "trial-new", "visit-refused", "visit-wait", "year-fetch"}
RUBBISH = "?piece=nonsense&piece=%00&kind=%E2%98%83&page=-1&place=&when=yesterday&temperature=NaN&humidity=1e999&id=x"


@pytest.mark.parametrize("name", [name for name in NAMES if name not in OPEN_TO_EVERYBODY])
def test_nobody_comes_in_without_signing_in(client, name):
    for answer in (client.get(address(name, uuid.uuid4())), client.post(address(name, uuid.uuid4()))):
        asked_to_sign_in = answer.status_code == 302 and answer.url.startswith(reverse("sign-in"))
        assert asked_to_sign_in or answer.status_code == 405


def test_every_page_is_found_from_the_first_by_links_and_buttons_alone(known):
    assert {name for name, page in known.items() if not page.linked} - OPEN_TO_EVERYBODY == ONLY_SOMETIMES


def test_every_page_that_names_a_row_is_tried_with_one_that_it_knows(tried):
    assert {name for name, rows in tried.items() if names_a_row(name) and len(rows) < 2} == ASKS_FOR_MORE


def test_another_workshop_s_rows_are_nowhere(stranger_client, tried):
    assert not [fault for name, rows in tried.items() for fault in seen_by_strangers(stranger_client, name, rows)]


def seen_by_strangers(client, name, rows):
    addresses = pages(name, rows) if names_a_row(name) else []
    with nothing_kept(client):
        answers = [(here, client.get(here).status_code, client.post(here).status_code) for here in addresses]
    return [answer for answer in answers if not {*answer[1:]} <= {404, 405}]


def test_rubbish_in_an_address_is_no_error_of_ours(owner_client, tried):
    assert not [fault for name, rows in tried.items() for fault in broken_addresses(owner_client, name, rows)]


def broken_addresses(client, name, rows):
    return [here for here in pages(name, rows) if client.get(here + RUBBISH).status_code >= 500]


INLINE = re.compile(r"<style|\sstyle=|\son[a-z]+=|<script(?![^>]*\ssrc=)")
ELSEWHERE = re.compile(r"<(?:script|img|link|iframe|source|use)[^>]*(?:src|href)=[\"'](?:https?:)?//")


def test_no_page_has_inline_script_or_style_or_asks_another_host_and_no_form_breaks(owner_client, tried):
    """One look at each page serves both."""
    faults, seen = [], 0
    for here in [here for name, rows in tried.items() for here in pages(name, rows)]:
        shown = owner_client.get(here)
        if is_read(shown):
            seen += 1
            found = (pattern.search(shown.content.decode()) for pattern in (INLINE, ELSEWHERE))
            faults += [(here, fault[0]) for fault in found if fault]
        faults += broken_form(owner_client, here, shown)
    assert not faults
    assert seen > 100


HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
}


def test_every_page_says_what_a_browser_may_do_with_it(owner_client, client, tried):
    """Those of members, and those that are open to everybody; errors too."""
    lacking = []
    of_members = [here for name, rows in tried.items() for here in pages(name, rows)[:1]]
    of_everybody = [address(name, uuid.uuid4()) for name in sorted(OPEN_TO_EVERYBODY - {"sign-out"})]
    for visitor, here in [(owner_client, here) for here in of_members] + [(client, here) for here in of_everybody]:
        answer = visitor.get(here)
        if not is_read(answer) and "html" not in answer.headers.get("Content-Type", ""):
            continue
        lacking += [(here, name) for name, value in HEADERS.items() if answer.headers.get(name) != value]
        policy = answer.headers.get("Content-Security-Policy", "")
        lacking += [
            (here, word)
            for word in ("default-src 'self'", "object-src 'none'", "frame-ancestors 'none'", "form-action 'self'")
            if word not in policy
        ]
        lacking += [(here, "inline is allowed")] if "unsafe" in policy else []
        if answer.headers.get("Referrer-Policy") != "same-origin":
            lacking.append((here, "Referrer-Policy"))
    assert not lacking


def broken_form(client, here, shown):
    """Every box that a page has, filled with what belongs in none of them; then nothing at all."""
    form = shown.context.get("form") if shown.context else None
    boxes, faults = getattr(form, "fields", {}), []
    for typed in ("☃ \x00 1e999", "-1", "") if boxes else ("",):
        with nothing_kept(client):
            status = client.post(here, dict.fromkeys(boxes, typed)).status_code
        faults += [(here, typed)] if status >= 500 else []
    return faults


@pytest.mark.parametrize("typed", ["nonsense", "%00", "%F0%9F%92%A9", "a" * 2000, "..%2f..%2f"])
@pytest.mark.parametrize("path", ["/start/{}/", "/join/{}/", "/follow/{}/", "/pieces/{}/", "/calculators/{}/"])
def test_an_address_of_nothing_is_told_plainly(owner_client, path, typed):
    assert owner_client.get(path.format(typed)).status_code in {404, 410}


def test_a_missing_page_shows_the_way_back(owner_client):
    page = owner_client.get("/nowhere/").content.decode()
    assert "Nothing at this address" in page
    assert "Back to the day sheet" in page


def test_a_refused_page_says_whose_it_is(guest_client):
    assert "A guest may not do this here" in guest_client.get(reverse("place-new")).content.decode()


def test_a_form_from_another_page_is_refused_with_a_word(owner):
    from django.test import Client

    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    answer = client.post(reverse("place-new"), {"name": "Den"})
    assert answer.status_code == 403
    assert "open too long" in answer.content.decode()


def test_an_error_of_ours_has_a_page_of_its_own_and_no_trace(owner_client, monkeypatch):
    def breaks(*args, **kwargs):
        raise RuntimeError("a secret detail")

    owner_client.raise_request_exception = False
    monkeypatch.setattr("finishing.workshops.views.settings.Place.objects.of", breaks)
    answer = owner_client.get(reverse("places"))
    assert answer.status_code == 500
    assert "Something broke here" in answer.content.decode()
    assert "secret detail" not in answer.content.decode()


CURRENCY = re.compile(rb"\bXTS\b")  # as a word: a form's random token may hold the three letters


def test_a_guest_reads_no_money_anywhere(guest_client, workshop, tried):
    """The workshop's own currency, by a sign that stands nowhere else."""
    type(workshop).objects.filter(pk=workshop.pk).update(currency="XTS")
    told = []
    for here in [here for name, rows in tried.items() for here in pages(name, rows)]:
        answer = guest_client.get(here)
        kind = answer.headers.get("Content-Type", "")
        if answer.status_code == 200 and ("html" in kind or "csv" in kind) and CURRENCY.search(answer.getvalue()):
            told.append(here)
    assert not told
