"""Opened tins: which stand in store, one more with one tap, and what is seen of one later."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.site.searching import page_of
from finishing.workshops.access import WorkshopRequest, may, member
from projects.record.models import OpenedTin
from projects.work.actions.tins import open_tin_today
from projects.work.forms.tins import CoatingAsked, OpenedTinForm, TinLookForm


@member("look")
def tins(request: WorkshopRequest) -> HttpResponse:
    """Those with paint in them, the first that was opened first; with `all` what is gone too, the latest first."""
    coating = CoatingAsked(request.GET, workshop=request.workshop).asked
    rows = OpenedTin.objects.of(request.workshop).told()
    rows = rows.filter(coating=coating) if coating else rows
    everything = "all" in request.GET
    rows = rows.order_by("-opened_on", "-entered_at") if everything else rows.standing()
    context = {"page": page_of(request, rows), "coating": coating, "all": everything, "today": timezone.localdate()}
    return render(request, "projects/work/tins/tins.html", context)


@require_POST
@member("log")
def opened_today(request: WorkshopRequest) -> HttpResponse:
    """One tap; tapped twice it is one tin."""
    coating = CoatingAsked(request.POST, workshop=request.workshop).asked
    if coating is None:
        raise Http404("No such coating.")
    tin, noted = open_tin_today(coating, workshop=request.workshop, by=request.user, day=timezone.localdate())
    if noted:
        messages.success(request, f"Noted: {tin}.")
    else:
        messages.info(request, "It was noted already. If this is another tin, note it as one more.")
    return redirect("opened-tin", tin.pk)


@member("log")
def new(request: WorkshopRequest) -> HttpResponse:
    first = {"coating": CoatingAsked(request.GET, workshop=request.workshop).asked}
    sent = request.POST if request.method == "POST" else None
    form = OpenedTinForm(sent, workshop=request.workshop, today=timezone.localdate(), initial=first)
    if form.repeated:
        return redirect("opened-tin", form.repeated.pk)
    if form.is_valid():
        form.instance.by = request.user
        return redirect("opened-tin", form.save().pk)
    return render(request, "projects/work/tins/new.html", {"form": form}, status=422 if form.errors else 200)


@member("look")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """A tin, and the form for what is seen of it; asked for by whoever may only look, it has no form."""
    tin = get_object_or_404(OpenedTin.objects.of(request.workshop).told(), pk=pk)
    sent = request.POST if request.method == "POST" and may(request, "log") else None
    form = TinLookForm(sent, workshop=request.workshop, tin=tin)
    if form.repeated:
        return redirect("opened-tin", tin.pk)
    if form.is_valid():
        form.instance.by = request.user
        form.save()
        return redirect("opened-tin", tin.pk)
    context = {"tin": tin, "form": form, "today": timezone.localdate()}
    return render(request, "projects/work/tins/detail.html", context, status=422 if form.errors else 200)
