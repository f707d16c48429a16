"""What stands on every page: its sections, and a form for where there is no signal."""

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


@register.inclusion_tag("projects/site/_yard_form.html")
def yard_form(zone: str) -> dict[str, str]:
    """What outbox.js opens where there is no signal; `zone` is that of the workshop's clock."""
    return {"zone": zone}


@register.inclusion_tag("projects/site/_sections.html")
def sections(path: str, may: Container[str]) -> dict[str, Any]:
    first = path.split("/")[1]
    shown = [section for section in SECTIONS if section[0] != MONEY or "plan" in may]
    return {"sections": [(reverse(name), word, first in firsts) for name, word, firsts in shown]}
