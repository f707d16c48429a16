"""The pages of one design's costs."""

from django import template
from django.db.models import Model
from django.urls import reverse

register = template.Library()

# url name, and its word; each takes the design
PAGES: tuple[tuple[str, str], ...] = (
    ("design-costs", "What it costs"),
    ("routes", "Parts and routes"),
    ("tools", "Patterns and jigs"),
    ("proving", "Proving"),
    ("requests", "Requests"),
    ("quotes", "Quotes"),
    ("ordering", "Ordering plan"),
    ("orders", "Orders"),
    ("buyers", "Buyers"),
    ("price", "Price"),
)


@register.simple_tag
def cost_pages(design: Model) -> list[tuple[str, str, str]]:
    return [(name, reverse(name, args=[design.pk]), word) for name, word in PAGES]
