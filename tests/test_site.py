"""Every address of the site at once: who may open it, what a stranger sees, and rubbish that is no error of ours."""

import re
import uuid

import pytest
from django.urls import NoReverseMatch, get_resolver, reverse

pytestmark = pytest.mark.django_db

OPEN_TO_EVERYBODY = {"sign-in", "sign-out", "first-start", "join", "sources", "follow"}
OPEN_TO_EVERYBODY |= {"follow-photo", "follow-thumbnail"}  # they ask for the address's own token
OPEN_TO_EVERYBODY |= {"feed"}  # a calendar's secret address
OPEN_TO_EVERYBODY |= {"calculators", "calculator"}  # they know nobody's rows
NAMES = sorted(pattern.name for pattern in get_resolver().url_patterns if getattr(pattern, "name", None))
RUBBISH = "?piece=nonsense&piece=%00&kind=%E2%98%83&page=-1&place=&when=yesterday&temperature=NaN&humidity=1e999&id=x"


def address(name, pk, token="nonsense"):
    """The address of a page, with what its pattern wants."""
    named = {"pk": pk, "kind": "revision"}
    for arguments in ({}, {"pk": pk}, {"token": token}, {"token": token, "pk": pk}, named, {"name": "dew-point"}):
        try:
            return reverse(name, kwargs=arguments)
        except NoReverseMatch:
            continue
    raise AssertionError(f"{name} wants arguments this test does not know")


def names_a_row(name):
    some = uuid.UUID(int=1)
    return str(some) in address(name, some, token="token") and "token" not in address(name, some, token="token")


def pages(name, one_of_each):
    """A page's address for every kind of row, where it names one."""
    return [address(name, row.pk) for row in one_of_each] if names_a_row(name) else [address(name, uuid.uuid4())]


@pytest.mark.parametrize("name", [name for name in NAMES if name not in OPEN_TO_EVERYBODY])
def test_nobody_comes_in_without_signing_in(client, name):
    for answer in (client.get(address(name, uuid.uuid4())), client.post(address(name, uuid.uuid4()))):
        asked_to_sign_in = answer.status_code == 302 and answer.url.startswith(reverse("sign-in"))
        assert asked_to_sign_in or answer.status_code == 405


@pytest.mark.parametrize("name", [name for name in NAMES if names_a_row(name)])
def test_another_workshop_s_rows_are_nowhere(stranger_client, one_of_each, name):
    for row in one_of_each:
        for answer in (stranger_client.get(address(name, row.pk)), stranger_client.post(address(name, row.pk))):
            assert answer.status_code in {404, 405}, row


@pytest.mark.parametrize("name", NAMES)
def test_rubbish_in_an_address_is_no_error_of_ours(owner_client, one_of_each, name):
    for here in pages(name, one_of_each):
        assert owner_client.get(here + RUBBISH).status_code < 500


@pytest.mark.parametrize("name", NAMES)
def test_a_form_full_of_rubbish_is_no_error_of_ours(owner_client, one_of_each, name):
    """Every box that the page has, filled with what belongs in none of them; then nothing at all."""
    for here in pages(name, one_of_each):
        shown = owner_client.get(here)
        form = shown.context.get("form") if shown.context else None
        boxes = getattr(form, "fields", {})
        for typed in ("☃ \x00 1e999", "-1", ""):
            assert owner_client.post(here, dict.fromkeys(boxes, typed)).status_code < 500


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
    monkeypatch.setattr("finishing.views.settings.Place.objects.of", breaks)
    answer = owner_client.get(reverse("places"))
    assert answer.status_code == 500
    assert "Something broke here" in answer.content.decode()
    assert "secret detail" not in answer.content.decode()


@pytest.mark.parametrize("name", NAMES)
def test_no_page_has_inline_script_or_style_or_asks_another_host(owner_client, one_of_each, name):
    for here in pages(name, one_of_each):
        answer = owner_client.get(here)
        if answer.status_code != 200 or "html" not in answer.headers["Content-Type"]:
            continue
        page = answer.content.decode()
        assert not re.search(r"<style|\sstyle=|\son[a-z]+=|<script(?![^>]*\ssrc=)", page)
        assert not re.search(r"<(?:script|img|link|iframe|source|use)[^>]*(?:src|href)=[\"'](?:https?:)?//", page)
