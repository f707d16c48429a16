"""Fragments that hundreds of times on a page look as they did on the page before."""

from collections.abc import Hashable
from functools import lru_cache

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

register = template.Library()


@register.filter
@lru_cache(2**13)  # some ten megabytes
def drawn(card: Hashable, name: str) -> SafeString:
    """{{ card|drawn:"work/projects.html#heap" }} → the template that knows nothing but `card`, for equal ones once."""
    return render_to_string(name, {"card": card})
