"""Rows that are asked for as lines of a quote sheet: a request's own, or all of a design with nothing filled in."""

from collections.abc import Iterable
from uuid import UUID

from projects.buying.domain.comparison import sizes_of, to_be_bought
from projects.record.domain.proved import current_revision
from projects.record.models import Design, Operation, QuoteRequest, Revision
from projects.site.exports import TableFormat
from projects.site.sheets import QuoteLine

from .quote_sheet import write_request


def request_sheet(asked: QuoteRequest, form: TableFormat) -> bytes:
    """Each line is known again by its own key; every quantity is asked of every line, so that the columns are few."""
    lines = asked.lines_in_full
    quantities = sorted({pieces for line in lines for pieces in line.pieces.values()})
    rows = [_line(line.pk, line.operation, line.revision, quantities) for line in lines]
    return write_request(rows, asked.supplier.money_in, form)


def empty_sheet(design: Design, currency: str, form: TableFormat) -> bytes:
    """All that may be bought for a design, at the pieces that its batch sizes take."""
    operations, sizes = to_be_bought(design), sizes_of(design)
    quantities = sorted({operation.pieces_for(size) for operation in operations for size in sizes})
    rows = [_line(operation.pk, operation, current_revision(operation.part), quantities) for operation in operations]
    return write_request(rows, currency, form)


def _line(key: UUID, operation: Operation, revision: Revision | None, quantities: Iterable[int]) -> QuoteLine:
    part = operation.part
    return QuoteLine(
        str(key),
        part=part.name if part else "",
        number=part.number if part else "",
        revision=revision.label if revision else "",
        process=operation.label,
        material=part.get_material_display() if part else "",
        mass=part.kilograms if part else None,
        prices=tuple((quantity, None) for quantity in quantities),
        drawing=revision.drawing_name if revision and revision.drawing else "",
    )
