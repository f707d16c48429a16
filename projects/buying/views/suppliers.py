"""Suppliers and their terms, and what their currencies cost."""

from uuid import UUID

from django.contrib import messages
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member
from projects.buying.actions import suppliers as actions
from projects.buying.domain.offers import rates_of
from projects.buying.forms.suppliers import RateForm, SupplierForm
from projects.record.models import ExchangeRate, Supplier


@member("plan")
def suppliers(request: WorkshopRequest) -> HttpResponse:
    rows = Supplier.objects.of(request.workshop).annotate(
        quote_count=Count("quotes", distinct=True), order_count=Count("orders", distinct=True)
    )
    context = {"suppliers": rows.select_related("workshop"), "rates": rates_of(request.workshop)}
    return render(request, "projects/buying/suppliers/suppliers.html", context)


@member("plan")
def new(request: WorkshopRequest) -> HttpResponse:
    form = SupplierForm(request.POST or None, workshop=request.workshop)
    if form.repeated:
        return redirect("supplier", form.repeated.pk)
    if form.is_valid():
        return redirect("supplier", form.save().pk)
    return render(request, "projects/buying/suppliers/edit.html", {"form": form})


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    supplier = _supplier(request, pk)
    form = SupplierForm(request.POST or None, workshop=request.workshop, instance=supplier)
    if form.is_valid():
        return redirect("supplier", form.save().pk)
    return render(request, "projects/buying/suppliers/edit.html", {"form": form, "supplier": _supplier(request, pk)})


@member("plan")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    supplier = _supplier(request, pk)
    context = {
        "supplier": supplier,
        "rate": rates_of(request.workshop).get(supplier.money_in),
        "foreign": supplier.money_in != request.workshop.currency,
        "quotes": supplier.quotes.with_prices().select_related("operation__design").order_by("-quoted_on"),
        "requests": supplier.requests.select_related("design"),
        "orders": supplier.orders.select_related("design"),
        "loans": supplier.loans.out().told(),
        "today": timezone.localdate(),
    }
    return render(request, "projects/buying/suppliers/detail.html", context)


def _supplier(request: WorkshopRequest, pk: UUID) -> Supplier:
    return get_object_or_404(Supplier.objects.of(request.workshop).select_related("workshop"), pk=pk)


@member("plan")
def rates(request: WorkshopRequest) -> HttpResponse:
    """Every rate that was noted, the latest of each currency first, and a new one; `missing`: currencies that suppliers
    ask in and nobody has said the price of."""
    begin = {"currency": request.GET.get("currency", "")[:3]}
    form = RateForm(request.POST or None, workshop=request.workshop, today=timezone.localdate(), initial=begin)
    if form.repeated or form.is_valid():
        rate = form.repeated or actions.note_rate(form.instance)
        counts = "it counts from now on" if rate.is_latest else "a later one counts"
        messages.success(request, f"{rate} {request.workshop.currency} is noted; {counts}.")
        return redirect("rates")
    asked = {supplier.money_in for supplier in Supplier.objects.of(request.workshop).select_related("workshop")}
    missing = sorted(asked - rates_of(request.workshop).keys())
    noted = list(ExchangeRate.objects.of(request.workshop).order_by("currency", "-noted_on"))
    latest = {rate.pk for rate in {rate.currency: rate for rate in reversed(noted)}.values()}
    context = {"form": form, "rates": [(rate, rate.pk in latest) for rate in noted], "missing": missing}
    return render(request, "projects/buying/suppliers/rates.html", context)


@member("plan")
@require_POST
def rate_remove(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The one before counts again; without one, quotes in this currency are no longer compared."""
    get_object_or_404(ExchangeRate.objects.of(request.workshop), pk=pk).delete()
    return redirect("rates")
