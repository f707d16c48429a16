"""The log and the orders of a workshop as lists: the newest first, narrowed by what the address asks."""

from django.http import HttpResponse
from django.shortcuts import render

from finishing.site.searching import page_of
from finishing.workshops.access import WorkshopRequest, member
from projects.finding.forms import EntriesFilter, OrdersFilter
from projects.record.models import Order, Step


@member("look")
def entries(request: WorkshopRequest) -> HttpResponse:
    """What was voided is struck through."""
    shown = EntriesFilter(request.GET, workshop=request.workshop)
    rows = Step.objects.of(request.workshop).exclude(kind=Step.Kind.VOIDED)
    rows = rows.select_related("piece__part", "piece__project", "place", "by", "coating").prefetch_related("voided_by")
    page = page_of(request, shown.narrowed(rows).order_by("-happened_at", "-entered_at", "-id"))
    return render(request, "projects/finding/lists/entries.html", {"filter": shown, "page": page})


@member("plan")
def orders(request: WorkshopRequest) -> HttpResponse:
    shown = OrdersFilter(request.GET, workshop=request.workshop)
    rows = shown.narrowed(Order.objects.of(request.workshop)).select_related("supplier", "design", "project")
    page = page_of(request, rows.order_by("-ordered_on", "number", "pk"))
    return render(request, "projects/finding/lists/orders.html", {"filter": shown, "page": page})
