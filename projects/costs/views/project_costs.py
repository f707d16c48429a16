"""What a project was estimated to take, and what it took."""

from collections.abc import Callable, Sequence
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from finishing.science.working import Working
from finishing.workshops.access import WorkshopRequest, member, unless_unchanged
from projects.costs.domain.actuals import ActualLine, ProjectActuals
from projects.record.models import Project

SECTIONS = {"finishing": "Finishing", "blasting": "Blasting", "making": "Making and buying"}
FIRST = "finishing"


@member("plan")
@unless_unchanged
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The first section with the page; the others, and what a part took, when they are scrolled to or asked for."""
    rows = Project.objects.of(request.workshop).select_related("design", "workshop")
    project = get_object_or_404(rows, pk=pk)
    project.design.workshop = project.workshop
    actuals, currency = ProjectActuals(project, timezone.localdate()), request.workshop.currency
    asked = request.GET.get("part", "")
    part = next((part for part in actuals.parts if str(part.pk) == asked), None) if asked else None
    section = "" if part else request.GET.get("section", FIRST)
    section = FIRST if section not in SECTIONS and not part else section
    context: dict[str, Any] = {
        "project": project,
        "design": project.design,
        "actuals": actuals,
        "sections": SECTIONS,
        "section": section,
        "opened": part,
    }
    try:
        if part is not None:
            context["rows"] = _opened(actuals.of_part(part), currency)
        else:
            context["tables"] = _tables(actuals, section, currency)
    except ValueError as wrong:  # more starts than anybody would make
        context["wrong"] = str(wrong)
    page = "projects/costs/project_costs/detail.html"
    if request.htmx:
        return render(request, f"{page}#part" if part else f"{page}#section", context)
    return render(request, page, context)


def _opened(lines: Sequence[ActualLine[Any]], currency: str) -> list[tuple[ActualLine[Any], Working]]:
    return [(line, line.working(currency)) for line in lines]


def _tables(actuals: ProjectActuals, section: str, currency: str) -> list[tuple[str, str, Any]]:
    """Each with its heading and its unit."""
    money = f"{currency}, without tax"
    lines: dict[str, Callable[[], list[tuple[str, str, Sequence[ActualLine[Any]]]]]] = {
        "finishing": lambda: [
            ("Work", "minutes", actuals.minutes),
            ("Paint", "litres, likely", actuals.paint.by_coating),
            ("Paint bought", money, actuals.paint.bought),
        ],
        "blasting": lambda: [
            ("Blasting", money, actuals.blast.by_visit),
            ("Blasting media", "kilograms", actuals.blast.media),
        ],
        "making": lambda: [
            ("Work of our own", "minutes", actuals.hands.by_process),
            ("Castings, machining and what is bought", money, actuals.orders.rows),
        ],
    }
    return [(title, unit, _opened(own, currency)) for title, unit, own in lines[section]()]
