"""What to ask for a machine of a batch: its price, what pays for development, and what moves the profit most."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from typing import Any

from finishing.science.working import Working
from projects.money import pricing
from projects.money.fixed import Split, split
from projects.money.unit import MachineCost, machine_cost, machine_working
from projects.money.what_if import scaled_route, scaled_terms
from projects.record.models.buyers import Buyer
from projects.record.models.cost_terms import USUAL_RANGES, CostRange
from projects.record.models.projects import Project

from .buyer_book import BuyerBook
from .cost_sheet import CostSheet

Input = CostRange.Input
NOTHING, ONE, HUNDRED = Decimal(0), Decimal(1), Decimal(100)


def open_batch(design: Any) -> Project | None:
    """The project that is worked on: of those open the first with machines, else the first."""
    rows = list(design.projects.filter(closed=False).prefetch_related("machines").order_by("name"))
    return next((row for row in rows if row.machines.all()), rows[0] if rows else None)


def usual_size(sheet: CostSheet, project: Project | None) -> int:
    """Machines of the open project; else the second of the terms' sizes."""
    return (project and len(project.machines.all())) or sheet.sizes[:2][-1]


def sold_to(buyer: Buyer) -> int:
    """Machines that a buyer has paid in full, or else the one that has a number."""
    if buyer.own_machine or not buyer.wants_one:
        return 0
    paid = buyer.price and buyer.paid >= buyer.price
    return buyer.count if paid else int(buyer.machine_id is not None)


@dataclass(frozen=True)
class Asked:
    """A price asked, or a margin or mark-up in percent by which it is made: one of them."""

    way: str  # "price", "margin" or "mark-up"
    value: Decimal


def asked_by(row: Any) -> Asked:
    """As the terms have it."""
    return Asked("margin", row.margin) if row.price is None else Asked("price", row.price)


@dataclass(frozen=True, eq=False)
class PriceSheet:
    sheet: CostSheet
    machines: int
    asked: Asked

    @property
    def currency(self) -> str:
        return self.sheet.design.workshop.currency

    # -- cost and price

    @cached_property
    def cost(self) -> MachineCost:
        return self.sheet.batch(self.machines)

    @cached_property
    def price(self) -> Decimal:
        """Of one machine, without tax."""
        if self.asked.way == "margin":
            return pricing.price_by_margin(self.cost.each, self.asked.value)
        if self.asked.way == "mark-up":
            return pricing.price_by_mark_up(self.cost.each, self.asked.value)
        return self.asked.value

    @property
    def margin(self) -> Decimal | None:
        """Percent of the price; none where nothing is asked."""
        return pricing.margin_of(self.price, self.cost.each) if self.price else None

    @property
    def mark_up(self) -> Decimal | None:
        """Percent of the cost; none where it costs nothing."""
        return pricing.mark_up_of(self.price, self.cost.each) if self.cost.each else None

    @property
    def left(self) -> Decimal:
        """Of the price of one, after its cost."""
        return self.price - self.cost.each

    @property
    def tax(self) -> Decimal:
        return pricing.tax_on(self.price, self.sheet.row.tax)

    @property
    def with_tax(self) -> Decimal:
        return self.price + self.tax

    @property
    def price_workings(self) -> list[Working]:
        made = {"margin": pricing.margin_working, "mark-up": pricing.mark_up_working}.get(self.asked.way)
        by = [made(self.cost.each, self.asked.value, self.currency)] if made else []
        tax = pricing.tax_working(self.price, self.sheet.row.tax, self.currency)
        return [machine_working(self.cost, self.currency), *by, tax]

    # -- development

    @cached_property
    def sold(self) -> int:
        return sum(sold_to(buyer) for buyer in BuyerBook.of(self.sheet.design).buyers)

    @cached_property
    def recovery(self) -> pricing.Recovery:
        return pricing.recovery(self.sheet.development, self.sheet.row.recover_over, self.sold)

    @property
    def recovery_working(self) -> Working:
        over = self.sheet.row.recover_over
        return pricing.recovery_working(self.sheet.development, over, self.sold, self.currency)

    # -- how many must be sold

    @cached_property
    def paid_off(self) -> MachineCost:
        """The same batch with its tools paid for whole, and without development: what has to be spent."""
        terms = replace(self.sheet.terms, spread_tools=False)
        return machine_cost(self.sheet.routes, self.machines, terms)

    @cached_property
    def split(self) -> Split:
        return split(self.paid_off, self.sheet.development)

    @cached_property
    def break_even(self) -> pricing.BreakEven | None:
        """None where the price does not lie above what each machine adds."""
        if self.price <= self.split.variable:
            return None
        return pricing.break_even(self.split.fixed, self.price, self.split.variable)

    @property
    def break_even_working(self) -> Working:
        one, currency = self.split, self.currency
        return pricing.break_even_working(one.fixed, self.price, one.variable, currency, one.counted(currency))

    # -- what moves the profit of the batch

    @property
    def profit(self) -> Decimal:
        return pricing.profit(self.price, Decimal(self.machines), self.cost.total)

    @cached_property
    def ranges_are_ours(self) -> bool:
        """Nobody has said how far the inputs lie, so our judgement stands in."""
        return self.sheet.row._state.adding or not self.sheet.row.ranges.all()

    @cached_property
    def ranges(self) -> dict[str, tuple[Decimal, Decimal]]:
        """Shares by input; a range that does not hold what is reckoned with is no range of it."""
        kept = () if self.ranges_are_ours else self.sheet.row.ranges.all()
        found = {row.input: (row.low, row.high) for row in kept} or USUAL_RANGES
        return {
            str(name): (low / HUNDRED, high / HUNDRED) for name, (low, high) in found.items() if low <= HUNDRED <= high
        }

    def profit_at(self, shares: Mapping[str, Decimal]) -> Decimal:
        """The profit with inputs moved to shares of what they are; unsold machines are made and bring nothing."""
        routes = [scaled_route(route, shares) for route in self.sheet.routes]
        terms = scaled_terms(self.sheet.terms, shares)
        cost = machine_cost(routes, self.machines, terms, self.sheet.development_each)
        price, sold = shares.get(Input.PRICE, ONE), shares.get(Input.SOLD, ONE)
        return pricing.profit(self.price * price, self.machines * sold, cost.total)

    @cached_property
    def bars(self) -> list[pricing.Bar]:
        """Largest swing first; what moves nothing is left out."""
        base = dict.fromkeys(self.ranges, ONE)
        found = pricing.tornado(base, self.ranges, self.profit_at)
        named = [replace(bar, name=Input(bar.name).label) for bar in found]
        return [bar for bar in named if bar.swing]

    @property
    def bar_workings(self) -> list[Working]:
        return [pricing.bar_working(bar, self.profit, self.currency) for bar in self.bars]
