"""From whom to order what for a batch: the plan at least cost, and the orders made from it."""

from collections.abc import Iterable, Iterator
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

from finishing.science.working import Working
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.buying.actions import orders as actions
from projects.costs.domain.ordering import Ordering
from projects.costs.domain.planned_orders import PlannedLine, PlannedOrders, order_key
from projects.costs.exports.ordering_table import ordering_table
from projects.costs.forms.ordering import MakeOrdersForm, OrderingForm, ShownPlan
from projects.costs.words.ordering import bound_working, finish_working, line_workings, saving_working, sum_working
from projects.money.ordering import OrderPlan, Trouble, TroubleReason, order_working
from projects.money.stock import net_requirement_working
from projects.record.models import Design, Order
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
    form, shown = _question(request.POST, design), ShownPlan.read(request.POST)
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
    planned = _as_shown(design, question, ShownPlan.read(request.POST))
    if planned is None:
        return _page(request, design, question, changed="No file was made.")
    return sent(ordering_table(planned, request.workshop.currency, form), f"ordering-plan.{form}")


def _question(data: Any, design: Design) -> OrderingForm:
    wishes = design.operations.exclude(keep_with=None).count()
    return OrderingForm(data, workshop=design.workshop, design=design, today=timezone.localdate(), wishes=wishes)


def _as_shown(design: Design, form: OrderingForm, shown: ShownPlan | None) -> PlannedOrders | None:
    """The plan that the form came from, if all of it may still be had at the same price."""
    if shown is None or form.wanted is None:
        return None
    asked = Ordering(design, form.wanted, timezone.localdate())
    try:
        plan = asked.as_picked(shown.picked, shown.bound)
    except ValueError:  # the new plan says it: more starts than anybody would make
        return None
    planned = PlannedOrders(asked, plan) if plan else None
    return planned if planned and planned.orders and shown.still_holds(planned) else None


def _page(
    request: WorkshopRequest,
    design: Design,
    form: OrderingForm,
    *,
    planned: PlannedOrders | None = None,
    making: MakeOrdersForm | None = None,
    changed: str = "",
) -> HttpResponse:
    context = {"design": design, "form": form, "changed": changed}
    if form.wanted:
        asked = planned.ordering if planned else Ordering(design, form.wanted, timezone.localdate())
        try:
            context |= _answer(request, planned or PlannedOrders(asked, asked.best), making)
        except ValueError as wrong:  # more starts than anybody would make
            context["wrong"] = str(wrong)
    return render(request, "projects/costs/ordering/ordering.html", context)


def _answer(request: WorkshopRequest, planned: PlannedOrders, making: MakeOrdersForm | None) -> dict[str, Any]:
    asked, plan, currency = planned.ordering, planned.plan, request.workshop.currency
    context = {
        "ordering": asked,
        "planned": planned,
        "plan": plan,
        "troubles": list(_hindrances(asked, plan)),
        "already": [(one, net_requirement_working(one.requirement, str(one.row))) for one in asked.already],
    }
    if not plan.lines:
        return context

    def opened(lines: Iterable[PlannedLine]) -> list[tuple[PlannedLine, list[Working]]]:
        return [(line, list(line_workings(line, asked, currency))) for line in lines]

    savings = [saving_working(plan, asked.part_by_part, "part by part", currency)]
    if asked.one_supplier:
        savings.append(saving_working(plan, asked.one_supplier, "one supplier for each process", currency))
    return context | {
        "making": making or MakeOrdersForm(workshop=request.workshop, design=asked.design, planned=planned),
        "total": order_working(plan, currency),
        "bound": bound_working(plan, currency),
        "finish": finish_working(planned),
        "savings": savings,
        "orders": [(order, sum_working(order, currency), opened(order.lines)) for order in planned.orders],
        "here": opened(planned.here),
    }


# -- what is in the way, and where it is mended


@dataclass(frozen=True)
class Hindrance:
    what: str
    why: str
    address: str
    way_out: str


def _hindrances(asked: Ordering, plan: OrderPlan) -> Iterator[Hindrance]:
    for part in asked.without_route:
        address = reverse("route", args=[part.pk])
        yield Hindrance(part.name, "it has no route, so nothing of it is ordered", address, "Lay down its route")
    for trouble in plan.troubles:
        yield _hindrance(asked, trouble)
    for one in asked.source.priceless:
        address, way_out = reverse("quote", args=[one.quote.pk]), "Look at the quote"
        if one.no_rate:
            address, way_out = f"{reverse('rates')}?currency={one.no_rate}", "Enter the rate"
        yield Hindrance(f"{one.quote.operation}, {one.quote.supplier}", one.trouble, address, way_out)


def _hindrance(asked: Ordering, trouble: Trouble) -> Hindrance:
    rows = [asked.needed[key].row for key in trouble.needs]
    what = ", ".join(str(row) for row in rows)
    if trouble.reason == TroubleReason.NO_OFFER:
        return Hindrance(what, "no quote for it counts", reverse("quote-new", args=[rows[0].pk]), "Type a quote")
    if trouble.days is not None:  # too late
        soonest = asked.day + timedelta(days=trouble.days)
        again = urlencode({**asked.wanted.typed, "by": soonest.isoformat()})
        return Hindrance(
            what,
            f"{trouble.days} days one after another: not there by the day",
            f"{reverse('ordering', args=[asked.design.pk])}?{again}",
            f"Plan for {date_format(soonest, 'j M Y')}, the soonest",
        )
    why = f"one supplier was wished for, but {trouble.reason}"
    return Hindrance(what, why, reverse("operation", args=[rows[0].pk]), "Change the wish")
