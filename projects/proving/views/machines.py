"""One machine: what sits in each place, its checks, and a piece fitted or a check done in the yard."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from finishing.workshops.access import WorkshopRequest, member
from projects.proving import actions
from projects.proving.domain.assembly import Seat, checks_on, seats_of
from projects.proving.forms.machines import FittingForm, SeatForm, TrialForm
from projects.proving.forms.proving import AboutCheckForm
from projects.record.models import Machine


@member("look")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    machine = _machine(request, pk)
    seats = seats_of(machine)
    context = {
        "machine": machine,
        "project": machine.project,
        "seats": seats,
        "empty": sum(seat.lacks for seat in seats),
        "checks": checks_on(machine, seats),
        "parts": list(dict.fromkeys(seat.part for seat in seats if seat.piece)),
    }
    return render(request, "projects/proving/machines/detail.html", context)


def _machine(request: WorkshopRequest, pk: UUID) -> Machine:
    rows = Machine.objects.of(request.workshop).select_related("project__design")
    return get_object_or_404(rows, pk=pk)


@member("log")
def fit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    machine = _machine(request, pk)
    seat = _seat(request, machine)
    form = FittingForm(
        request.POST or None,
        workshop=request.workshop,
        machine=machine,
        seat=seat,
        by=request.user,
        now=timezone.now(),
    )
    if form.repeated:
        return redirect("machine", machine.pk)
    if form.is_valid():
        actions.fit(form.instance, out_of=form.out_of)
        return redirect(f"{reverse('machine', args=[machine.pk])}#{seat.anchor}")
    return render(request, "projects/proving/machines/fit.html", {"form": form, "machine": machine, "seat": seat})


def _seat(request: WorkshopRequest, machine: Machine) -> Seat:
    asked = SeatForm(request.GET, workshop=request.workshop, machine=machine)
    wanted = (asked.cleaned_data["part"], asked.cleaned_data["position"]) if asked.is_valid() else None
    for seat in seats_of(machine):
        if (seat.part, seat.position) == wanted:
            return seat
    raise Http404("This machine has no such place.")


@member("log")
def new_trial(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    machine = _machine(request, pk)
    asked = AboutCheckForm(request.GET, workshop=request.workshop, design=machine.project.design)
    if not asked.is_valid():
        raise Http404("No such check of this machine.")
    check, seats = asked.cleaned_data["check"], seats_of(machine)
    form = TrialForm(
        request.POST or None,
        workshop=request.workshop,
        machine=machine,
        check=check,
        seats=seats,
        by=request.user,
        now=timezone.now(),
    )
    if form.repeated:
        return redirect("machine", machine.pk)
    if form.is_valid():
        trial = form.save()
        if not trial.passed and "plan" in request.may:
            messages.warning(request, "It failed. The next revision may be opened below, at the check.")
        return redirect(f"{reverse('machine', args=[machine.pk])}#check-{check.pk}")
    return render(
        request, "projects/proving/machines/new_trial.html", {"form": form, "machine": machine, "check": check}
    )
