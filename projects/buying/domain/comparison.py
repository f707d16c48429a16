"""Quotes for the same operation side by side: what each comes to at every batch size, and which is best there."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import groupby
from uuid import UUID

from django.core.exceptions import ValidationError

from projects.money.breaks import PriceList
from projects.money.rounding import cents
from projects.record.domain.proved import current_revision
from projects.record.models.cost_terms import CostTerms
from projects.record.models.designs import Design
from projects.record.models.orders import OrderLine
from projects.record.models.quotes import Quote, sizes_in
from projects.record.models.routes import Operation

from .offers import NoRate, price_list, rate_in, rates_of

USUAL_SIZES = [1, 5, 10, 20]


def sizes_of(design: Design) -> list[int]:
    """The batch sizes that a design's costs are asked at, in machines."""
    terms = CostTerms.objects.filter(design=design).first()
    try:
        return sizes_in(terms.sizes) if terms else USUAL_SIZES
    except ValidationError:
        return USUAL_SIZES


@dataclass(frozen=True)
class QuotedCost:
    """What so many pieces come to by a quote, in the workshop's currency: set-up is in, and tooling still to be paid;
    delivery and tax are left out."""

    needed: int
    ordered: int
    fewest: int  # that are sold
    pieces: Decimal
    setup: Decimal
    tooling: Decimal

    @property
    def total(self) -> Decimal:
        return self.pieces + self.setup + self.tooling

    @property
    def each(self) -> Decimal:
        """For one of those that are needed: they bear the cost of what is left over."""
        return self.total / self.needed

    @property
    def more_is_cheaper(self) -> bool:
        """Order ten, not nine."""
        return self.ordered > max(self.needed, self.fewest)

    @property
    def too_few(self) -> bool:
        return self.needed < self.fewest


@dataclass(frozen=True)
class PricedQuote:
    """A quote with its prices in the workshop's currency, or why it has none.

    tooling_due: none once the tooling went with an order · trouble: in the user's words · no_rate: the currency of
    which nobody has said what it costs
    """

    quote: Quote
    day: date
    prices: PriceList | None
    tooling_due: Decimal
    trouble: str = ""
    no_rate: str = ""

    @property
    def stands(self) -> bool:
        return self.quote.stands_on(self.day)

    def counts(self, expired: bool = False) -> bool:
        """Whether anything is reckoned from it. One that ended, or is of another revision than the part has now,
        counts only where that is asked for; one withdrawn, or of a supplier no longer asked, never does."""
        if self.quote.withdrawn or self.quote.supplier.retired:
            return False
        return expired or (self.stands and not self.outdated)

    @property
    def competes(self) -> bool:
        return self.prices is not None and self.counts()

    @property
    def outdated(self) -> bool:
        """Of another revision than the part has now."""
        current = current_revision(self.quote.operation.part)
        return current is not None and self.quote.revision_id not in (None, current.pk)

    def cost_of(self, needed: int) -> QuotedCost | None:
        """None where it has no prices."""
        if self.prices is None:
            return None
        bought = self.prices.cheapest(needed)
        pieces, setup = cents(bought.cost - self.prices.setup), cents(self.prices.setup)
        return QuotedCost(needed, bought.quantity, self.prices.fewest, pieces, setup, cents(self.tooling_due))


def priced(quote: Quote, rates: dict[str, Decimal], day: date, tooling_paid: bool) -> PricedQuote:
    try:
        prices = price_list(quote, rate_in(rates, quote.supplier.money_in))
    except NoRate as missing:
        return PricedQuote(quote, day, None, Decimal(0), str(missing), missing.currency)
    except ValueError as wrong:  # no weight, or breaks that are none
        return PricedQuote(quote, day, None, Decimal(0), str(wrong))
    return PricedQuote(quote, day, prices, Decimal(0) if tooling_paid else prices.tooling)


