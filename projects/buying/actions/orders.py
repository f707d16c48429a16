"""What is done with orders: placed, changed, cancelled, paid."""

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from finishing.science.working import day_told
from projects.buying.domain.scrap import GoodOffer
from projects.record.domain.proved import Proof
from projects.record.models import Design, Operation, Order, OrderLine, Payment


class NeedsReason(ValueError):
    """More than one of an unproved revision, and nobody has said why. `wanting`: each line and what is unproved."""

    def __init__(self, wanting: list[tuple[OrderLine, str]]) -> None:
        super().__init__("; ".join(f"{line.revision or line.operation.part}: {why}" for line, why in wanting))
        self.wanting = wanting


def unproved_lines(design: Design, lines: Iterable[OrderLine]) -> list[tuple[OrderLine, str]]:
    """Lines for more than one machine's worth of a revision that is not proved, and what is unproved of it.

    A machine may take several of a part; fewer than these prove nothing, so they count as one.
    """
    proof, rows = Proof(design), [line for line in lines if line.operation.part]
    together: Counter[tuple[UUID, UUID | None]] = Counter()
    for line in rows:
        together[line.operation_id, line.revision_id] += line.quantity
    several = [line for line in rows if together[line.operation_id, line.revision_id] > line.operation.part.quantity]
    return [(line, why) for line in several if (why := proof.unproved(line.operation.part, line.revision))]


@transaction.atomic
def place_order(
    order: Order, lines: Iterable[OrderLine], reasons: Mapping[UUID, str], charge: Decimal | None = None
) -> Order:
    """A new order with its lines, not saved before; the sums that they carry are kept whatever is quoted later.

    `reasons`: by the key of an operation, why more than one of an unproved revision is ordered; NeedsReason where
    one is missing. Tax and what is charged up to the least order follow from the supplier's terms; `charge`: the
    latter, where this is one of several orders that the supplier counts together.
    The same order placed again is the one that was placed.
    """
    placed = Order.objects.filter(pk=order.pk).first()
    if placed:
        return placed
    wanted = list(lines)
    _keep_reasons(order.design, wanted, reasons)
    order.tax = order.supplier.tax
    order.minimum_charge = up_to_least_order(order, wanted) if charge is None else charge
    order.save()
    for line in wanted:
        line.order, line.workshop_id = order, order.workshop_id
    OrderLine.objects.bulk_create(wanted)
    return order


@transaction.atomic
def place_orders(orders: Iterable[tuple[Order, list[OrderLine]]], reasons: Mapping[UUID, str]) -> list[Order]:
    """All of them or none. A supplier who is sent orders to several places counts them as one: the first of them
    bears what he charges up to his least order."""
    waiting = list(orders)
    charges = {order.supplier_id: _charge_for_all(order, waiting) for order, _ in waiting}
    return [place_order(order, lines, reasons, charges.pop(order.supplier_id, Decimal(0))) for order, lines in waiting]


def _charge_for_all(order: Order, waiting: list[tuple[Order, list[OrderLine]]]) -> Decimal:
    lines = (line for other, lines in waiting if other.supplier_id == order.supplier_id for line in lines)
    return up_to_least_order(order, lines)


def up_to_least_order(order: Order, lines: Iterable[OrderLine]) -> Decimal:
    """An order for less than the supplier's least is charged as that; delivery is apart."""
    return max(Decimal(0), order.supplier.minimum_order - sum(line.cost for line in lines))


def _keep_reasons(design: Design, lines: list[OrderLine], reasons: Mapping[UUID, str]) -> None:
    for line in lines:
        line.reason = line.reason or reasons.get(line.operation_id, "")
    wanting = [(line, why) for line, why in unproved_lines(design, lines) if not line.reason.strip()]
    if wanting:
        raise NeedsReason(wanting)


def change_order(order: Order) -> Order:
    order.save()
    return order


class HasCome(ValueError):
    """An order of which something came stays one."""


@transaction.atomic
def cancel_order(order: Order, *, day: date) -> Order:
    if order.has_come:
        raise HasCome("Something has come of this order; it cannot be cancelled. Void the receipt if it is wrong.")
    order.cancelled_on = order.cancelled_on or day
    order.save(update_fields=["cancelled_on"])
    return order


def pay(payment: Payment) -> Payment:
    payment.save(force_insert=True)
    return payment


COUNTED = "received until"  # what an earlier count said goes with it


def take_good_share(offer: GoodOffer, *, day: date) -> Operation:
    """What came out good becomes what is reckoned with."""
    operation = offer.operation
    operation.good_percent = offer.percent
    before = [told for told in operation.basis.split("; ") if told and COUNTED not in told]
    operation.basis = "; ".join([f"{offer.basis} until {day_told(day)}", *before])[:200]
    operation.save(update_fields=["good_percent", "basis"])
    return operation
