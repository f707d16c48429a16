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
    actuals, asked = ProjectActuals(project, timezone.localdate()), request.GET.get("part", "")
    part = next((part for part in actuals.parts if str(part.pk) == asked), None)
    try:
        if part is not None:
            context |= {"opened": part, "rows": _opened(actuals.of_part(part), request.workshop.currency)}
        if request.htmx and part is not None:
            return render(request, "projects/costs/project_costs/detail.html#part", context)
        context |= _tables(actuals, request.workshop.currency)
    except ValueError as wrong:  # more starts than anybody would make
        context["wrong"] = str(wrong)
    return render(request, "projects/costs/project_costs/detail.html", context)


def _opened(lines: Sequence[ActualLine[Any]], currency: str) -> list[tuple[ActualLine[Any], Working]]:
    return [(line, line.working(currency)) for line in lines]


def _tables(actuals: ProjectActuals, currency: str) -> dict[str, Any]:
    return {
        "actuals": actuals,
        "tables": [
            ("Work", "minutes", _opened(actuals.minutes, currency)),
            ("Paint", "litres, likely", _opened(actuals.paint.by_coating, currency)),
            ("Paint bought", f"{currency}, without tax", _opened(actuals.paint.bought, currency)),
            ("Blasting", f"{currency}, without tax", _opened(actuals.blast.by_visit, currency)),
            ("Blasting media", "kilograms", _opened(actuals.blast.media, currency)),
            (
                "Castings, machining and what is bought",
                f"{currency}, without tax",
                _opened(actuals.orders.rows, currency),
            ),
        ],
    }
