"""The site's sections, and which of them a page belongs to."""

from typing import Any

from django import template
from django.urls import reverse

register = template.Library()

# url name, its word, and the first step of the addresses of its pages
SECTIONS = (
    ("day-sheet", "Day sheet", ("", "log", "steps")),
    ("plan", "Plan", ("plan",)),
    ("projects", "Projects", ("projects", "designs", "parts", "pieces", "photos", "visits")),
    ("coatings", "Coatings", ("coatings", "systems", "media")),
    ("weather", "Weather", ("weather",)),
    ("calculators", "Calculators", ("calculators",)),
    ("settings", "Settings", ("settings",)),
)


@register.inclusion_tag("projects/_sections.html")
def sections(path: str) -> dict[str, Any]:
    first = path.split("/")[1]
    return {"sections": [(reverse(name), word, first in firsts) for name, word, firsts in SECTIONS]}
