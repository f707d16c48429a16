"""An ordering plan as orders that may be placed: one for each supplier and each place that his goods go to."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from uuid import UUID, uuid5

from projects.buying.domain.comparison import PricedQuote
from projects.buying.domain.proposals import asked_by
from projects.money.ordering import OrderLine as Picked
from projects.money.ordering import OrderPlan
from projects.record.domain.proved import current_revision
from projects.record.models.designs import Revision
from projects.record.models.orders import Order, OrderLine
from projects.record.models.projects import Project
from projects.record.models.suppliers import Supplier

from .ordering import HERE, NOTHING, Ordering, Stop


@dataclass(frozen=True)
class PlannedLine:
    """column: the quote; None where it is done here."""

    picked: Picked
    stop: Stop
    ready: date
    column: PricedQuote | None = None

    @cached_property
    def revision(self) -> Revision | None:
        """The newest, whatever was quoted for."""
        return current_revision(self.column.quote.operation.part)

    @property
    def shown(self) -> str:
        """What a form carries of it, so that what is ordered is what was seen."""
        return f"{self.picked.need.key}|{self.picked.offer.key}|{self.picked.quantity}|{self.picked.cost}"

    @cached_property
    def row(self) -> OrderLine:
        """As it is ordered, in the supplier's currency; not kept yet."""
        quote = self.column.quote
        asked = asked_by(quote, self.picked.quantity, self.column.tooling_due != self.column.prices.tooling)
        return OrderLine(
            workshop_id=quote.workshop_id,
            operation=self.stop.row,
            revision=self.revision,
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
            design=self.lines[0].stop.row.design,
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
    asked: Ordering
    plan: OrderPlan

    @cached_property
    def lines(self) -> dict[str, PlannedLine]:
        return {picked.need.key: self._line(picked) for picked in self.plan.lines}

    def _line(self, picked: Picked) -> PlannedLine:
        stop = self.asked.stops[picked.need.key]
        ready = self.asked.day + timedelta(days=self.plan.ready[stop.key])
        return PlannedLine(picked, stop, ready, self.asked.columns.get(picked.offer.key))

    @cached_property
    def here(self) -> list[PlannedLine]:
        """What we do ourselves, but for what other pages reckon."""
        return [line for line in self.lines.values() if line.column is None and line.picked.cost]

    @property
    def here_cost(self) -> Decimal:
        return sum((line.picked.cost for line in self.here), NOTHING)

    @cached_property
    def orders(self) -> list[PlannedOrder]:
        groups: dict[tuple[str, str], list[PlannedLine]] = {}
        for key, line in self.lines.items():
            if line.column is not None:
                groups.setdefault((line.picked.offer.supplier, self._goes_to(key)), []).append(line)
        return list(self._orders(dict(sorted(groups.items(), key=lambda group: str(self.asked.rows[group[0][0]])))))

    def _orders(self, groups: dict[tuple[str, str], list[PlannedLine]]) -> Iterator[PlannedOrder]:
        deliveries = {(each.supplier, each.to): each.cost for each in self.plan.deliveries}
        charges = {each.supplier: each.charge for each in self.plan.least_orders}
        for (supplier, to), lines in groups.items():
            yield PlannedOrder(
                self.asked.rows[supplier],
                self.asked.rows.get(to),
                tuple(lines),
                deliveries[supplier, to],
                charges.pop(supplier, NOTHING),
            )

    @cached_property
    def _next(self) -> dict[str, str]:
        return {need.follows: need.key for need in self.asked.needs if need.follows and need.key in self.lines}

    def _goes_to(self, key: str) -> str:
        """The next one, other than himself, who works on it; else here."""
        supplier, after = self.lines[key].picked.offer.supplier, self._next.get(key)
        while after and self.lines[after].picked.offer.supplier == supplier:
            after = self._next.get(after)
        return self.lines[after].picked.offer.supplier if after else HERE

    @property
    def finish(self) -> date:
        return self.asked.day + timedelta(days=self.plan.finish)

    @property
    def rows(self) -> list[OrderLine]:
        return [row for order in self.orders for row in order.rows]

    def as_rows(self, kept_as: UUID, project: Project | None) -> list[tuple[Order, list[OrderLine]]]:
        workshop, day = self.asked.design.workshop_id, self.asked.day
        return [
            (order.row(order_key(kept_as, workshop, at), project, day), order.rows)
            for at, order in enumerate(self.orders)
        ]