@dataclass(frozen=True)
class BatchOffer:
    """One quote at one batch size; best: none of several that compete is cheaper there."""

    priced: PricedQuote
    cost: QuotedCost | None
    best: bool


@dataclass(frozen=True)
class BatchOffers:
    """All quotes for an operation at one batch size; needed: the pieces that it takes."""

    machines: int
    needed: int
    offers: tuple[BatchOffer, ...]


@dataclass(frozen=True)
class QuoteComparison:
    operation: Operation
    quotes: tuple[PricedQuote, ...]
    sizes: tuple[int, ...]

    @property
    def batches(self) -> list[BatchOffers]:
        return [self._at(machines) for machines in self.sizes]

    def _at(self, machines: int) -> BatchOffers:
        needed = self.operation.pieces_for(machines)
        costs = [(quote, quote.cost_of(needed)) for quote in self.quotes]
        totals = [cost.total for quote, cost in costs if cost and quote.competes]
        best = min(totals) if len(totals) > 1 else None
        offers = (
            BatchOffer(quote, cost, bool(cost and quote.competes and cost.total == best)) for quote, cost in costs
        )
        return BatchOffers(machines, needed, tuple(offers))


@dataclass(frozen=True)
class ProcessQuotes:
    """All operations of one process."""

    name: str
    label: str
    comparisons: tuple[QuoteComparison, ...]

    @property
    def quoted(self) -> list[QuoteComparison]:
        return [comparison for comparison in self.comparisons if comparison.quotes]

    @property
    def unquoted(self) -> list[QuoteComparison]:
        return [comparison for comparison in self.comparisons if not comparison.quotes]


def comparisons(design: Design, day: date, everything: bool = False) -> list[ProcessQuotes]:
    """By process, every operation that may be bought, with its quotes; those that do not stand only if asked for."""
    quotes, sizes = priced_quotes(design, day, everything), tuple(sizes_of(design))
    rows = [QuoteComparison(row, tuple(quotes.get(row.pk, ())), sizes) for row in to_be_bought(design)]
    by_process = groupby(rows, key=lambda comparison: Operation.Process(comparison.operation.process))
    return [ProcessQuotes(process.value, process.label, tuple(group)) for process, group in by_process]


def to_be_bought(design: Design) -> list[Operation]:
    """Operations for which prices may be asked, by process as work goes on, then by part."""
    order = {process: place for place, process in enumerate(Operation.Process.values)}
    rows = Operation.objects.filter(design=design).exclude(process__in=Operation.FINISHING)
    rows = rows.select_related("part", "design").prefetch_related("part__revisions")
    return sorted(rows, key=lambda row: (order[row.process], row.part.name if row.part else "", row.position))


def priced_quotes(
    design: Design, day: date, everything: bool, rates: dict[str, Decimal] | None = None
) -> dict[UUID, list[PricedQuote]]:
    """A design's quotes by the id of their operation; those that do not stand only if asked for.

    rates: the workshop's, where they were read already
    """
    rates, paid = rates or rates_of(design.workshop), tooling_paid(design)
    rows = Quote.objects.filter(operation__design=design).with_prices().prefetch_related("operation__part__revisions")
    rows = rows.order_by("supplier__name", "-quoted_on")
    quotes: dict[UUID, list[PricedQuote]] = {}
    for quote in rows if everything else rows.standing(day):
        key = quote.operation_id
        quotes.setdefault(key, []).append(priced(quote, rates, day, (quote.supplier_id, key) in paid))
    return quotes


def tooling_paid(design: Design) -> set[tuple[UUID, UUID]]:
    """Supplier and operation where the tooling went with an order before."""
    lines = OrderLine.objects.filter(operation__design=design, tooling__gt=0, order__cancelled_on=None)
    return set(lines.values_list("order__supplier", "operation"))


def left_out(design: Design, day: date) -> int:
    """How many quotes do not stand on a day."""
    rows = Quote.objects.filter(operation__design=design)
    return rows.count() - rows.standing(day).count()
