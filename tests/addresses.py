"""Every address of the site, and the rows that each is tried with."""

import uuid
from contextlib import contextmanager
from itertools import islice

from django.db import transaction
from django.urls import NoReverseMatch, get_resolver, reverse

NAMES = sorted(pattern.name for pattern in get_resolver().url_patterns if getattr(pattern, "name", None))


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


def pages(name, rows):
    """A page's address for each of these rows, where it names one."""
    return [address(name, row.pk) for row in rows] if names_a_row(name) else [address(name, uuid.uuid4())]


@contextmanager
def nothing_kept():
    """What is sent in here is answered, and leaves the rows as they were."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


KINDS: dict[str, set[type]] = {}  # of row, by the page that answers for them: found out once in a run


def kinds_known(name, rows, client):
    """The kind of row that a page knows, one at most; what its neighbours know is tried first."""
    if name not in KINDS:
        found = list(KINDS.values())[::-1]
        likely = sorted(
            rows, key=lambda row: next((i for i, kinds in enumerate(found) if type(row) in kinds), len(found))
        )
        own = (type(row) for row in likely if names_a_row(name) and answers(client, address(name, row.pk)))
        KINDS[name] = set(islice(own, 1))
    return KINDS[name]


def answers(client, here):
    """Whether there is anything, also where a page only takes what is sent."""
    status = client.get(here).status_code
    if status == 405:
        with nothing_kept():
            status = client.post(here).status_code
    return status != 404


def telling(rows, kinds):
    known = [row for row in rows if type(row) in kinds]
    return known + [row for row in rows if row not in known][:1]
