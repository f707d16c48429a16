"""The orders of a design together: what is to come, what is to be paid, and the money of all of them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import groupby

from projects.record.models.designs import Design
from projects.record.models.orders import NOTHING, Order

from .offers import rates_of


@dataclass(frozen=True)
class CurrencyTotal:
    """Without tax, of all the orders in one currency; `rate`: what one of it costs, None where nobody said so."""

    currency: str
    cost: Decimal
    paid: Decimal
    to_pay: Decimal
    tax: Decimal
    rate: Decimal | None

    @property
    def cost_at_home(self) -> Decimal | None:
        return None if self.rate is None else self.cost * self.rate


@dataclass(frozen=True)
class OrderBook:
    orders: tuple[Order, ...]
    rates: dict[str, Decimal]
    day: date

    @classmethod
    def of(cls, design: Design, day: date) -> "OrderBook":
        return cls(tuple(design.orders.in_full()), rates_of(design.workshop), day)

    @property
    def to_come(self) -> list[Order]:
        rows = [order for order in self.orders if order.outstanding]
        return sorted(rows, key=lambda order: order.promised_on or date.max)

    @property
    def to_be_paid(self) -> list[Order]:
        rows = [order for order in self.orders if not order.outstanding and order.to_pay]
        return sorted(rows, key=lambda order: order.due_on or date.max)

    @property
    def done(self) -> list[Order]:
        return [order for order in self.orders if order.done]

    @property
    def groups(self) -> list[tuple[str, list[tuple[Order, int]]]]:
        """Under their headings, each order with the days that it is late."""
        named = (("To come", self.to_come), ("To be paid", self.to_be_paid), ("Done", self.done))
        return [(title, [(order, order.days_late(self.day)) for order in orders]) for title, orders in named if orders]

    @property
    def totals(self) -> list[CurrencyTotal]:
        by_currency = sorted(self.orders, key=lambda order: order.currency)
        return [self._total(name, list(rows)) for name, rows in groupby(by_currency, lambda order: order.currency)]

    def _total(self, currency: str, orders: Iterable[Order]) -> CurrencyTotal:
        return CurrencyTotal(
            currency,
            cost=sum((order.cost for order in orders), NOTHING),
            paid=sum((order.paid for order in orders), NOTHING),
            to_pay=sum((order.to_pay for order in orders), NOTHING),
            tax=sum((order.sums.tax for order in orders if not order.cancelled), NOTHING),
            rate=self.rates.get(currency),
        )

    @property
    def together(self) -> Decimal | None:
        """In the workshop's own currency, at the latest rates; None as long as one of them is missing."""
        known = [total.cost_at_home for total in self.totals if total.cost_at_home is not None]
        return sum(known, NOTHING) if len(known) == len(self.totals) else None
