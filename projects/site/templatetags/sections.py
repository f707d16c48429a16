"""The site's sections, and which of them a page belongs to."""

from collections.abc import Container
from typing import Any

from django import template
from django.urls import reverse

register = template.Library()

# url name, its word, and the first step of the addresses of its pages
MONEY = "costs"  # for those who plan
SECTIONS = (
    ("day-sheet", "Day sheet", ("", "log", "steps")),
    ("plan", "Plan", ("plan",)),
    ("projects", "Projects", ("projects", "designs", "parts", "pieces", "machines", "photos", "visits")),
    ("costs", "Costs", ("costs", "suppliers", "requests", "quotes", "orders", "buyers")),
    ("coatings", "Coatings", ("coatings", "systems", "media")),
    ("weather", "Weather", ("weather",)),
    ("calculators", "Calculators", ("calculators",)),
    ("settings", "Settings", ("settings",)),
)


@register.simple_tag
def section_of(path: str) -> str:
    """The name of the section that a page belongs to, for its help; the first where it belongs to none."""
    first = f"{path.removeprefix('/help')}//".split("/")[1]
    return next((name for name, _, firsts in SECTIONS if first == name or first in firsts), SECTIONS[0][0])


@register.inclusion_tag("projects/site/_sections.html")
def sections(path: str, may: Container[str]) -> dict[str, Any]:
    first = path.split("/")[1]
    shown = [section for section in SECTIONS if section[0] != MONEY or "plan" in may]
    return {"sections": [(reverse(name), word, first in firsts) for name, word, firsts in shown]}
