"""Every address of the site, a walk through its pages by links alone, and the rows that each address is tried with."""

import re
import uuid
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass
from html import unescape
from http.cookies import SimpleCookie
from urllib.parse import urldefrag, urljoin, urlsplit

from django.apps import apps
from django.db import transaction
from django.urls import NoReverseMatch, Resolver404, get_resolver, resolve, reverse

from finishing.site.models import WorkshopRow

NAMES = sorted(pattern.name for pattern in get_resolver().url_patterns if getattr(pattern, "name", None))


def address(name, pk, token="nonsense"):
    """The address of a page, with what its pattern wants."""
    named = {"pk": pk, "kind": "revision"}
    reset = {"uidb64": "none", "token": token}
    word, section, rack = {"name": "dew-point"}, {"section": "plan"}, {"rack": pk}
    chapter = {"stage": "found"}
    for arguments in (
        {},
        {"pk": pk},
        {"token": token},
        {"token": token, "pk": pk},
        named,
        word,
        section,
        reset,
        rack,
        {"pk": pk, **chapter},
        {"token": token, **chapter},
    ):
        try:
            return reverse(name, kwargs=arguments)
        except NoReverseMatch:
            continue
    raise AssertionError(f"{name} wants arguments this test does not know")


def names_a_row(name):
    some = uuid.UUID(int=1)
    return str(some) in address(name, some, token="token") and "token" not in address(name, some, token="token")


def pages(name, rows):
    """A page's address for each of these rows, where it names one."""
    return [address(name, row.pk) for row in rows] if names_a_row(name) else [address(name, uuid.uuid4())]


@contextmanager
def nothing_kept(client):
    """What is sent in here is answered, and leaves the rows as they were, and the client signed in if it was."""
    cookies = SimpleCookie(client.cookies)
    with transaction.atomic():
        yield
        transaction.set_rollback(True)
    client.cookies = cookies


class Walk:
    """Opens a page and all that it leads to by links and pictures, as one person; where buttons send to is only noted.

    Of one name at most `most` pages are opened. `met` are the names of all addresses on the way, `read` those of pages
    to read, `rows` the key of a row in an address by its name, `wrong` the links to what is not there or breaks.
    """

    LINKS = re.compile(r"""(?:href|src|hx-get)=["']([^"'#]+)""")
    BUTTONS = re.compile(r"""(?:action|hx-post)=["']([^"'#]+)""")

    def __init__(self, client, most=2):
        self.client, self.most = client, most
        self.met, self.opened, self.read, self.rows, self.wrong = set(), Counter(), set(), {}, []

    def from_page(self, first):
        waiting, seen = [(first, "the start")], set()
        while waiting:
            here, found_on = waiting.pop()
            if here not in seen:
                seen.add(here)
                waiting += [(link, here) for link in self.open(here, found_on)]
        return self

    def open(self, here, found_on):
        """The links on a page; none where enough pages of its name have been opened."""
        name = self.meet(here, found_on)
        if name is None or self.opened[name] >= self.most:
            return []
        self.opened[name] += 1
        answer = self.client.get(here)
        if answer.status_code in (301, 302):
            return [urljoin(here, answer.url)]
        if answer.status_code != 200:
            self.wrong.append((here, answer.status_code, found_on))
        if not is_read(answer):
            return []
        self.read.add(name)
        for address in inside(self.BUTTONS, answer, here):
            self.meet(address, here)
        return inside(self.LINKS, answer, here)

    def meet(self, address, found_on):
        """The name of an address, with the row in it where the address says no more."""
        try:
            match = resolve(urlsplit(address).path)
        except Resolver404:
            self.wrong.append((address, "leads nowhere", found_on))
            return None
        self.met.add(match.url_name)
        if "pk" in match.kwargs and not urlsplit(address).query:
            self.rows[match.url_name] = match.kwargs["pk"]
        return match.url_name


def inside(pattern, answer, here):
    """The addresses of the site itself that stand on a page."""
    absolute = {urldefrag(urljoin(here, unescape(link))).url for link in pattern.findall(answer.content.decode())}
    return sorted(link for link in absolute if not urlsplit(link).scheme and not link.startswith("/static/"))


@dataclass(frozen=True)
class Known:
    """What a page is: whether links lead to it from the first one, whether it is read, and the kind of row it shows."""

    linked: bool
    read: bool
    kind: type | None


KNOWN: dict[str, Known] = {}  # by the name of a page; the same for every workshop, so found out once in a run


def known_pages(client, rows):
    """Links lead to most pages; the others are tried with one row after the other."""
    if not KNOWN:
        walk, kinds = Walk(client, most=1).from_page("/"), kinds_by_key()
        for name in NAMES:
            kind = kinds.get(walk.rows.get(name))
            if kind is None and names_a_row(name):
                kind = next((type(row) for row in rows if answers(client, address(name, row.pk))), None)
            read = name in walk.read or any(is_read(client.get(here)) for here in pages(name, of_kind(rows, kind)))
            KNOWN[name] = Known(name in walk.met, read, kind)
    return KNOWN


def kinds_by_key():
    kinds = [model for model in apps.get_models() if issubclass(model, WorkshopRow)]
    return {key: model for model in kinds for key in model.objects.values_list("pk", flat=True)}


def is_read(answer):
    """Whether it is a page, not a file, a form's target or an error."""
    return answer.status_code == 200 and "html" in answer.headers["Content-Type"]


def of_kind(rows, kind):
    return [row for row in rows if type(row) is kind]


def answers(client, here):
    """Whether there is anything, also where a page only takes what is sent."""
    status = client.get(here).status_code
    if status == 405:
        with nothing_kept(client):
            status = client.post(here).status_code
    return status != 404
