"""Quotes for the same operation side by side: what each comes to at every batch size, and which is best there."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property
from itertools import groupby
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError

from projects.money.breaks import PriceList
from projects.money.rounding import cents
from projects.record.domain.proved import current_revision
from projects.record.models.cost_terms import CostTerms
from projects.record.models.orders import OrderLine
from projects.record.models.quotes import Quote, sizes_in
from projects.record.models.routes import Operation

from .offers import NoRate, price_list, rate_in, rates_of

USUAL_SIZES = [1, 5, 10, 20]


def sizes_of(design: Any) -> list[int]:
    """The batch sizes that a design's costs are asked at."""
    terms = CostTerms.objects.filter(design=design).first()
    try:
        return sizes_in(terms.sizes) if terms else USUAL_SIZES
    except ValidationError:
        return USUAL_SIZES


@dataclass(frozen=True)
class Offered:
    """What a quote comes to for so many pieces, tooling still to be paid and set-up in; delivery and tax left out."""

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
        """For one of those that are needed; what is left over is theirs to bear."""
        return self.total / self.needed

    @property
    def more_is_cheaper(self) -> bool:
        """Order ten, not nine."""
        return self.ordered > max(self.needed, self.fewest)

    @property
    def too_few(self) -> bool:
        return self.needed < self.fewest


@dataclass(frozen=True)
class Column:
    """One quote: its prices in the workshop's currency, or why it has none."""

    quote: Quote
    day: date
    prices: PriceList | None
    tooling_due: Decimal
    trouble: str = ""
    no_rate: str = ""  # the currency

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
        part = self.quote.operation.part
        now = current_revision(part) if part else None
        return self.quote.revision_id is not None and now is not None and now.pk != self.quote.revision_id

    def offered(self, needed: int) -> Offered | None:
        if self.prices is None:
            return None
        bought = self.prices.cheapest(needed)
        pieces, setup = cents(bought.cost - self.prices.setup), cents(self.prices.setup)
        return Offered(needed, bought.quantity, self.prices.fewest, pieces, setup, cents(self.tooling_due))


def column(quote: Quote, rates: dict[str, Decimal], day: date, tooling_paid: bool) -> Column:
    try:
        prices = price_list(quote, rate_in(rates, quote.supplier.money_in))
    except NoRate as missing:
        return Column(quote, day, None, Decimal(0), str(missing), missing.currency)
    except ValueError as wrong:  # no weight, or breaks that are none
        return Column(quote, day, None, Decimal(0), str(wrong))
    return Column(quote, day, prices, Decimal(0) if tooling_paid else prices.tooling)


@dataclass(frozen=True)
class Cell:
    column: Column
    offered: Offered | None
    best: bool


@dataclass(frozen=True)
class Row:
    machines: int
    needed: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Comparison:
    operation: Operation
    columns: tuple[Column, ...]
    sizes: tuple[int, ...]

    @cached_property
    def rows(self) -> list[Row]:
        return [self._row(machines) for machines in self.sizes]

    def _row(self, machines: int) -> Row:
        needed = machines * (self.operation.part.quantity if self.operation.part else 1)
        offers = [column.offered(needed) for column in self.columns]
        totals = [offer.total for column, offer in zip(self.columns, offers, strict=True) if offer and column.competes]
        best = min(totals) if len(totals) > 1 else None
        cells = (
            Cell(column, offer, best is not None and column.competes and offer.total == best)
            for column, offer in zip(self.columns, offers, strict=True)
        )
        return Row(machines, needed, tuple(cells))


@dataclass(frozen=True)
class ProcessQuotes:
    """All operations of one process."""

    name: str
    label: str
    comparisons: tuple[Comparison, ...]

    @property
    def quoted(self) -> list[Comparison]:
        return [one for one in self.comparisons if one.columns]

    @property
    def unquoted(self) -> list[Comparison]:
        return [one for one in self.comparisons if not one.columns]


def comparisons(design: Any, day: date, everything: bool = False) -> list[ProcessQuotes]:
    """By process, every operation that may be bought, with its quotes; those that do not stand only if asked for."""
    columns, sizes = columns_by_operation(design, day, everything), tuple(sizes_of(design))
    told = [Comparison(row, tuple(columns.get(row.pk, ())), sizes) for row in to_be_bought(design)]
    by_process = groupby(told, key=lambda one: Operation.Process(one.operation.process))
    return [ProcessQuotes(process.value, process.label, tuple(group)) for process, group in by_process]


def to_be_bought(design: Any) -> list[Operation]:
    """Operations for which prices may be asked, by process as work goes on, then by part."""
    order = {process: place for place, process in enumerate(Operation.Process)}
    rows = Operation.objects.filter(design=design).exclude(process__in=Operation.FINISHING)
    rows = rows.select_related("part", "design").prefetch_related("part__revisions")
    return sorted(rows, key=lambda row: (order[row.process], row.part.name if row.part else "", row.position))


def columns_by_operation(design: Any, day: date, everything: bool) -> dict[UUID, list[Column]]:
    """Quotes with their prices in our own money, if they have any; those that do not stand only if asked for."""
    rates, paid = rates_of(design.workshop), tooling_paid(design)
    rows = Quote.objects.filter(operation__design=design).with_prices().prefetch_related("operation__part__revisions")
    rows = rows.order_by("supplier__name", "-quoted_on")
    told: dict[UUID, list[Column]] = {}
    for quote in rows if everything else rows.standing(day):
        key = quote.operation_id
        told.setdefault(key, []).append(column(quote, rates, day, (quote.supplier_id, key) in paid))
    return told


def tooling_paid(design: Any) -> set[tuple[UUID, UUID]]:
    """Supplier and operation where the tooling went with an order before."""
    lines = OrderLine.objects.filter(operation__design=design, tooling__gt=0, order__cancelled_on=None)
    return set(lines.values_list("order__supplier", "operation"))


def left_out(design: Any, day: date) -> int:
    """How many quotes do not stand on a day."""
    rows = Quote.objects.filter(operation__design=design)
    return rows.count() - rows.standing(day).count()
