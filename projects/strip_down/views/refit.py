"""The way back: the list in reverse order, ticked off one by one."""

import uuid
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from finishing.science.cautions import cautions_for
from finishing.workshops.access import WorkshopRequest, member
from projects.record.models import Machine, Removal
from projects.strip_down import actions
from projects.strip_down.domain import refit_list
from projects.strip_down.forms import RefitForm


@member("look")
@require_safe
def refit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    rows = Machine.objects.of(request.workshop).select_related("project__design", "workshop")
    machine = get_object_or_404(rows, pk=pk)
    lines = refit_list(machine, Removal.objects.off_now(machine))
    context = {
        "machine": machine,
        "project": machine.project,
        "lines": [(line, uuid.uuid4()) for line in lines],
        "left": sum(not line.back for line in lines),
        "cautions": cautions_for(["heavy"]),
    }
    return render(request, "projects/strip_down/refit/refit.html", context)


@member("log")
@require_POST
def tick(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    removal = _removal(request, pk)
    form = RefitForm(request.POST, workshop=request.workshop)
    line = next(
        line
        for line in refit_list(removal.machine, Removal.objects.off_now(removal.machine))
        if (line.seat.part.pk, line.seat.position) == (removal.piece.part_id, removal.position)
    )
    if line.piece is None:
        messages.error(request, f"There is no sound piece of {line.seat.name} to go in yet.")
    elif form.is_valid():
        given = form.cleaned_data
        actions.refit(
            by=request.user,
            key=given["key"],
            removal=removal,
            piece=line.piece,
            shims=given["shims"],
            note=given["note"],
            now=timezone.now(),
        )
    else:
        messages.error(request, " ".join(str(error) for errors in form.errors.values() for error in errors))
    return _back_to(removal)


@member("log")
@require_POST
def undo(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    removal = _removal(request, pk)
    actions.take_refit_back(by=request.user, removal=removal, now=timezone.now())
    return _back_to(removal)


def _removal(request: WorkshopRequest, pk: UUID) -> Removal:
    rows = Removal.objects.of(request.workshop).standing().select_related("machine__project__design")
    return get_object_or_404(rows, pk=pk)


def _back_to(removal: Removal) -> HttpResponse:
    return redirect(f"{reverse('refit', args=[removal.machine_id])}#removal-{removal.pk}")
