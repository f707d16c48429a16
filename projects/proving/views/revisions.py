"""Revisions of a part: the next one opened, with its reason and cost, and one put right."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from finishing.workshops.access import WorkshopRequest, member
from projects.proving import actions
from projects.proving.forms.proving import NewRevisionForm, RevisionForm
from projects.record.domain.labels import next_label
from projects.record.domain.proved import current_revision
from projects.record.models import Part, Revision, Trial

from .proving import asked_about


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """After a check that failed the reason is written already."""
    part = get_object_or_404(Part.objects.of(request.workshop).select_related("design"), pk=pk)
    trial = asked_about(request)["trial"]
    current, today = current_revision(part), timezone.localdate()
    first = {
        "label": next_label(current.label if current else None, {row.label for row in part.revisions.all()}),
        "reason": reason_of(trial) if trial else "",
        "made_on": today,
    }
    form = NewRevisionForm(request.POST or None, request.FILES or None, workshop=request.workshop, initial=first)
    if form.repeated:
        return redirect("part", part.pk)
    form.instance.part = part
    if not form.is_valid():
        context = {"form": form, "part": part, "trial": trial}
        return render(request, "projects/proving/revisions/new.html", context, status=422 if form.is_bound else 200)
    cost, minutes = form.cleaned_data["cost"], form.cleaned_data["minutes"]
    actions.open_revision(form.save(commit=False), day=today, cost=cost, minutes=minutes)
    return redirect("machine", trial.machine_id) if trial else redirect("part", part.pk)


def reason_of(trial: Trial) -> str:
    """What failed, where, at which value, in as many words as a reason may have."""
    reason = f"{trial.check_done} failed on {trial.machine}"
    if trial.measured:
        reason += f": {trial.measured}"
    if trial.note:
        reason += f"; {trial.note}"
    return reason[: Revision._meta.get_field("reason").max_length]


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    revision = _revision(request, pk)
    form = RevisionForm(request.POST or None, request.FILES or None, workshop=request.workshop, instance=revision)
    if form.is_valid():
        form.save()
        return redirect("part", revision.part_id)
    context = {"form": form, "revision": _revision(request, pk), "part": revision.part}
    return render(request, "projects/proving/revisions/edit.html", context)


def _revision(request: WorkshopRequest, pk: UUID) -> Revision:
    return get_object_or_404(Revision.objects.of(request.workshop).select_related("part__design"), pk=pk)
