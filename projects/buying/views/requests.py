"""Requests for prices: which there are, one made, one with what came of it."""

from uuid import UUID

from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.buying.actions import requests as actions
from projects.buying.forms.requests import RequestForm
from projects.record.models import Design, QuoteRequest


@member("plan")
def requests(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    rows = design.quote_requests.select_related("supplier").annotate(
        line_count=Count("lines", distinct=True), quote_count=Count("quotes", distinct=True)
    )
    context = {"design": design, "requests": rows, "today": timezone.localdate()}
    return render(request, "projects/buying/requests/requests.html", context)


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """In the address: the `supplier` chosen already, and the `process` of which every line is ticked."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    begin = {"process": request.GET.get("process"), "supplier": as_uuid(request.GET.get("supplier"))}
    form = RequestForm(
        request.POST or None, workshop=request.workshop, design=design, today=timezone.localdate(), initial=begin
    )
    if form.repeated:
        return redirect("request", form.repeated.pk)
    if form.is_valid():
        return redirect("request", actions.ask_for_prices(form.instance, form.lines).pk)
    return render(request, "projects/buying/requests/edit.html", {"form": form, "design": design})


@member("plan")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    asked = get_object_or_404(QuoteRequest.objects.of(request.workshop).in_full(), pk=pk)
    context = {
        "asked": asked,
        "design": asked.design,
        "lines": asked.lines_in_full,
        "quotes": asked.quotes.with_prices(),
        "today": timezone.localdate(),
    }
    return render(request, "projects/buying/requests/detail.html", context)
