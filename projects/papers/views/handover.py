"""The handover book of a machine, on a page and on paper."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from finishing.workshops.access import WorkshopRequest, member
from projects.papers.domain.handover import handover_book
from projects.record.models import Machine


@member("look")
def handover(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    rows = Machine.objects.of(request.workshop).select_related("project__design", "workshop")
    machine = get_object_or_404(rows, pk=pk)
    context = {"book": handover_book(machine, timezone.now()), "machine": machine}
    return render(request, "projects/papers/handover/handover.html", context)
