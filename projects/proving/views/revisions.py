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
from projects.site.forms.papers import name_of

from .proving import asked_about


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """After a check that failed the reason is written already."""
    part = get_object_or_404(Part.objects.of(request.workshop).select_related("design"), pk=pk)
    trial = asked_about(request)["trial"]
    form = _form(request, part, trial)
    if form.repeated:
        return redirect("part", part.pk)
    form.instance.part = part
    if not form.is_bound or not form.is_valid():
        context = {"form": form, "part": part, "trial": trial}
        return render(request, "projects/proving/revisions/new.html", context, status=422 if form.is_bound else 200)
    actions.open_revision(
        form.instance,
        day=timezone.localdate(),
        cost=form.cleaned_data["cost"],
        minutes=form.cleaned_data["minutes"],
        drawing_name=name_of(form.cleaned_data["drawing"]),
    )
    return redirect("machine", trial.machine_id) if trial else redirect("part", part.pk)


def _form(request: WorkshopRequest, part: Part, trial: Trial | None) -> NewRevisionForm:
    current = current_revision(part)
    first = {
        "label": next_label(current and current.label, {row.label for row in part.revisions.all()}),
        "reason": reason_of(trial) if trial else "",
        "made_on": timezone.localdate(),
    }
    return NewRevisionForm(request.POST or None, request.FILES or None, workshop=request.workshop, initial=first)


def reason_of(trial: Trial) -> str:
    """What failed, where, at which value, in as many words as a reason may have."""
    told = f"{trial.check_done} failed on {trial.machine}"
    measured = f"{told}: {trial.measured}" if trial.measured else told
    whole = f"{measured}; {trial.note}" if trial.note else measured
    return whole[: Revision._meta.get_field("reason").max_length]


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    revision = _revision(request, pk)
    form = RevisionForm(request.POST or None, request.FILES or None, workshop=request.workshop, instance=revision)
    if form.is_bound and form.is_valid():
        actions.keep_revision(form.instance, name_of(form.cleaned_data["drawing"]))
        return redirect("part", revision.part_id)
    context = {"form": form, "revision": _revision(request, pk), "part": revision.part}
    return render(request, "projects/proving/revisions/edit.html", context)


def _revision(request: WorkshopRequest, pk: UUID) -> Revision:
    return get_object_or_404(Revision.objects.of(request.workshop).select_related("part__design"), pk=pk)
