"""Quotes side by side as a table: a row for each quote at each batch size."""

from collections.abc import Iterable
from typing import Any, Literal

from projects.buying.domain.comparison import Cell, Comparison, ProcessQuotes, Row
from projects.money.rounding import cents
from projects.site.exports import csv_bytes, xlsx_bytes
from projects.site.sheets import Value

WHAT = ("process", "part", "work", "supplier", "quoted on", "stands", "machines", "pieces needed", "pieces ordered")
SUMS = ("pieces", "set-up", "tooling", "all", "each needed")  # these name the currency in their heading
HOW = ("best", "note")


def quotes_table(processes: Iterable[ProcessQuotes], currency: str, form: Literal["csv", "xlsx"]) -> bytes:
    """In the workshop's currency, without tax."""
    columns = [*WHAT, *(f"{name} {currency}" for name in SUMS), *HOW]
    rows = [
        _row(process.label, one, row, cell)
        for process in processes
        for one in process.quoted
        for row in one.rows
        for cell in row.cells
    ]
    return csv_bytes(columns, rows) if form == "csv" else xlsx_bytes(columns, rows, title="quotes")


def _row(process: str, one: Comparison, row: Row, cell: Cell) -> list[Value]:
    quote, offer, part = cell.column.quote, cell.offered, one.operation.part
    return [
        process,
        part.name if part else "",
        one.operation.name,
        quote.supplier.name,
        quote.quoted_on,
        "yes" if cell.column.stands else "no",
        row.machines,
        row.needed,
        offer.ordered if offer else None,
        *_sums(offer),
        "best" if cell.best else "",
        cell.column.trouble,
    ]


def _sums(offer: Any) -> list[Value]:
    if offer is None:
        return [None] * len(SUMS)
    return [offer.pieces, offer.setup, offer.tooling, offer.total, cents(offer.each)]
