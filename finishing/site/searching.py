"""Rows found by what a person types, and lists by the page."""

from typing import TypeVar

from django.core.paginator import Page, Paginator
from django.db import models
from django.http import HttpRequest

A_PAGE = 50  # rows of a long list
MOST_WORDS = 8  # of what was typed
Row = TypeVar("Row", bound=models.Model)


def containing(text: str, *columns: str) -> models.Q:
    """Rows of which every word of a text stands in one of the columns, as part of a word or whole."""
    found = models.Q()
    for word in text.replace("\0", "").split()[:MOST_WORDS]:
        somewhere = models.Q()
        for column in columns:
            somewhere |= models.Q(**{f"{column}__icontains": word})
        found &= somewhere
    return found


def page_of(request: HttpRequest, rows: models.QuerySet[Row]) -> Page[Row]:
    """The page that is asked for; the nearest one where there is none of that number."""
    return Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
