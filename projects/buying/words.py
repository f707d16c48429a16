"""A sheet that came in as its page shows it: what was filled in, and each fault in its cell."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from projects.buying.imports.quotes_rows import CheckedSheet
from projects.site.imports.cells import CellError
from projects.site.imports.tables import TableRow
from projects.site.sheets import ANSWERED, MONEY, PRICE_AT

NAMED = ("part", "revision", "process")
ANSWERS = (PRICE_AT, *MONEY.values(), *ANSWERED.values())


@dataclass(frozen=True)
class PreviewCell:
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
class PreviewRow:
    """One row; `faults` are of the row as a whole, or of a column that is not there."""

    number: int
    cells: list[PreviewCell]
    faults: list[str]


@dataclass(frozen=True)
class Preview:
    columns: list[str]
    rows: list[PreviewRow]
    faults: list[str]
    passed_over: int  # rows that nobody filled in


def preview(checked: CheckedSheet) -> Preview:
    table, errors = checked.table, checked.errors
    wrong = {error.row for error in errors}
    rows = [row for row in table.rows if row.number in wrong or _filled(row)]
    # what the workshop itself wrote on the sheet is not shown again, but for what names the line
    used = {name for name in table.columns if name in NAMED or (_answers(name) and any(row.text(name) for row in rows))}
    at_fault = {name for name in table.columns if any(_stands_in(error.column, name) for error in errors)}
    columns = [name for name in table.columns if name in at_fault or name in used]
    return Preview(
        [headed(name) for name in columns],
        [_shown(row, columns, [error for error in errors if error.row == row.number]) for row in rows],
        [_in_words(error) for error in errors if error.row == table.heading],
        len(table.rows) - len(rows),
    )


def headed(column: str) -> str:
    """A column as the sheet headed it; a reader knows it in small letters."""
    money = any(_stands_in(name, column) for name in (PRICE_AT, *MONEY.values()))
    return re.sub(r" [a-z]{3}$", lambda code: code[0].upper(), column) if money else column


def _answers(column: str) -> bool:
    return any(_stands_in(answer, column) for answer in ANSWERS)


def _filled(row: TableRow) -> bool:
    return any(row.text(name) for name in row.cells if _answers(name))


def _stands_in(name: str, column: str) -> bool:
    """A fault, or an answer, is of `price at 5`; the column may be headed `price at 5 gbp`."""
    return bool(name) and (column == name or column.startswith(f"{name} "))


def _shown(row: TableRow, columns: Iterable[str], errors: list[CellError]) -> PreviewRow:
    cells = []
    left = list(errors)
    for name in columns:
        here = [error for error in left if _stands_in(error.column, name)]
        left = [error for error in left if error not in here]
        cells.append(PreviewCell(name, row.text(name), [error.says for error in here]))
    return PreviewRow(row.number, cells, [_in_words(error) for error in left])


def _in_words(error: CellError) -> str:
    return f"{error.column}: {error.says}" if error.column else error.says
