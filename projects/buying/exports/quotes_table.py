"""Quotes side by side as a table: a row for each quote at each batch size."""

from collections.abc import Iterable

from projects.buying.domain.comparison import BatchOffer, BatchOffers, ProcessQuotes, QuoteComparison
from projects.money.rounding import cents
from projects.site.exports import TableFormat, table_bytes
from projects.site.sheets import Value

WHAT = ("process", "part", "work", "supplier", "quoted on", "stands", "machines", "pieces needed", "pieces ordered")
SUMS = ("pieces", "set-up", "tooling", "all", "each needed")  # these name the currency in their heading
HOW = ("best", "note")


def quotes_table(processes: Iterable[ProcessQuotes], currency: str, form: TableFormat) -> bytes:
    """In the workshop's currency, without tax."""
    columns = [*WHAT, *(f"{name} {currency}" for name in SUMS), *HOW]
    rows = [
        _row(process.label, comparison, batch, offer)
        for process in processes
        for comparison in process.quoted
        for batch in comparison.batches
        for offer in batch.offers
    ]
    return table_bytes(columns, rows, form, title="quotes")


def _row(process: str, comparison: QuoteComparison, batch: BatchOffers, offer: BatchOffer) -> list[Value]:
    operation, quote, cost = comparison.operation, offer.priced.quote, offer.cost
    sums: list[Value] = [None] * len(SUMS)
    if cost:
        sums = [cost.pieces, cost.setup, cost.tooling, cost.total, cents(cost.each)]
    return [
        process,
        operation.part.name if operation.part else "",
        operation.name,
        quote.supplier.name,
        quote.quoted_on,
        "yes" if offer.priced.stands else "no",
        batch.machines,
        batch.needed,
        cost.ordered if cost else None,
        *sums,
        "best" if offer.best else "",
        offer.priced.trouble,
    ]
