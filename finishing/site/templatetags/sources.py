"""A source's key → the work behind it, with the way to the page that lists them all."""

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.text import slugify

from finishing.science.sources import SOURCES

register = template.Library()


@register.simple_tag
def source(key: str) -> str:
    """{% source "AE1996" %} → the full reference, its key a link into the page of sources."""
    if key not in SOURCES:
        return key
    if str(SOURCES[key]).lower().startswith(key.lower()):  # "common practice": its key is its own words
        return format_html('<a href="{}#{}">{}</a>', reverse("sources"), slugify(key), SOURCES[key])
    return format_html('<a href="{}#{}">{}</a>: {}', reverse("sources"), slugify(key), key, SOURCES[key])


@register.simple_tag
def cited(basis: str) -> str:
    """{% cited coating.basis.density %} → the key alone, a link; a workshop's own words as they are."""
    if basis not in SOURCES:
        return basis
    return format_html('<a href="{}#{}" title="{}">{}</a>', reverse("sources"), slugify(basis), SOURCES[basis], basis)
