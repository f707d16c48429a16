"""Cash of a batch over time: orders as they were placed, what is still to be bought by its lead times, and sales.

Everything is without tax and in the workshop's own currency. Development is spent already and left out.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any

from projects.buying.domain.offers import rates_of
from projects.money import pricing
from projects.money.fixed import own_hands
from projects.money.pricing import Flow
from projects.money.rounding import cents, shared_out
from projects.money.sales import Sales, Wanted, sale_flows
from projects.money.unit import Line, PartCost
from projects.record.models.buyers import Buyer
from projects.record.models.orders import Order, OrderLine
from projects.record.models.projects import Project
from projects.record.models.routes import Operation
from projects.record.models.suppliers import Supplier

from .buyer_book import BuyerBook
from .cost_routes import BLASTER, PAINT, WHOLE
from .price_sheet import PriceSheet

NOTHING = Decimal(0)
AT_THE_END = (WHOLE, PAINT, BLASTER)  # when every part is there


@dataclass(frozen=True)
class Purchase:
    """What a line of the sheet still has to be bought for, and the day by which it must be paid."""

    name: str
    there_on: date
    paid_on: date
    amount: Decimal


@dataclass(frozen=True, eq=False)
class CashAhead:
    """`hands_paid`: our own hands and their overhead cost cash; else they are ours to forgo.
    `opening`: cash before the first of all flows."""

    priced: PriceSheet
    project: Project | None
    today: date
    hands_paid: bool = True
    opening: Decimal = NOTHING

    # -- what is ordered

    @cached_property
    def orders(self) -> list[Order]:
        """Of this batch, not cancelled, in money that can be told in our own."""
        return [order for order in self._orders if order.currency in self.rates]

    @property
    def without_rate(self) -> list[Order]:
        return [order for order in self._orders if order.currency not in self.rates]

    @cached_property
    def _orders(self) -> list[Order]:
        if self.project is None:
            return []
        return list(self.project.orders.in_full().filter(cancelled_on=None))

    @cached_property
    def rates(self) -> dict[str, Decimal]:
        return rates_of(self.priced.sheet.design.workshop)

    def _ordered(self) -> Iterator[Flow]:
        for order in self.orders:
            rate, whom = self.rates[order.currency], order.supplier
            for payment in order.payments.all():
                yield Flow(payment.paid_on, cents(-payment.amount * rate), f"paid to {whom}")
            if order.to_pay:
                yield Flow(max(self.today, _due(order)), cents(-order.to_pay * rate), f"owed to {whom}")

    @cached_property
    def ordered(self) -> dict[str, int]:
        """Pieces by the operation that they were ordered for."""
        found: dict[str, int] = {}
        for line in OrderLine.objects.filter(order__in=self._orders):
            found[str(line.operation_id)] = found.get(str(line.operation_id), 0) + line.quantity
        return found

    # -- what is still to be bought

    @cached_property
    def purchases(self) -> list[Purchase]:
        parts = [part for part in self.priced.paid_off.parts if part.part not in AT_THE_END]
        rest = [part for part in self.priced.paid_off.parts if part.part in AT_THE_END]
        found = [bought for part in parts for bought in self._bought(part, self.today)]
        ready = max((one.there_on for one in found), default=self.today)
        return [*found, *(bought for part in rest for bought in self._bought(part, ready))]

    def _bought(self, part: PartCost, begins: date) -> Iterator[Purchase]:
        """Each operation begins when the one before it is done."""
        day = begins
        for line in part.lines:
            days, supplier = self._lead(line)
            day += timedelta(days=days)
            paid_on = day + timedelta(days=supplier.days_to_pay if supplier else 0)
            whom = f", {supplier}" if supplier else ""
            bought = line.total - own_hands(line, self.priced.sheet.terms)
            amount = cents(bought * self._still_open(line))
            yield Purchase(f"{line.operation.process}{whom}", day, paid_on, amount)

    def _lead(self, line: Line) -> tuple[int, Supplier | None]:
        """Days that it takes, and whom it is bought from."""
        row = self._rows.get(line.key)
        if row is None:
            return 0, None
        offers = self.priced.sheet.source.offers.get(row.pk, ())
        quote = next((one.quote for one in offers if one.quote.supplier.name == line.operation.supplier), None)
        return (quote.days, quote.supplier) if quote else (row.lead_days, None)

    @cached_property
    def _rows(self) -> dict[str, Operation]:
        return {str(row.pk): row for row in self.priced.sheet.source.operations}

    def _still_open(self, line: Line) -> Decimal:
        """The share of a line that no order covers yet."""
        already = self.ordered.get(line.key, 0)
        if already and line.operation.process == Operation.Process.PATTERN:
            return NOTHING
        return Decimal(max(0, line.ordered - already)) / line.ordered

    # -- when machines leave

    @cached_property
    def ready(self) -> date:
        """When the last thing bought is there, ordered or still to be ordered."""
        to_come = [order.expected_on for order in self.orders if order.outstanding]
        bought = [one.there_on for one in self.purchases if one.amount]
        return max([self.today, *to_come, *bought])

    @cached_property
    def sales(self) -> Sales:
        terms, priced = self.priced.sheet.row, self.priced
        return Sales(priced.machines, self.ready, terms.sold_a_month, priced.price, terms.deposit)

    @cached_property
    def wanted(self) -> list[Wanted]:
        """Firm buyers whose machine is of this batch, or of none yet; at the price agreed, else the price asked."""
        rows = [buyer for buyer in BuyerBook.of(self.priced.sheet.design).firm if not buyer.own_machine]
        return [self._wanted(buyer) for buyer in rows if buyer.machine is None or self._of_this_batch(buyer)]

    def _of_this_batch(self, buyer: Buyer) -> bool:
        return self.project is not None and buyer.machine.project_id == self.project.pk

    def _wanted(self, buyer: Buyer) -> Wanted:
        price = self.priced.price if buyer.agreed_price is None else buyer.agreed_price
        dated = [(stage.paid_on or max(self.today, stage.due_on or date.min), stage) for stage in buyer.stages]
        stages = [Flow(day, stage.amount, f"{stage.what}, {buyer}") for day, stage in dated if _has_a_day(stage)]
        return Wanted(buyer.name, buyer.count, price, tuple(stages))

    # -- all together

    def _hands(self) -> Iterator[Flow]:
        """A machine's share of our own hands is paid while it is made: when the one before it leaves."""
        lines = [line for part in self.priced.paid_off.parts for line in part.lines]
        total = sum((own_hands(line, self.priced.sheet.terms) for line in lines), NOTHING)
        for place, share in enumerate(shared_out(total, [1] * self.priced.machines)):
            yield Flow(self.sales.leaves_on(place), -share, "own hands")

    @cached_property
    def flows(self) -> list[Flow]:
        """Raises ValueError, in the user's words, where sales would take decades."""
        found = [*self._ordered(), *(Flow(one.paid_on, -one.amount, one.name) for one in self.purchases)]
        found += sale_flows(self.sales, self.wanted, self.today)
        found += self._hands() if self.hands_paid else ()
        return together(flow for flow in found if flow.amount)

    @cached_property
    def cash(self) -> pricing.Cash:
        return pricing.cash(self.flows, self.opening)


def together(flows: Iterable[Flow]) -> list[Flow]:
    """Flows of one day and name as one."""
    found: dict[tuple[date, str], Decimal] = {}
    for flow in flows:
        found[flow.day, flow.name] = found.get((flow.day, flow.name), NOTHING) + flow.amount
    return [Flow(day, amount, name) for (day, name), amount in sorted(found.items())]


def _due(order: Order) -> date:
    """What came is to be paid in the supplier's days; of what is to come the day that it should."""
    came = order.last_came_on if not order.outstanding else None
    return (came or order.expected_on) + timedelta(days=order.supplier.days_to_pay)


def _has_a_day(stage: Any) -> bool:
    return bool(stage.paid_on or stage.due_on)
