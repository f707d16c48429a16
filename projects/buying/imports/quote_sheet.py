"""A filled quote sheet read back: each answered line by its key, and every fault with its cell."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeVar

from projects.record.models.quotes import MOST_DAYS
from projects.site.imports.cells import CellError
from projects.site.imports.tables import Table, TableRow
from projects.site.sheets import ANSWERED, ASKED, KEY, MONEY, PRICE_AT, QuoteLine

PRICE = re.compile(rf"{PRICE_AT} (\d{{1,7}})(?: ([a-z]{{3}}))?", re.ASCII)
MOST = 100_000_000
Value = TypeVar("Value")
Number = TypeVar("Number", int, Decimal)


@dataclass(frozen=True)
class FilledRequest:
    """lines: those answered · errors: with any of them nothing should be taken in · currency: as headed, or ""."""

    lines: tuple[QuoteLine, ...]
    errors: tuple[CellError, ...]
    currency: str


def read_request(table: Table, keyed: bool = True) -> FilledRequest:
    """Faults of single cells are in `errors`. keyed: without its key nobody knows what a line is about."""
    sheet = _Sheet(table, keyed)
    errors = list(sheet.faults())
    lines = [line for row in table.rows if (line := sheet.line(row, errors)) is not None]
    return FilledRequest(tuple(lines), tuple(errors), sheet.currency)


class _Sheet:
    """Which column holds what. A supplier may add prices at other quantities, and leave out what was told him."""

    def __init__(self, table: Table, keyed: bool) -> None:
        self.table, self.keyed = table, keyed
        self.prices = {name: int(match[1]) for name in table.columns if (match := PRICE.fullmatch(name))}
        self.money = {field: self._headed(name) for field, name in MONEY.items()}
        headings = {*self.prices, *self.money.values()} & set(table.columns) - set(MONEY.values())
        self.currencies = sorted({name[-3:].upper() for name in headings if not name[-1].isdigit()})
        self.currency = self.currencies[0] if self.currencies else ""

    def _headed(self, name: str) -> str:
        """The column of this name, behind which a currency may stand."""
        return next((column for column in self.table.columns if re.fullmatch(rf"{name}(?: [a-z]{{3}})?", column)), name)

    def faults(self) -> Iterator[CellError]:
        """Of the heading, and of keys."""
        if self.keyed and KEY not in self.table.columns:
            yield CellError(self.table.heading, KEY, "the column is missing; without it nobody knows what was asked.")
        if not self.prices:
            yield CellError(self.table.heading, f"{PRICE_AT} 1", "there is no column with prices.")
        if len(self.currencies) > 1:
            yield CellError(
                self.table.heading, "", f"prices are in {' and in '.join(self.currencies)}; one sheet has one currency."
            )
        quantities = list(self.prices.values())
        if 0 in quantities or len(set(quantities)) < len(quantities):
            yield CellError(self.table.heading, PRICE_AT, "a quantity is nothing, or stands there twice.")
        yield from self._keys()

    def _keys(self) -> Iterator[CellError]:
        seen: dict[str, int] = {}
        for row in self.table.rows if KEY in self.table.columns else ():
            key = row.text(KEY)
            if not key and self.keyed:
                yield CellError(row.number, KEY, "it is missing; without it nobody knows what was asked.")
            elif key and seen.setdefault(key, row.number) != row.number:
                yield CellError(row.number, KEY, f"it stands in row {seen[key]} already.")

    def line(self, row: TableRow, errors: list[CellError]) -> QuoteLine | None:
        """None: nothing was answered, or not readably; what is wrong goes to `errors`."""
        before = len(errors)
        line = self._read(row, errors)
        if len(errors) == before and line.answered and all(price is None for _, price in line.prices):
            errors.append(CellError(row.number, PRICE_AT, "there is no price."))
        return line if line.answered and len(errors) == before else None

    def _read(self, row: TableRow, errors: list[CellError]) -> QuoteLine:
        def value(read: Callable[[str], Value], column: str) -> Value | None:
            try:
                return read(column)
            except CellError as error:
                errors.append(error)
                return None

        def number(
            read: Callable[[str], Number | None], column: str, least: int = 0, most: int = MOST
        ) -> Number | None:
            amount = value(read, column)
            if amount is not None and not least <= amount <= most:
                errors.append(CellError(row.number, column, f"{amount} does not lie between {least} and {most}."))
                return None
            return amount

        return QuoteLine(
            row.text(KEY),
            part=row.text(ASKED["part"]),
            number=row.text(ASKED["number"]),
            revision=row.text(ASKED["revision"]),
            process=row.text(ASKED["process"]),
            material=row.text(ASKED["material"]),
            drawing=row.text(ASKED["drawing"]),
            mass=number(row.number_in, ASKED["mass"]),
            prices=tuple((quantity, number(row.number_in, name)) for name, quantity in self.prices.items()),
            setup=number(row.number_in, self.money["setup"]),
            tooling=number(row.number_in, self.money["tooling"]),
            minimum=number(row.whole_in, ANSWERED["minimum"], least=1),
            lead_days=number(row.whole_in, ANSWERED["lead_days"], most=MOST_DAYS),
            valid_until=value(row.date_in, ANSWERED["valid_until"]),
            remark=row.text(ANSWERED["remark"]),
            row=row.number,
        )
