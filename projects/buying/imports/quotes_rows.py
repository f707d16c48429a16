"""A filled quote sheet as quotes: each line's operation is known, and what may not be kept is a fault of its cell."""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from uuid import UUID, uuid5

from django.core.exceptions import ValidationError

from projects.record.domain.proved import current_revision
from projects.record.models import Operation, Part, Quote, QuoteBreak, QuoteRequest, Revision, Supplier
from projects.record.models.quotes import MOST_PIECES
from projects.site.imports.cells import CellError
from projects.site.imports.tables import NotATable, Table, read_table
from projects.site.sheets import ANSWERED, KEY, MONEY, PRICE_AT, QuoteLine

from .quote_sheet import read_request

COLUMNS = {**MONEY, **ANSWERED, "minimum_quantity": ANSWERED["minimum"], "breaks": PRICE_AT}
RELATED = ["workshop", "supplier", "operation", "revision", "request"]  # known already, and never typed
MOST_LINES = 500
NOT_SO_MANY = f"nobody makes more than {MOST_PIECES}."
Priced = tuple[Quote, list[tuple[int, Decimal]]]
Subject = tuple[Operation, Revision | None]  # what a line is about


@dataclass(frozen=True)
class SheetHead:
    """What all lines of a sheet share, as the form says it."""

    supplier: Supplier
    quoted_on: date
    number: str = ""
    request: QuoteRequest | None = None


@dataclass(frozen=True)
class CheckedSheet:
    """A sheet with what is wrong in it; with any error nothing of it is taken in."""

    table: Table
    quotes: tuple[Priced, ...]
    errors: tuple[CellError, ...]

    @property
    def whole(self) -> bool:
        return bool(self.quotes) and not self.errors


def checked(data: bytes, head: SheetHead, find: Callable[[QuoteLine], Subject], keyed: bool) -> CheckedSheet:
    """`find` raises CellError where a line is of nothing known. Raises NotATable where the file cannot be read."""
    table = read_table(data)
    if len(table.rows) > MOST_LINES:
        raise NotATable(f"The sheet has {len(table.rows)} rows; at most {MOST_LINES} are looked at.")
    filled = read_request(table, keyed)
    supplier, errors = head.supplier, list(filled.errors)
    if filled.currency not in ("", supplier.money_in):
        says = f"prices are in {filled.currency}, and {supplier} asks in {supplier.money_in}."
        errors.insert(0, CellError(table.heading, "", says))
    sheet = hashlib.sha256(data).hexdigest()
    seen: dict[UUID, int] = {}
    quotes = []
    for line in filled.lines:
        try:
            quotes.append(_priced(line, find(line), head, sheet, seen))
        except CellError as error:
            errors.append(error)
        except ValidationError as error:
            errors += [
                CellError(line.row, COLUMNS.get(name, ""), " ".join(messages))
                for name, messages in error.message_dict.items()
            ]
    return CheckedSheet(table, tuple(quotes), tuple(errors))


def _priced(line: QuoteLine, subject: Subject, head: SheetHead, sheet: str, seen: dict[UUID, int]) -> Priced:
    operation, revision = subject
    if seen.setdefault(operation.pk, line.row) != line.row:
        raise CellError(line.row, KEY, f"row {seen[operation.pk]} is about {operation} already.")
    quote = _quote(line, operation, revision, head)
    quote.pk = uuid5(head.supplier.pk, f"{sheet} {operation.pk}")  # the same sheet again makes the same quotes
    quote.full_clean(exclude=RELATED, validate_unique=False)
    if quote.minimum_quantity > MOST_PIECES:
        raise CellError(line.row, ANSWERED["minimum"], NOT_SO_MANY)
    prices = sorted((quantity, price) for quantity, price in line.prices if price is not None)
    for begins, price in prices:
        _check_price(quote, line.row, begins, price)
    return quote, prices


def _quote(line: QuoteLine, operation: Operation, revision: Revision | None, head: SheetHead) -> Quote:
    return Quote(
        workshop_id=operation.workshop_id,
        supplier=head.supplier,
        operation=operation,
        revision=revision,
        request=head.request,
        number=head.number,
        quoted_on=head.quoted_on,
        valid_until=line.valid_until,
        minimum_quantity=line.minimum or 1,
        setup=line.setup or Decimal(0),
        tooling=line.tooling or Decimal(0),
        lead_days=line.lead_days,
        remark=line.remark,
    )


def _check_price(quote: Quote, row: int, begins: int, price: Decimal) -> None:
    """As one that is typed."""
    where = f"{PRICE_AT} {begins}"
    if begins > MOST_PIECES:
        raise CellError(row, where, NOT_SO_MANY)
    try:
        QuoteBreak(from_quantity=begins, price=price).clean_fields(exclude=["quote", "workshop"])
    except ValidationError as error:
        raise CellError(row, where, " ".join(error.messages)) from error


# How a line is known


def by_request(asked: QuoteRequest) -> Callable[[QuoteLine], Subject]:
    """By the key that the request's sheet gave it."""
    lines = {str(line.pk): line for line in asked.lines_in_full}

    def find(line: QuoteLine) -> Subject:
        if line.key not in lines:
            raise CellError(line.row, KEY, "this line was not asked in this request.")
        return lines[line.key].operation, lines[line.key].revision

    return find


def by_design(operations: list[Operation]) -> Callable[[QuoteLine], Subject]:
    """By the key of the empty sheet, or else by the names of part and process."""
    keys = {str(row.pk): row for row in operations}

    def find(line: QuoteLine) -> Subject:
        if line.key and line.key not in keys:
            raise CellError(line.row, KEY, "this is no line of this design; empty the cell to go by the names.")
        operation = keys[line.key] if line.key else _by_names(line, operations)
        return operation, _revision(line, operation)

    return find


def _by_names(line: QuoteLine, operations: list[Operation]) -> Operation:
    of_part = [row for row in operations if _is_of(line.part, row.part)]
    if not of_part:
        raise CellError(line.row, "part", f"there is no part “{line.part}” with anything to be bought.")
    meant = [row for row in of_part if _same(line.process, row.name, row.process, row.get_process_display())]
    if len(meant) == 1:
        return meant[0]
    known = ", ".join(row.label for row in meant or of_part)
    says = f"“{line.process}” may be any of: {known}." if meant else f"there is no “{line.process}”, but: {known}."
    raise CellError(line.row, "process", says)


def _is_of(typed: str, part: Part | None) -> bool:
    return _same(typed, part.name, part.number) if part else typed.casefold() in ("", "machine")


def _same(typed: str, *names: str) -> bool:
    return bool(typed) and typed.casefold() in {name.casefold() for name in names}


def _revision(line: QuoteLine, operation: Operation) -> Revision | None:
    if not operation.part:
        return None
    from_label = {revision.label.casefold(): revision for revision in operation.part.revisions.all()}
    if line.revision and line.revision.casefold() not in from_label:
        raise CellError(line.row, "revision", f"{operation.part} has no revision {line.revision}.")
    return from_label.get(line.revision.casefold()) if line.revision else current_revision(operation.part)
