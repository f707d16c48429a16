"""Rows that are asked for as lines of a quote sheet: a request's own, or all of a design with nothing filled in."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any, Literal

from projects.buying.domain.comparison import sizes_of, to_be_bought
from projects.record.domain.proved import current_revision
from projects.record.models import Operation, Part, QuoteRequest, Revision
from projects.site.sheets import QuoteLine

from .quote_sheet import write_request

Form = Literal["csv", "xlsx"]


def request_sheet(asked: QuoteRequest, form: Form) -> bytes:
    """Each line is known again by its own key; every quantity is asked of every line, so that the columns are few."""
    lines = asked.lines_in_full
    quantities = sorted({pieces for line in lines for pieces in line.pieces.values()})
    rows = [_line(str(line.pk), line.operation, line.revision, quantities) for line in lines]
    return write_request(rows, asked.supplier.money_in, form)


def empty_sheet(design: Any, currency: str, form: Form) -> bytes:
    """All that may be bought for a design, at the pieces that its batch sizes take."""
    operations = to_be_bought(design)
    quantities = sorted({size * _per_machine(one.part) for one in operations for size in sizes_of(design)})
    return write_request([_of_design(one, quantities) for one in operations], currency, form)


def _of_design(operation: Operation, quantities: Iterable[int]) -> QuoteLine:
    revision = current_revision(operation.part) if operation.part else None
    return _line(str(operation.pk), operation, revision, quantities)


def _per_machine(part: Part | None) -> int:
    return part.quantity if part else 1


def _line(key: str, operation: Operation, revision: Revision | None, quantities: Iterable[int]) -> QuoteLine:
    part = operation.part
    return QuoteLine(
        key,
        part=part.name if part else "",
        number=part.number if part else "",
        revision=revision.label if revision else "",
        process=operation.label,
        material=part.get_material_display() if part else "",
        mass=_kilograms(part),
        prices=tuple((quantity, None) for quantity in quantities),
        drawing=revision.drawing_name if revision and revision.drawing else "",
    )


def _kilograms(part: Part | None) -> Decimal | None:
    return Decimal(str(part.mass.to("kg").magnitude)) if part and part.mass is not None else None
