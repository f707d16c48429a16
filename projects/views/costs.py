"""What machines cost: every design with what is known of its money; one design's ladder, its terms and its sheets."""

from collections import defaultdict
from collections.abc import Sequence
from typing import Any, Literal

from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from finishing.access import member
from projects.actions import cost_terms as actions
from projects.costing.ladder import BetterOrder, step_working
from projects.costing.unit import PartCost, line_working, machine_working, part_working
from projects.exports.costs_table import costs_table, lines_table
from projects.forms.cost_terms import CostTermsForm, MachinesForm, WhatIfForm
from projects.models import Design
from projects.models.buyers import Buyer
from projects.models.cost_sheet import CostSheet, terms_of

from .ladder_pictures import ladder_picture
from .tables import sent


@member("plan")
def costs(request: Any) -> HttpResponse:
    designs = (
        Design.objects.of(request.workshop)
        .filter(hidden=False)
        .annotate(
            part_count=Count("parts", distinct=True),
            operation_count=Count("operations", distinct=True),
            quote_count=Count("operations__quotes", distinct=True),
            order_count=Count("orders", distinct=True),
        )
        .order_by("name")
    )
    return render(request, "projects/costs/costs.html", {"designs": designs})


@member("plan")
def detail(request: Any, pk: Any) -> HttpResponse:
    """The ladder and its table; with a what-if in the address both follow it, and nothing is kept."""
    sheet, form = _asked(request, pk)
    context = {"design": sheet.design, "sheet": sheet, "what_if": form, "moved": form.is_bound}
    if sheet.known:
        context |= _ladder(request, sheet)
    template = "projects/costs/detail.html"
    return render(request, f"{template}#ladder" if request.htmx else template, context)


def _ladder(request: Any, sheet: CostSheet) -> dict[str, Any]:
    firm = _firm(sheet.design)
    bearable = [amount for amount, _ in firm]
    currency = request.workshop.currency
    return {
        "picture": ladder_picture(sheet.ladder, sheet.sizes, bearable),
        "steps": [(step, step_working(step, currency)) for step in sheet.ladder.steps],
        "firm": len(bearable),
        "carried": sheet.ladder.carried_by(bearable),
        "workings": [machine_working(cost, currency) for cost in sheet.table],
        "orders": _better_orders(sheet.ladder.better_orders),
    }


def _better_orders(found: Sequence[BetterOrder]) -> list[tuple[list[int], BetterOrder]]:
    """One for each price that is worth reaching: the sizes at which it is, and where it saves most."""
    by_price: dict[Any, list[BetterOrder]] = defaultdict(list)
    for better in found:
        by_price[better.part, better.key, better.quantity].append(better)
    return [([one.size for one in alike], max(alike, key=lambda one: one.saves)) for alike in by_price.values()]


def _firm(design: Design) -> list[tuple[Any, Buyer]]:
    """What each machine that a firm buyer wants would bring: the price agreed, else what he would bear."""
    rows = design.buyers.filter(standing=Buyer.Standing.FIRM, own_machine=False)
    priced = [(row.agreed_price if row.agreed_price is not None else row.would_bear, row) for row in rows]
    return [(amount, row) for amount, row in priced if amount is not None for _ in range(row.count)]


@member("plan")
def sheet(request: Any, pk: Any) -> HttpResponse:
    """Every line of a batch of so many machines, each with its working."""
    found, _ = _asked(request, pk)
    form = MachinesForm(request.GET or None, workshop=request.workshop)
    context = {"design": found.design, "sheet": found, "form": form}
    if found.known:
        cost = found.batch(form.count)
        parts = [_part(part, found, request.workshop.currency) for part in cost.parts]
        context |= {"cost": cost, "working": machine_working(cost, request.workshop.currency), "parts": parts}
    return render(request, "projects/costs/sheet.html", context)


@member("plan")
def table_csv(request: Any, pk: Any) -> HttpResponse:
    return _table(request, pk, "csv")


@member("plan")
def table_xlsx(request: Any, pk: Any) -> HttpResponse:
    return _table(request, pk, "xlsx")


def _table(request: Any, pk: Any, form: Literal["csv", "xlsx"]) -> HttpResponse:
    """The table as the page shows it, moved as the address asks."""
    found, _ = _asked(request, pk)
    if not found.known:
        return redirect("design-costs", pk)
    return sent(costs_table(found, request.workshop.currency, form), f"costs.{form}")


def _part(part: PartCost, found: CostSheet, currency: str) -> tuple[PartCost, Any, list[Any]]:
    lines = [(line, line_working(line, found.terms, currency)) for line in part.lines]
    return part, part_working(part, currency), lines


@member("plan")
def lines(request: Any, pk: Any, form: Literal["csv", "xlsx"]) -> HttpResponse:
    """The sheet of a batch as a file, line by line."""
    found, _ = _asked(request, pk)
    if not found.known:
        return redirect("design-costs", pk)
    size = MachinesForm(request.GET or None, workshop=request.workshop).count
    return sent(lines_table(found.batch(size), request.workshop.currency, form), f"costs-{size}.{form}")


@member("plan")
def terms(request: Any, pk: Any) -> HttpResponse:
    design = _design(request, pk)
    row = terms_of(design)
    form = CostTermsForm(request.POST or None, workshop=request.workshop, instance=row)
    if request.method == "POST" and form.is_valid():
        actions.save_terms(form.instance)
        return redirect("design-costs", design.pk)
    return render(request, "projects/costs/terms.html", {"design": design, "form": form})


def _design(request: Any, pk: Any) -> Design:
    return get_object_or_404(Design.objects.of(request.workshop).select_related("workshop"), pk=pk)


def _asked(request: Any, pk: Any) -> tuple[CostSheet, WhatIfForm]:
    """A design's costs, moved as the address asks."""
    design = _design(request, pk)
    row = terms_of(design)
    form = WhatIfForm(request.GET or None, workshop=request.workshop, terms=row)
    row.spread_tools = form.answers.get("spread_tools", False)
    expired = form.answers.get("expired", False)
    return CostSheet(design, row, timezone.localdate(), expired, form.shares), form
