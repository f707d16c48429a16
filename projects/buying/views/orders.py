"""Orders of a design: placed, read, sent to the supplier, changed, cancelled, paid."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.buying.actions import orders as actions
from projects.buying.domain.offers import rates_of
from projects.buying.domain.order_book import OrderBook
from projects.buying.domain.scrap import good_offer, good_offers
from projects.buying.forms.orders import ChangeOrderForm, OrderDraft, PaymentForm
from projects.record.models import Design, Operation, Order, Quote


@member("plan")
def orders(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    context = {"design": design, "book": OrderBook.of(design, timezone.localdate()), "offers": good_offers(design)}
    return render(request, "projects/buying/orders/orders.html", context)


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Sent once, open sums are proposed from quotes; sent again with nothing left open, the order is placed."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    initial, begin = _begun(request)
    today = timezone.localdate()
    draft = OrderDraft(request.POST, design=design, today=today, initial=initial, begin=begin)
    if draft.form.repeated:
        return redirect("order", draft.form.repeated.pk)
    if draft.sound and draft.complete() and "place" in request.POST:
        order = actions.place_order(draft.order, draft.rows.lines, draft.rows.reasons)
        return redirect("order", order.pk)
    return render(request, "projects/buying/orders/new.html", {"design": design, "draft": draft, "form": draft.form})


def _begun(request: WorkshopRequest) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """What an address says of an order to begin with: ?supplier=…, or ?quote=…&quantity=…"""
    asked = as_uuid(request.GET.get("quote"))
    quote = Quote.objects.of(request.workshop).filter(pk=asked).first() if asked else None
    if quote is None:
        return {"supplier": as_uuid(request.GET.get("supplier"))}, []
    row = {"operation": quote.operation_id, "revision": quote.revision_id, "quantity": request.GET.get("quantity")}
    return {"supplier": quote.supplier_id}, [row]


@member("plan")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    order, today = _order(request, pk), timezone.localdate()
    rate = rates_of(request.workshop).get(order.currency)
    context = {
        "order": order,
        "design": order.design,
        "days_late": order.days_late(today),
        "today": today,
        "form": PaymentForm(workshop=request.workshop, order=order, today=today),
        "receipts": [receipt for line in order.lines.all() for receipt in line.standing_receipts],
        "overpaid": -order.to_pay,
        "rate": rate,
        "at_home": rate and order.cost * rate,
    }
    return render(request, "projects/buying/orders/detail.html", context)


@member("plan")
def sheet(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The order as it goes to the supplier, to be printed."""
    return render(request, "projects/buying/orders/sheet.html", {"order": _order(request, pk)})


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    order = _order(request, pk)
    form = ChangeOrderForm(request.POST or None, workshop=request.workshop, instance=order)
    if form.is_valid():
        return redirect("order", form.save().pk)
    return render(request, "projects/buying/orders/edit.html", {"form": form, "order": _order(request, pk)})


@member("plan")
@require_POST
def cancel(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """With `stands` it is not cancelled after all."""
    order = _order(request, pk)
    try:
        if "stands" in request.POST:
            actions.let_order_stand(order)
        else:
            actions.cancel_order(order, day=timezone.localdate())
    except actions.HasCome as why:
        messages.error(request, str(why))
    return redirect("order", order.pk)


@member("plan")
def pay(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    order = _order(request, pk)
    form = PaymentForm(request.POST or None, workshop=request.workshop, order=order, today=timezone.localdate())
    if form.repeated:
        return redirect("order", order.pk)
    if form.is_valid():
        form.save()
        return redirect("order", order.pk)
    return render(request, "projects/buying/orders/pay.html", {"form": form, "order": order})


@member("plan")
@require_POST
def take_good_share(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """What was seen to come out good is taken for the estimate, by hand."""
    operation = get_object_or_404(Operation.objects.of(request.workshop).select_related("part", "design"), pk=pk)
    offer = good_offer(operation)
    if offer and offer.can_be_taken:
        actions.take_good_share(offer, day=timezone.localdate())
        messages.success(request, f"{operation}: {offer.percent} % come out good from now on; {offer.basis}.")
    return redirect("orders", operation.design_id)


def _order(request: WorkshopRequest, pk: UUID) -> Order:
    return get_object_or_404(Order.objects.of(request.workshop).in_full(), pk=pk)
