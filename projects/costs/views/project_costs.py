"""What a project was estimated to take, and what it took."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from finishing.science.working import Working
from finishing.workshops.access import WorkshopRequest, member, unless_unchanged
from projects.costs.domain.actuals import ActualLine, ProjectActuals
from projects.record.models import Project


@member("plan")
@unless_unchanged
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    rows = Project.objects.of(request.workshop).select_related("design", "workshop")
    project = get_object_or_404(rows, pk=pk)
    context: dict[str, Any] = {"project": project, "design": project.design}
    try:
        context |= _actuals(ProjectActuals(project, timezone.localdate()), request.workshop.currency)
    except ValueError as wrong:  # more starts than anybody would make
        context["wrong"] = str(wrong)
    return render(request, "projects/costs/project_costs/detail.html", context)


def _actuals(actuals: ProjectActuals, currency: str) -> dict[str, Any]:
    def opened(lines: Sequence[ActualLine[Any]]) -> list[tuple[ActualLine[Any], Working]]:
        return [(line, line.working(currency)) for line in lines]

    return {
        "actuals": actuals,
        "tables": [
            ("Work", "minutes", opened(actuals.minutes)),
            ("Paint", "litres, likely", opened(actuals.paint.by_coating)),
            ("Paint bought", f"{currency}, without tax", opened(actuals.paint.bought)),
            ("Blasting", f"{currency}, without tax", opened(actuals.blast.by_visit)),
            ("Blasting media", "kilograms", opened(actuals.blast.media)),
            ("Castings, machining and what is bought", f"{currency}, without tax", opened(actuals.orders.rows)),
        ],
        "parts": [(part, opened(part.rows)) for part in actuals.parts],
    }
