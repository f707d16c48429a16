"""What to ask for a machine of a batch, when its cash is lowest, and what moves its profit most."""

from decimal import Decimal
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from finishing.workshops.access import WorkshopRequest, member
from projects.costs.actions import cost_terms as actions
from projects.costs.domain.cash_forecast import CashForecast
from projects.costs.domain.cost_sheet import CostSheet
from projects.costs.domain.price_sheet import PriceSheet, open_batch, usual_size
from projects.costs.forms.prices import PriceForm, range_rows
from projects.costs.pictures.cash import cash_picture, tornado_picture
from projects.money.pricing import cash_working
from projects.record.models import Design, Project
from projects.record.models.cost_terms import terms_of


@member("plan")
def price(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """With a what-if in the address everything follows it, and nothing is kept."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    sheet, batch = CostSheet(design, terms_of(design), timezone.localdate()), open_batch(design)
    form = PriceForm(request.GET or None, workshop=request.workshop, terms=sheet.row, usual=usual_size(sheet, batch))
    context = {"design": design, "sheet": sheet, "batch": batch, "form": form, "moved": form.is_bound}
    if sheet.known:
        context |= _priced(PriceSheet(sheet, form.count, form.asked), batch, form)
    template = "projects/costs/prices/price.html"
    return render(request, f"{template}#priced" if request.htmx else template, context)


def _priced(priced: PriceSheet, batch: Project | None, form: PriceForm) -> dict[str, Any]:
    """Or why so many cannot be reckoned: more starts, or more pieces on a learning curve, than there ever are."""
    try:
        profit = priced.profit
    except ValueError as wrong:
        return {"wrong": str(wrong)}
    return {"priced": priced, **_moving(priced, profit), **_cash(priced, batch, form)}


def _moving(priced: PriceSheet, profit: Decimal) -> dict[str, Any]:
    """Or which range goes too far."""
    try:
        return {"tornado": tornado_picture(priced.bars, profit)}
    except ValueError as wrong:
        return {"no_tornado": str(wrong)}


def _cash(priced: PriceSheet, batch: Project | None, form: PriceForm) -> dict[str, Any]:
    """Or why it cannot be told."""
    forecast = CashForecast(priced, batch, timezone.localdate(), form.hands_paid, form.opening)
    try:
        cash = forecast.cash
    except ValueError as never:
        return {"forecast": forecast, "no_cash": str(never)}
    return {
        "forecast": forecast,
        "cash": cash,
        "cash_picture": cash_picture(cash, forecast.today),
        "cash_working": cash_working(cash, priced.currency),
    }


@member("plan")
def ranges(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    terms = terms_of(design)
    kept = [] if terms._state.adding else list(terms.ranges.all())
    rows = range_rows(request.POST or None, request.workshop, kept)
    if request.method == "POST" and rows.is_valid():
        actions.keep_ranges(terms, rows.ranges)
        return redirect("price", design.pk)
    return render(request, "projects/costs/prices/ranges.html", {"design": design, "rows": rows, "kept": kept})
