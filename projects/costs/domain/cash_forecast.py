"""Cash of a batch over time: orders as they were placed, what is still to be bought by its lead times, and sales.

Everything is without tax and in the workshop's own currency. Development is spent already and left out.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property

from projects.money import pricing
from projects.money.fixed import own_hands
from projects.money.pricing import Flow
from projects.money.rounding import cents, shared_out
from projects.money.sales import FirmSale, Sales, sale_flows
from projects.money.unit_cost import CostLine, PartCost
from projects.record.models.orders import OrderLine
from projects.record.models.projects import Project
from projects.record.models.routes import Operation
from projects.record.models.suppliers import Supplier

from .buyer_book import BuyerBook
from .cost_sheet import AT_THE_END, NOTHING
from .price_sheet import PriceSheet
from .project_orders import ProjectOrders


@dataclass(frozen=True)
class PlannedPurchase:
    """What a line of the sheet still has to be bought for, and the day by which it must be paid."""

    name: str
    there_on: date
    paid_on: date
    amount: Decimal


@dataclass(frozen=True, eq=False)
class CashForecast:
    """`hands_paid`: our own hands and their overhead cost cash; else they are ours to forgo.
    `opening`: cash before the first of all flows."""

    priced: PriceSheet
    project: Project | None
    today: date
    hands_paid: bool = True
    opening: Decimal = NOTHING

    # -- what is ordered

    @cached_property
    def orders(self) -> ProjectOrders:
        return ProjectOrders(self.project, self.priced.sheet.source.rates)

    def _paid_for_orders(self) -> Iterator[Flow]:
        """What came is to be paid in the supplier's days, and so is what is to come, from the day that it should."""
        for order, rate in self.orders.priced:
            supplier = order.supplier
            for payment in order.payments.all():
                yield Flow(payment.paid_on, cents(-payment.amount * rate), f"paid to {supplier}")
            if order.to_pay:
                came = order.last_came_on if not order.outstanding else None
                due = (came or order.expected_on) + timedelta(days=supplier.days_to_pay)
                yield Flow(max(self.today, due), cents(-order.to_pay * rate), f"owed to {supplier}")

    @cached_property
    def ordered(self) -> dict[str, list[OrderLine]]:
        """By the operation that they were ordered for."""
        lines: dict[str, list[OrderLine]] = defaultdict(list)
        for order in self.orders.standing:
            for line in order.lines.all():
                lines[str(line.operation_id)].append(line)
        return dict(lines)

    # -- what is still to be bought

    @cached_property
    def purchases(self) -> list[PlannedPurchase]:
        parts = [part for part in self.priced.paid_off.parts if part.part not in AT_THE_END]
        rest = [part for part in self.priced.paid_off.parts if part.part in AT_THE_END]
        of_parts = [purchase for part in parts for purchase in self._purchases(part, self.today)]
        ready = max((purchase.there_on for purchase in of_parts), default=self.today)
        return [*of_parts, *(purchase for part in rest for purchase in self._purchases(part, ready))]

    def _purchases(self, part: PartCost, begins: date) -> Iterator[PlannedPurchase]:
        """Each operation begins when the one before it is done, and its new tools, ordered today, are there; one that
        is ordered is done when that should come. Our own hands are left out, and what is ordered."""
        day = begins
        for line in part.lines:
            lines, supplier = self.ordered.get(line.key, []), self._supplier(line)
            ordered = sum(one.quantity for one in lines)
            once = line.operation.process == Operation.Process.PATTERN and ordered
            still_open = NOTHING if once else Decimal(max(0, line.ordered - ordered)) / line.ordered
            if still_open:
                day = self.today + timedelta(days=line.done_after((day - self.today).days))
            day = max([day, *(one.order.expected_on for one in lines if one.outstanding)])
            paid_on = day + timedelta(days=supplier.days_to_pay if supplier else 0)
            amount = cents((line.total - own_hands(line, self.priced.sheet.terms)) * still_open)
            yield PlannedPurchase(
                f"{line.operation.process}{f', {supplier}' if supplier else ''}", day, paid_on, amount
            )

    def _supplier(self, line: CostLine) -> Supplier | None:
        """Whom it is bought from; None where it is done here, or nobody has quoted."""
        row = self._rows.get(line.key)
        suppliers = (one.quote.supplier for one in self.priced.sheet.source.offers.get(row.pk, ())) if row else ()
        return next((supplier for supplier in suppliers if supplier.name == line.operation.supplier), None)

    @cached_property
    def _rows(self) -> dict[str, Operation]:
        return {str(row.pk): row for row in self.priced.sheet.source.operations}

    # -- when machines leave

    @cached_property
    def ready(self) -> date:
        """When the last thing bought is there, ordered or still to be ordered."""
        to_come = [order.expected_on for order, _ in self.orders.priced if order.outstanding]
        bought = [purchase.there_on for purchase in self.purchases if purchase.amount]
        return max([self.today, *to_come, *bought])

    @cached_property
    def sales(self) -> Sales:
        terms, priced = self.priced.sheet.row, self.priced
        return Sales(priced.machines, self.ready, terms.sold_a_month, priced.price, terms.deposit)

    @cached_property
    def firm_sales(self) -> list[FirmSale]:
        """To firm buyers whose machine is of this batch, or of none yet; at the price agreed, else the price asked.

        A stage without any day is not counted on.
        """
        sales = []
        for buyer in BuyerBook.of(self.priced.sheet.design).firm:
            if buyer.own_machine or (buyer.machine and buyer.machine.project != self.project):
                continue
            stages = tuple(
                Flow(stage.paid_on or max(self.today, stage.due_on or date.min), stage.amount, f"{stage.what}, {buyer}")
                for stage in buyer.stages
                if stage.paid_on or stage.due_on
            )
            price = self.priced.price if buyer.agreed_price is None else buyer.agreed_price
            sales.append(FirmSale(buyer.name, buyer.count, price, stages))
        return sales

    # -- all together

    def _paid_to_hands(self) -> Iterator[Flow]:
        """A machine's share of our own hands is paid while it is made: when the one before it leaves."""
        lines = [line for part in self.priced.paid_off.parts for line in part.lines]
        total = sum((own_hands(line, self.priced.sheet.terms) for line in lines), NOTHING)
        for place, share in enumerate(shared_out(total, [1] * self.priced.machines)):
            yield Flow(self.sales.leaves_on(place), -share, "own hands")

    @cached_property
    def flows(self) -> list[Flow]:
        """Raises ValueError, in the user's words, where sales would take decades."""
        flows = [
            *self._paid_for_orders(),
            *(Flow(purchase.paid_on, -purchase.amount, purchase.name) for purchase in self.purchases),
            *sale_flows(self.sales, self.firm_sales, self.today),
        ]
        flows += self._paid_to_hands() if self.hands_paid else ()
        return together(flow for flow in flows if flow.amount)

    @cached_property
    def cash(self) -> pricing.Cash:
        return pricing.cash(self.flows, self.opening)


def together(flows: Iterable[Flow]) -> list[Flow]:
    """Flows of one day and name as one."""
    amounts: dict[tuple[date, str], Decimal] = defaultdict(Decimal)
    for flow in flows:
        amounts[flow.day, flow.name] += flow.amount
    return [Flow(day, amount, name) for (day, name), amount in sorted(amounts.items())]
