"""From whom to order what for a batch: the plan at least cost, and the orders made from it."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateformat import format as date_format
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.buying.actions import orders as actions
from projects.costs.domain.ordering import Ordering
from projects.costs.domain.planned_orders import PlannedOrders, order_key
from projects.costs.exports.ordering_table import ordering_table
from projects.costs.forms.ordering import MakeOrdersForm, OrderingForm, Shown
from projects.costs.words.ordering import bound_working, finish_working, line_workings, saving_working, sum_working
from projects.money.in_hand import lack_working
from projects.money.ordering import OrderPlan, Reason, Trouble, order_working
from projects.record.models import Design, Operation, Order
from projects.site.exports import TableFormat
from projects.site.views import sent


@member("plan")
def ordering(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    form = _question(request.GET or None, design)
    return _page(request, design, form)


@member("plan")
@require_POST
def order(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The orders of the plan that was shown; where that cannot be had any more, the new plan is shown instead."""
    design, kept_as = get_object_or_404(Design.objects.of(request.workshop), pk=pk), as_uuid(request.POST.get("id"))
    if kept_as and Order.objects.filter(design=design, pk=order_key(kept_as, design.workshop_id, 0)).exists():
        return redirect("orders", design.pk)
    form, shown = _question(request.POST, design), Shown.read(request.POST)
    planned = _as_shown(design, form, shown)
    if planned is None:
        return _page(request, design, form, changed="Nothing was ordered.")
    making = MakeOrdersForm(request.POST, workshop=request.workshop, design=design, planned=planned)
    if not making.is_valid():
        return _page(request, design, form, planned=planned, making=making)
    made = actions.place_orders(
        planned.as_rows(making.cleaned_data["id"], making.cleaned_data["project"]), making.reasons
    )
    messages.success(request, f"{len(made)} order{'' if len(made) == 1 else 's'} made.")
    return redirect("orders", design.pk)


@member("plan")
@require_POST
def table(request: WorkshopRequest, pk: UUID, form: TableFormat) -> HttpResponse:
    """The plan that was shown as a file; where that cannot be had any more, the page with the new one."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    question = _question(request.POST, design)
    planned = _as_shown(design, question, Shown.read(request.POST))
    if planned is None:
        return _page(request, design, question, changed="No file was made.")
    return sent(ordering_table(planned, request.workshop.currency, form), f"ordering-plan.{form}")


def _question(data: Any, design: Design) -> OrderingForm:
    wishes = design.operations.exclude(keep_with=None).count()
    return OrderingForm(data, workshop=design.workshop, design=design, today=timezone.localdate(), wishes=wishes)


def _as_shown(design: Design, form: OrderingForm, shown: Shown | None) -> PlannedOrders | None:
    """The plan that the form came from, if all of it may still be had at the same price."""
    if shown is None or form.wanted is None:
        return None
    asked = Ordering(design, form.wanted, timezone.localdate())
    try:
        plan = asked.as_picked(shown.picked, shown.bound)
    except ValueError:  # told with the new plan: more starts than anybody would make
        return None
    planned = PlannedOrders(asked, plan) if plan else None
    return planned if planned and planned.orders and shown.still_holds(planned) else None


def _page(request: WorkshopRequest, design: Design, form: OrderingForm, *, planned: Any = None, making: Any = None,
          changed: str = "") -> HttpResponse:  # fmt: skip
    context = {"design": design, "form": form, "changed": changed}
    if form.wanted:
        asked = planned.asked if planned else Ordering(design, form.wanted, timezone.localdate())
        try:
            context |= _answer(request, asked, planned, making)
        except ValueError as wrong:  # more starts than anybody would make
            context["wrong"] = wrong
    return render(request, "projects/costs/ordering/ordering.html", context)


def _answer(request: WorkshopRequest, asked: Ordering, planned: PlannedOrders | None, making: Any) -> dict[str, Any]:
    planned = planned or PlannedOrders(asked, asked.best)
    plan, currency, design = planned.plan, request.workshop.currency, asked.design
    context = {"asked": asked, "planned": planned, "plan": plan, "troubles": list(_troubles(asked, plan))}
    context["already"] = [(one, lack_working(one.lack, str(one.row))) for one in asked.already]
    if not plan.lines:
        return context
    return context | {
        "making": making or MakeOrdersForm(workshop=request.workshop, design=design, planned=planned),
        "total": order_working(plan, currency),
        "bound": bound_working(plan, currency),
        "finish": finish_working(planned),
        "savings": list(_savings(asked, plan, currency)),
        "orders": [
            (each, sum_working(each, currency), [_opened(line, asked, currency) for line in each.lines])
            for each in planned.orders
        ],
        "here": [_opened(line, asked, currency) for line in planned.here],
    }


def _opened(line: Any, asked: Ordering, currency: str) -> tuple[Any, list[Any]]:
    return line, list(line_workings(line, asked, currency))


def _savings(asked: Ordering, plan: OrderPlan, currency: str) -> Any:
    """Against each part where it is cheapest by itself, and against one supplier for all of a process."""
    yield saving_working(plan, asked.part_by_part, "part by part", currency)
    if asked.one_supplier:
        yield saving_working(plan, asked.one_supplier, "one supplier for each process", currency)


# -- what is in the way, and where it is mended


@dataclass(frozen=True)
class Hindrance:
    what: str
    why: str
    address: str
    way_out: str


def _troubles(asked: Ordering, plan: OrderPlan) -> Any:
    for part in asked.without_route:
        address = reverse("route", args=[part.pk])
        yield Hindrance(part.name, "it has no route, so nothing of it is ordered", address, "Lay down its route")
    for trouble in plan.troubles:
        yield _hindrance(asked, trouble)
    for one in asked.source.priceless:
        yield Hindrance(f"{one.quote.operation}, {one.quote.supplier}", one.trouble, *_mending(one))


def _hindrance(asked: Ordering, trouble: Trouble) -> Hindrance:
    rows = [asked.stops[key].row for key in trouble.needs]
    what = ", ".join(str(row) for row in rows)
    if trouble.reason == Reason.NO_OFFER:
        return Hindrance(what, "no quote for it counts", reverse("quote-new", args=[rows[0].pk]), "Type a quote")
    if trouble.reason == Reason.TOO_LATE:
        soonest = asked.day + timedelta(days=trouble.days)
        why = f"{trouble.days} days one after another: not there by the day"
        return Hindrance(
            what, why, _asked_again(asked, soonest), f"Plan for {date_format(soonest, 'j M Y')}, the soonest"
        )
    return Hindrance(what, f"one supplier was wished for, but {trouble.reason}", _at(rows[0]), "Change the wish")


def _at(row: Operation) -> str:
    return reverse("operation", args=[row.pk])


def _mending(one: Any) -> tuple[str, str]:
    if one.no_rate:
        return f"{reverse('rates')}?currency={one.no_rate}", "Enter the rate"
    return reverse("quote", args=[one.quote.pk]), "Look at the quote"


def _asked_again(asked: Ordering, by: Any) -> str:
    return f"{reverse('ordering', args=[asked.design.pk])}?{urlencode({**asked.wanted.typed, 'by': by.isoformat()})}"
