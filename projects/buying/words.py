"""A sheet that came in as its page shows it: what was filled in, and each fault in its cell."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from projects.buying.imports.quotes_rows import Checked
from projects.site.imports.cells import CellError
from projects.site.imports.tables import Row
from projects.site.sheets import ANSWERED, KEY, MONEY, PRICE_AT

NAMED = ("part", "revision", "process")
ANSWERS = (PRICE_AT, *MONEY.values(), *ANSWERED.values())


@dataclass(frozen=True)
class Box:
    column: str
    text: str
    faults: list[str]

    @property
    def head(self) -> str:
        return headed(self.column)

    @property
    def counts(self) -> bool:
        """It holds a number."""
        return any(_stands_in(name, self.column) for name in (PRICE_AT, *MONEY.values(), ANSWERED["minimum"]))


@dataclass(frozen=True)
class Shown:
    """One row; `faults` are of the row as a whole, or of a column that is not there."""

    number: int
    boxes: list[Box]
    faults: list[str]


@dataclass(frozen=True)
class Preview:
    columns: list[str]
    rows: list[Shown]
    faults: list[str]
    passed_over: int  # rows that nobody filled in


def preview(checked: Checked) -> Preview:
    table, errors = checked.table, checked.errors
    wrong = {error.row for error in errors}
    rows = [row for row in table.rows if row.number in wrong or _filled(row)]
    used = {name for name in table.columns if name in NAMED or any(row.text(name) for row in rows)}
    at_fault = {name for name in table.columns if any(_stands_in(error.column, name) for error in errors)}
    columns = [name for name in table.columns if name in at_fault or (name in used and _of_use(name))]
    return Preview(
        [headed(name) for name in columns],
        [_shown(row, columns, [error for error in errors if error.row == row.number]) for row in rows],
        [_told(error) for error in errors if error.row == table.heading],
        len(table.rows) - len(rows),
    )


def headed(column: str) -> str:
    """A column as the sheet headed it; a reader knows it in small letters."""
    money = any(_stands_in(name, column) for name in (PRICE_AT, *MONEY.values()))
    return re.sub(r" [a-z]{3}$", lambda found: found[0].upper(), column) if money else column


def _of_use(name: str) -> bool:
    """What the workshop itself wrote on the sheet is not shown again, but for what names the line."""
    return name != KEY and (name in NAMED or any(_stands_in(answer, name) for answer in ANSWERS))


def _filled(row: Row) -> bool:
    return any(row.text(name) for name in row.cells if any(_stands_in(answer, name) for answer in ANSWERS))


def _stands_in(told: str, column: str) -> bool:
    """A fault, or an answer, is of `price at 5`; the column may be headed `price at 5 gbp`."""
    return bool(told) and (column == told or column.startswith(f"{told} "))


def _shown(row: Row, columns: Iterable[str], errors: list[CellError]) -> Shown:
    boxes = []
    left = list(errors)
    for name in columns:
        here = [error for error in left if _stands_in(error.column, name)]
        left = [error for error in left if error not in here]
        boxes.append(Box(name, row.text(name), [error.says for error in here]))
    return Shown(row.number, boxes, [_told(error) for error in left])


def _told(error: CellError) -> str:
    return f"{error.column}: {error.says}" if error.column else error.says
