"""Quotes: side by side for a design, one typed, changed while nothing was ordered from it, withdrawn."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.forms import model_to_dict
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_POST

from finishing.science.working import Working
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.buying.actions import quotes as actions
from projects.buying.domain import comparison as compared
from projects.buying.domain.offers import rates_of
from projects.buying.exports.quotes_table import quotes_table
from projects.buying.forms.quotes import BreakRows, QuoteForm, break_rows
from projects.money.breaks import order_working
from projects.record.domain.proved import current_revision
from projects.record.models import Design, Operation, Quote
from projects.site.exports import TableFormat
from projects.site.views import sent

OF_THE_OLD_ONE = {"quoted_on", "valid_from", "valid_until", "file", "number"}  # and not of one made from it


@member("plan")
def quotes(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design, today = get_object_or_404(Design.objects.of(request.workshop), pk=pk), timezone.localdate()
    everything = request.GET.get("all") == "1"
    context = {
        "design": design,
        "processes": compared.comparisons(design, today, everything),
        "everything": everything,
        "left_out": compared.left_out(design, today),
        "today": today,
    }
    return render(request, "projects/buying/quotes/quotes.html", context)


@member("plan")
def table(request: WorkshopRequest, pk: UUID, form: TableFormat) -> HttpResponse:
    """The same as a file."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    processes = compared.comparisons(design, timezone.localdate(), request.GET.get("all") == "1")
    data = quotes_table(processes, request.workshop.currency, form)
    return sent(data, f"{slugify(design.name) or 'design'}-quotes.{form}")


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """`from`: a quote that the new one begins with; `supplier`: who is chosen already."""
    rows = Operation.objects.of(request.workshop).exclude(process__in=Operation.FINISHING)
    operation = get_object_or_404(rows.select_related("part", "design"), pk=pk)
    asked = as_uuid(request.GET.get("from"))
    before = Quote.objects.of(request.workshop).filter(pk=asked, operation=operation).first() if asked else None
    begin: dict[str, Any] = {"revision": current_revision(operation.part)}
    if before:
        kept = [name for name in QuoteForm.Meta.fields if name not in OF_THE_OLD_ONE]
        begin |= model_to_dict(before, fields=kept)
    else:
        begin["supplier"] = as_uuid(request.GET.get("supplier"))
    form = QuoteForm(
        request.POST or None,
        request.FILES or None,
        workshop=request.workshop,
        operation=operation,
        today=timezone.localdate(),
        initial=begin,
    )
    if form.repeated:
        return redirect("quote", form.repeated.pk)
    return _edit(request, form, break_rows(request.POST or None, request.workshop, before), before=before)


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    quote = _quote(request, pk)
    if quote.order_lines.exists():
        messages.warning(request, "It was ordered from, so it stays as it is. This is a new one made from it.")
        return redirect(f"{reverse('quote-new', args=[quote.operation_id])}?from={quote.pk}")
    form = QuoteForm(
        request.POST or None,
        request.FILES or None,
        workshop=request.workshop,
        operation=quote.operation,
        today=timezone.localdate(),
        instance=quote,
    )
    return _edit(request, form, break_rows(request.POST or None, request.workshop, quote), quote=_quote(request, pk))


def _edit(request: WorkshopRequest, form: QuoteForm, rows: BreakRows, **context: Any) -> HttpResponse:
    rows.say_money(form.money)
    if all([form.is_valid(), rows.is_valid()]):
        return redirect("quote", actions.save_quote(form.save(commit=False), rows.breaks).pk)
    operation = form.instance.operation
    context |= {"form": form, "rows": rows, "operation": operation, "design": operation.design}
    return render(request, "projects/buying/quotes/edit.html", context)


@member("plan")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    quote, today = _quote(request, pk), timezone.localdate()
    design = quote.operation.design
    paid = (quote.supplier_id, quote.operation_id) in compared.tooling_paid(design)
    priced = compared.priced(quote, rates_of(request.workshop), today, paid)
    context = {
        "quote": quote,
        "design": design,
        "today": today,
        "priced": priced,
        "tooling_paid": paid and quote.tooling,
        "costs": list(_by_size(priced, request.workshop.currency)),
        "ordered": quote.order_lines.select_related("order"),
    }
    return render(request, "projects/buying/quotes/detail.html", context)


def _by_size(priced: compared.PricedQuote, currency: str) -> Iterator[tuple[int, compared.QuotedCost, Working]]:
    """For each batch size what it comes to, and how that came about; nothing for a quote without prices."""
    operation = priced.quote.operation
    for machines in compared.sizes_of(operation.design):
        needed = operation.pieces_for(machines)
        cost = priced.cost_of(needed)
        if priced.prices is not None and cost is not None:
            working = order_working(priced.prices, needed, currency)
            named = replace(working, name=f"{working.name} for {machines} machine{'' if machines == 1 else 's'}")
            yield machines, cost, named


@member("plan")
@require_POST
def withdraw(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    quote = _quote(request, pk)
    actions.withdraw_quote(quote, withdrawn="again" not in request.POST)
    return redirect("quote", quote.pk)


def _quote(request: WorkshopRequest, pk: UUID) -> Quote:
    rows = Quote.objects.of(request.workshop).with_prices().select_related("operation__design", "request")
    return get_object_or_404(rows, pk=pk)
