"""What to ask for a machine of a batch: its price, what pays for development, and what moves the profit most."""

from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

from finishing.science.working import Working
from projects.money import pricing
from projects.money.fixed import Split, split
from projects.money.unit_cost import MachineCost, Route, machine_cost, machine_working
from projects.money.what_if import BatchProfit, TornadoBar, bar_working, tornado
from projects.record.models.buyers import Buyer
from projects.record.models.cost_terms import USUAL_RANGES, CostRange, CostTerms
from projects.record.models.designs import Design
from projects.record.models.projects import Project

from .buyer_book import BuyerBook
from .cost_sheet import CostSheet

Input = CostRange.Input
HUNDRED = Decimal(100)


def open_batch(design: Design) -> Project | None:
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
class PriceAsked:
    """A price asked, or a margin or mark-up in percent by which it is made: one of them."""

    way: str  # "price", "margin" or "mark-up"
    value: Decimal


def price_of_terms(terms: CostTerms) -> PriceAsked:
    """The price that they ask, else their margin."""
    return PriceAsked("margin", terms.margin) if terms.price is None else PriceAsked("price", terms.price)


@dataclass(frozen=True, eq=False)
class PriceSheet:
    sheet: CostSheet
    machines: int
    asked: PriceAsked

    @property
    def currency(self) -> str:
        return self.sheet.design.workshop.currency

    # -- cost and price

    @cached_property
    def routes(self) -> tuple[Route, ...]:
        return self.sheet.routes([self.machines])

    @cached_property
    def cost(self) -> MachineCost:
        return machine_cost(self.routes, self.machines, self.sheet.terms, self.sheet.development_each)

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
        return machine_cost(self.routes, self.machines, terms)

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
        split, currency = self.split, self.currency
        return pricing.break_even_working(split.fixed, self.price, split.variable, currency, split.counted(currency))

    # -- what moves the profit of the batch

    @cached_property
    def batch_profit(self) -> BatchProfit:
        terms, development_each = self.sheet.terms, self.sheet.development_each
        return BatchProfit(self.routes, self.machines, terms, development_each, self.price)

    @cached_property
    def profit(self) -> Decimal:
        """Of the batch as it is reckoned, all of it sold."""
        return self.batch_profit.at({})

    @cached_property
    def ranges_are_ours(self) -> bool:
        """Nobody has said how far the inputs lie, so our judgement stands in."""
        return self.sheet.row._state.adding or not self.sheet.row.ranges.all()

    @cached_property
    def ranges(self) -> dict[str, tuple[Decimal, Decimal]]:
        """Shares by input; a range that does not hold what is reckoned with is no range of it."""
        kept = () if self.ranges_are_ours else self.sheet.row.ranges.all()
        percents = {row.input: (row.low, row.high) for row in kept} or USUAL_RANGES
        return {
            str(name): (low / HUNDRED, high / HUNDRED)
            for name, (low, high) in percents.items()
            if low <= HUNDRED <= high
        }

    @cached_property
    def bars(self) -> list[TornadoBar]:
        """Largest swing first; what moves nothing is left out."""
        named = [replace(bar, name=Input(bar.name).label) for bar in tornado(self.batch_profit, self.ranges)]
        return [bar for bar in named if bar.swing]

    @property
    def bar_workings(self) -> list[Working]:
        return [bar_working(bar, self.profit, self.currency) for bar in self.bars]
