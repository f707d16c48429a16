"""An ordering plan as orders that may be placed: one for each supplier and each place that his goods go to."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from uuid import UUID, uuid5

from projects.buying.domain.comparison import PricedQuote
from projects.buying.domain.proposals import asked_by
from projects.money.ordering import OrderPlan, OrderPlanLine
from projects.record.domain.proved import current_revision
from projects.record.models.orders import Order, OrderLine
from projects.record.models.projects import Project
from projects.record.models.suppliers import Supplier

from .cost_sheet import NOTHING
from .ordering import HERE, NeededOperation, Ordering


@dataclass(frozen=True)
class PlannedLine:
    """priced: the quote; None where it is done here."""

    picked: OrderPlanLine
    needed: NeededOperation
    ready: date
    priced: PricedQuote | None = None

    @property
    def shown(self) -> str:
        """What a form carries of it, so that what is ordered is what was seen."""
        return f"{self.picked.need.key}|{self.picked.offer.key}|{self.picked.quantity}|{self.picked.cost}"

    @cached_property
    def row(self) -> OrderLine:
        """As it is ordered, in the supplier's currency and of the newest revision; not kept yet. Of a quote only."""
        assert self.priced is not None  # what is done here is not ordered
        quote = self.priced.quote
        asked = asked_by(quote, self.picked.quantity, tooling_paid=not self.priced.tooling_due)
        return OrderLine(
            workshop_id=quote.workshop_id,
            operation=self.needed.row,
            revision=current_revision(quote.operation.part),
            quote=quote,
            quantity=self.picked.quantity,
            pieces_cost=asked.pieces,
            setup=asked.setup,
            tooling=asked.tooling,
        )


@dataclass(frozen=True)
class PlannedOrder:
    """Money in the workshop's currency, without tax. charge: up to the least order, borne by a supplier's first."""

    supplier: Supplier
    goes_to: Supplier | None
    lines: tuple[PlannedLine, ...]
    delivery: Decimal
    charge: Decimal

    @property
    def goods(self) -> Decimal:
        return sum((line.picked.cost for line in self.lines), NOTHING)

    @property
    def total(self) -> Decimal:
        return self.goods + self.delivery + self.charge

    @property
    def ready(self) -> date:
        return max(line.ready for line in self.lines)

    @property
    def rows(self) -> list[OrderLine]:
        return [line.row for line in self.lines]

    def row(self, key: UUID, project: Project | None, day: date) -> Order:
        return Order(
            id=key,
            workshop=self.supplier.workshop,
            supplier=self.supplier,
            design=self.lines[0].needed.row.design,
            project=project,
            ordered_on=day,
            promised_on=self.ready,
            goes_to=self.goes_to,
            delivery=self.supplier.delivery,
        )


def order_key(kept_as: UUID, workshop: UUID, number: int) -> UUID:
    """The keys of a set of orders follow from that of its form, so that a form sent twice makes one set."""
    return uuid5(kept_as, f"{workshop} {number}")


@dataclass(frozen=True, eq=False)
class PlannedOrders:
    ordering: Ordering
    plan: OrderPlan

    @cached_property
    def lines(self) -> dict[str, PlannedLine]:
        """By the key of the operation."""
        ordering, ready = self.ordering, self.plan.ready
        return {
            (key := picked.need.key): PlannedLine(
                picked,
                ordering.needed[key],
                ordering.day + timedelta(days=ready[key]),
                ordering.quotes.get(picked.offer.key),
            )
            for picked in self.plan.lines
        }

    @cached_property
    def here(self) -> list[PlannedLine]:
        """What we do ourselves, but for what other pages reckon."""
        return [line for line in self.lines.values() if line.priced is None and line.picked.cost]

    @property
    def here_cost(self) -> Decimal:
        return sum((line.picked.cost for line in self.here), NOTHING)

    @cached_property
    def orders(self) -> list[PlannedOrder]:
        """By the supplier's name; one for each supplier and each place that his goods go to."""
        suppliers = self.ordering.suppliers
        groups: dict[tuple[str, str], list[PlannedLine]] = {}
        for key, line in self.lines.items():
            if line.priced is not None:
                groups.setdefault((line.picked.offer.supplier, self._goes_to(key)), []).append(line)
        deliveries = {(delivery.supplier, delivery.to): delivery.cost for delivery in self.plan.deliveries}
        charges = {least.supplier: least.charge for least in self.plan.least_orders}
        return [
            PlannedOrder(
                suppliers[supplier],
                suppliers.get(to),
                tuple(lines),
                deliveries[supplier, to],
                charges.pop(supplier, NOTHING),
            )
            for (supplier, to), lines in sorted(groups.items(), key=lambda group: str(suppliers[group[0][0]]))
        ]

    @cached_property
    def _next(self) -> dict[str, str]:
        return {need.follows: need.key for need in self.ordering.needs if need.follows and need.key in self.lines}

    def _goes_to(self, key: str) -> str:
        """The next one, other than himself, who works on it; else here."""
        supplier, after = self.lines[key].picked.offer.supplier, self._next.get(key)
        while after and self.lines[after].picked.offer.supplier == supplier:
            after = self._next.get(after)
        return self.lines[after].picked.offer.supplier if after else HERE

    @property
    def finish(self) -> date:
        return self.ordering.day + timedelta(days=self.plan.finish)

    @property
    def rows(self) -> list[OrderLine]:
        return [row for order in self.orders for row in order.rows]

    def as_rows(self, kept_as: UUID, project: Project | None) -> list[tuple[Order, list[OrderLine]]]:
        """As they are ordered today, for a project or for none; not kept yet."""
        workshop, day = self.ordering.design.workshop_id, self.ordering.day
        return [
            (order.row(order_key(kept_as, workshop, at), project, day), order.rows)
            for at, order in enumerate(self.orders)
        ]
