"""What machines cost: every design with what is known of its money; one design's ladder, its terms and its sheets."""

from collections import defaultdict
from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db.models import Count, OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from finishing.site.models import WorkshopRow
from finishing.workshops.access import WorkshopRequest, member
from projects.costs.domain.buyer_book import BuyerBook
from projects.costs.domain.cost_sheet import CostSheet
from projects.costs.exports.costs_table import costs_table, lines_table
from projects.costs.forms.cost_terms import BatchSizeForm, CostTermsForm, WhatIfForm
from projects.costs.pictures.ladder import ladder_picture
from projects.costs.words.costs import part_workings
from projects.money.ladder import BetterOrder, step_working
from projects.money.unit_cost import machine_working
from projects.record.models import Design, Operation, Part, Quote
from projects.record.models.cost_terms import terms_of
from projects.site.exports import TableFormat
from projects.site.views import sent


@member("plan")
def costs(request: WorkshopRequest) -> HttpResponse:
    designs = (
        Design.objects.of(request.workshop)
        .filter(hidden=False)
        .annotate(
            part_count=_how_many(Part, "design"),
            operation_count=_how_many(Operation, "design"),
            quote_count=_how_many(Quote, "operation__design"),
        )
        .order_by("name")
    )
    return render(request, "projects/costs/costs.html", {"designs": designs})


def _how_many(rows: type[WorkshopRow], of: str) -> Coalesce:
    """Of a design, each counted by itself: joined, they would be multiplied with one another first."""
    counted = rows.objects.filter(**{of: OuterRef("pk")}).order_by().values(of).annotate(many=Count("pk"))
    return Coalesce(Subquery(counted.values("many")), 0)


@member("plan")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The ladder and its table; with a what-if in the address both follow it, and nothing is kept."""
    sheet, form = _asked(request, pk)
    context: dict[str, Any] = {"design": sheet.design, "sheet": sheet, "what_if": form}
    try:
        context |= _ladder(request, sheet) if sheet.known else {}
    except ValueError as wrong:  # more starts, or more pieces on a learning curve, than there ever are
        context["wrong"] = str(wrong)
    template = "projects/costs/detail.html"
    return render(request, f"{template}#ladder" if request.htmx else template, context)


def _ladder(request: WorkshopRequest, sheet: CostSheet) -> dict[str, Any]:
    bearable, currency = BuyerBook.of(sheet.design).bearable, request.workshop.currency
    return {
        "picture": ladder_picture(sheet.ladder, sheet.sizes, bearable),
        "steps": [(step, step_working(step, currency)) for step in sheet.ladder.steps],
        "firm": len(bearable),
        "carried": sheet.ladder.carried_by(bearable),
        "workings": [machine_working(cost, currency) for cost in sheet.table],
        "orders": _better_orders(sheet.ladder.better_orders),
    }


def _better_orders(orders: Sequence[BetterOrder]) -> list[tuple[list[int], BetterOrder]]:
    """One for each price that is worth reaching: the sizes at which it is, and where it saves most."""
    by_price: dict[tuple[str, str, int], list[BetterOrder]] = defaultdict(list)
    for order in orders:
        by_price[order.part, order.key, order.quantity].append(order)
    return [([one.size for one in same], max(same, key=lambda one: one.saves)) for same in by_price.values()]


@member("plan")
def sheet(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Every line of a batch of so many machines, each with its working."""
    sheet, what_if = _asked(request, pk)
    form, currency = BatchSizeForm(request.GET or None, workshop=request.workshop), request.workshop.currency
    context: dict[str, Any] = {"design": sheet.design, "sheet": sheet, "form": form, "what_if": what_if}
    try:
        if sheet.known:
            cost = sheet.batch(form.count)
            parts = [(part, list(part_workings(part, sheet.terms, currency))) for part in cost.parts]
            context |= {"cost": cost, "working": machine_working(cost, currency), "parts": parts}
    except ValueError as wrong:  # more starts, or more pieces on a learning curve, than there ever are
        context["wrong"] = str(wrong)
    return render(request, "projects/costs/sheet.html", context)


@member("plan")
def table(request: WorkshopRequest, pk: UUID, form: TableFormat) -> HttpResponse:
    """The table as the page shows it, moved as the address asks."""
    return _file(request, pk, form)


@member("plan")
def lines(request: WorkshopRequest, pk: UUID, form: TableFormat) -> HttpResponse:
    """The sheet of a batch as a file, line by line."""
    return _file(request, pk, form, BatchSizeForm(request.GET or None, workshop=request.workshop).count)


def _file(request: WorkshopRequest, pk: UUID, form: TableFormat, machines: int | None = None) -> HttpResponse:
    """The table, with a number of machines the sheet of that batch; else the page, which says why there is none."""
    sheet, _ = _asked(request, pk)
    currency = request.workshop.currency
    try:
        if sheet.known and machines:
            return sent(lines_table(sheet.batch(machines), currency, form), f"costs-{machines}.{form}")
        if sheet.known:
            return sent(costs_table(sheet, currency, form), f"costs.{form}")
    except ValueError as wrong:
        messages.error(request, str(wrong))
    return redirect(f"{reverse('design-costs', args=[pk])}?{request.GET.urlencode()}")


@member("plan")
def terms(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    row = terms_of(design)
    form = CostTermsForm(request.POST or None, workshop=request.workshop, instance=row)
    if request.method == "POST" and form.is_valid():
        form.save()
        return redirect("design-costs", design.pk)
    return render(request, "projects/costs/terms.html", {"design": design, "form": form})


def _asked(request: WorkshopRequest, pk: UUID) -> tuple[CostSheet, WhatIfForm]:
    """A design's costs, moved as the address asks."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    row = terms_of(design)
    form = WhatIfForm(request.GET or None, workshop=request.workshop, terms=row)
    row.spread_tools = form.answers.get("spread_tools", False)
    expired = form.answers.get("expired", False)
    return CostSheet(design, row, timezone.localdate(), expired, form.shares), form
