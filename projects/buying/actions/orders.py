"""What is done with orders: placed, cancelled; and what came of them is taken for the estimate."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from finishing.science.working import day_told
from projects.buying.domain.order_rules import lines_to_justify, up_to_least_order
from projects.buying.domain.scrap import GoodOffer
from projects.record.models import Operation, Order, OrderLine


class NeedsReason(ValueError):
    """More than one of an unproved revision, or a nameplate without a wording, and nobody has said why. `wanting`: each
    line and what it lacks."""

    def __init__(self, wanting: list[tuple[OrderLine, str]]) -> None:
        super().__init__("; ".join(f"{line.revision or line.operation.part}: {why}" for line, why in wanting))
        self.wanting = wanting


@transaction.atomic
def place_order(
    order: Order, lines: Iterable[OrderLine], reasons: Mapping[UUID, str], charge: Decimal | None = None
) -> Order:
    """A new order with its lines, not saved before; the sums that they carry are kept whatever is quoted later.

    `reasons`: by the key of an operation, why what is not proved, or not worded, is ordered; NeedsReason where one is
    missing. A nameplate is cast with the wording that is chosen now. Tax and what is charged up to the least order
    follow from the supplier's terms; `charge`: the latter, where this is one of several orders that the supplier
    counts together.
    The same order placed again is the one that was placed.
    """
    placed = Order.objects.filter(pk=order.pk).first()
    if placed:
        return placed
    lines = list(lines)
    for line in lines:
        line.reason = line.reason or reasons.get(line.operation_id, "")
    wanting = [(line, why) for line, why in lines_to_justify(order.design, lines) if not line.reason.strip()]
    if wanting:
        raise NeedsReason(wanting)
    order.tax = order.supplier.tax
    order.minimum_charge = up_to_least_order(order.supplier, lines) if charge is None else charge
    order.save()
    for line in lines:
        line.order, line.workshop_id = order, order.workshop_id
        line.wording = line.operation.nameplate.wording if line.operation.nameplate else None
    OrderLine.objects.bulk_create(lines)
    return order


@transaction.atomic
def place_orders(orders: Iterable[tuple[Order, list[OrderLine]]], reasons: Mapping[UUID, str]) -> list[Order]:
    """All of them or none. A supplier who is sent orders to several places counts them as one: the first of them
    bears what he charges up to his least order."""
    orders = list(orders)
    together: dict[UUID, list[OrderLine]] = defaultdict(list)
    for order, lines in orders:
        together[order.supplier_id] += lines
    charges = {order.supplier_id: up_to_least_order(order.supplier, together[order.supplier_id]) for order, _ in orders}
    return [place_order(order, lines, reasons, charges.pop(order.supplier_id, Decimal(0))) for order, lines in orders]


class HasCome(ValueError):
    """An order of which something came stays one."""


@transaction.atomic
def cancel_order(order: Order, *, day: date) -> Order:
    if order.has_come:
        raise HasCome("Something has come of this order; it cannot be cancelled. Void the receipt if it is wrong.")
    order.cancelled_on = order.cancelled_on or day
    order.save(update_fields=["cancelled_on"])
    return order


def let_order_stand(order: Order) -> Order:
    """One that was cancelled by mistake."""
    order.cancelled_on = None
    order.save(update_fields=["cancelled_on"])
    return order


COUNTED = "received until"  # what an earlier count said goes with it


def take_good_share(offer: GoodOffer, *, day: date) -> Operation:
    """What came out good becomes what is reckoned with."""
    operation = offer.operation
    operation.good_percent = offer.percent
    before = [note for note in operation.basis.split("; ") if note and COUNTED not in note]
    operation.basis = "; ".join([f"{offer.basis} until {day_told(day)}", *before])[:200]
    operation.save(update_fields=["good_percent", "basis"])
    return operation
