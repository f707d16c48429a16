"""What a project was thought to take, and what it took."""

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from finishing.workshops.access import WorkshopRequest, member
from projects.costs.domain.project_taken import ProjectTaken
from projects.costs.domain.taken import Taken
from projects.record.models import Project


@member("plan")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    rows = Project.objects.of(request.workshop).select_related("design", "workshop")
    project = get_object_or_404(rows, pk=pk)
    context = {"project": project, "design": project.design}
    try:
        context |= _taken(ProjectTaken(project, timezone.localdate()), request.workshop.currency)
    except ValueError as wrong:  # more starts than anybody would make
        context["wrong"] = wrong
    return render(request, "projects/costs/project_costs/detail.html", context)


def _taken(taken: ProjectTaken, currency: str) -> dict[str, Any]:
    tables = (
        ("Work", "minutes", taken.minutes),
        ("Paint", "litres, likely", taken.paint),
        ("Paint bought", f"{currency}, without tax", taken.paint_bought),
        ("Blasting", f"{currency}, without tax", taken.blast.by_visit),
        ("Blasting media", "kilograms", taken.blast.media),
        ("Castings, machining and what is bought", f"{currency}, without tax", taken.orders.rows),
    )
    return {
        "taken": taken,
        "tables": [(title, unit, _opened(rows, currency)) for title, unit, rows in tables],
        "parts": [(part, _opened(part.rows, currency)) for part in taken.parts],
    }


def _opened(rows: Iterable[Taken], currency: str) -> list[tuple[Taken, Any]]:
    return [(row, row.working(currency)) for row in rows]
