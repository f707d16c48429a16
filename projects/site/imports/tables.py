"""A table that comes in, CSV or XLSX by what is in it: checked whole, each fault with its row and column.

CSV: UTF-8, UTF-16 with its mark, or else Windows-1252; commas, semicolons or tabs. XLSX: the first sheet in view.
"""

import csv
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from io import StringIO
from typing import TypeVar

from projects.site.sheets import as_meant

from .cells import CellError, CellValue, date_of, number_of, shown
from .workbooks import is_workbook, read_workbook

MOST_BYTES = 5_000_000
MOST_ROWS = 5_000
MOST_COLUMNS = 200
MOST_ERRORS = 20  # that are shown
Value = TypeVar("Value")

FORMULA = "it begins with =, as a formula does; enter the value itself."


class NotATable(Exception):
    """The file is no table that can be read whole; `errors` says why, in the user's words."""

    def __init__(self, *errors: CellError | str) -> None:
        super().__init__(" ".join(map(str, errors)))
        self.errors = errors


@dataclass(frozen=True)
class TableRow:
    """number: as the spreadsheet counts it · cells: by heading, each heading in small letters."""

    number: int
    cells: dict[str, CellValue]
    decimal_mark: str | None = None

    def text(self, column: str) -> str:
        return shown(self.cells.get(column, "")).strip()

    def number_in(self, column: str) -> Decimal | None:
        """None: the cell is empty. Raises CellError for what is no number."""
        return self._meant(column, lambda cell: number_of(cell, self.decimal_mark))

    def whole_in(self, column: str) -> int | None:
        return self._meant(column, lambda cell: _whole(number_of(cell, self.decimal_mark)))

    def date_in(self, column: str) -> date | None:
        return self._meant(column, date_of)

    def _meant(self, column: str, read: Callable[[CellValue], Value]) -> Value | None:
        cell = self.cells.get(column, "")
        if _empty(cell):
            return None
        try:
            return read(cell)
        except ValueError as error:
            raise CellError(self.number, column, str(error)) from error


def _whole(number: Decimal) -> int:
    if number != int(number):
        raise ValueError(f"{number} is not a whole number.")
    return int(number)


@dataclass(frozen=True)
class Table:
    """heading: the row in which it stands."""

    heading: int
    columns: tuple[str, ...]
    rows: tuple[TableRow, ...]


def read_table(data: bytes) -> Table:
    """The first row that is not empty is the heading; empty rows are passed over. Raises NotATable."""
    if len(data) > MOST_BYTES:
        raise NotATable(f"The file is larger than {MOST_BYTES // 1_000_000} MB.")
    if is_workbook(data):
        try:
            return _table(read_workbook(data, MOST_ROWS, MOST_COLUMNS), None)
        except ValueError as error:
            raise NotATable(str(error)) from error
    text = _decoded(data)
    separator = _separator(text)
    return _table(_csv_rows(text, separator), {",": ".", ";": ","}.get(separator))


def _decoded(data: bytes) -> str:
    encodings = ("utf-16",) if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if not any(sign < " " and sign not in "\t\r\n" for sign in text):
            return text
    raise NotATable("This is neither a CSV nor an XLSX file.")


def _separator(text: str) -> str:
    """The sign that cuts the first rows into the same number of cells, of those the one that makes most cells."""

    def fit(separator: str) -> tuple[bool, int]:
        try:
            counts = [len(cells) for cells, _ in zip(_cut(text, separator), range(20), strict=False) if cells]
        except csv.Error:
            return False, 0
        return len(set(counts)) == 1 and counts[0] > 1, max(counts, default=0)

    return max(",;\t", key=fit)


def _cut(text: str, separator: str) -> Iterator[list[str]]:
    return csv.reader(StringIO(text, newline=""), delimiter=separator, strict=True)


def _csv_rows(text: str, separator: str) -> Iterator[tuple[int, list[CellValue | CellError]]]:
    """Each row with its number; a spreadsheet counts rows, however many lines the text in one cell has."""
    number = 0
    try:
        for number, cells in enumerate(_cut(text, separator), start=1):
            yield number, list(cells)
    except csv.Error as error:
        raise NotATable(f"The CSV cannot be read after row {number}: {error}.") from error


def _table(rows: Iterable[tuple[int, list[CellValue | CellError]]], decimal_mark: str | None) -> Table:
    filled = ((number, cells) for number, cells in rows if not all(map(_empty, cells)))
    number, heading = next(filled, (1, []))
    if not heading:
        raise NotATable("The table is empty.")
    columns = _columns(number, _without_the_end(heading))
    body: list[TableRow] = []
    errors: list[CellError] = []
    for row, cells in filled:
        if len(body) == MOST_ROWS:
            raise NotATable(f"The table has more than {MOST_ROWS} rows.")
        errors += _faults(row, _without_the_end(cells), columns)
        body.append(_row(row, cells, columns, decimal_mark))
    if errors:
        raise NotATable(*errors[:MOST_ERRORS])
    return Table(number, columns, tuple(body))


def _without_the_end(cells: list[CellValue | CellError]) -> list[CellValue | CellError]:
    """Up to the last cell that is not empty."""
    return cells[: 1 + max(at for at, cell in enumerate(cells) if not _empty(cell))]


def _empty(cell: CellValue | CellError) -> bool:
    return isinstance(cell, str) and not cell.strip()


def _columns(number: int, heading: list[CellValue | CellError]) -> tuple[str, ...]:
    if len(heading) > MOST_COLUMNS:
        raise NotATable(f"The table has {len(heading)} columns; at most {MOST_COLUMNS} can be read.")
    columns: list[str] = []
    for at, cell in enumerate(heading, start=1):
        if isinstance(cell, CellError) or shown(cell).startswith("="):
            raise NotATable(f"row {number}, column {at}: {FORMULA}")
        name = " ".join(as_meant(shown(cell)).split()).casefold()
        if not name:
            raise NotATable(f"row {number}, column {at}: this column has no heading.")
        if name in columns:
            raise NotATable(f"row {number}: there are two columns {name}.")
        columns.append(name)
    return tuple(columns)


def _faults(number: int, cells: list[CellValue | CellError], columns: tuple[str, ...]) -> Iterator[CellError]:
    if len(cells) > len(columns):
        says = f"the row has {len(cells)} cells, the heading {len(columns)}; is the decimal mark also the separator?"
        yield CellError(number, "", says)
    for name, cell in zip(columns, cells, strict=False):
        if isinstance(cell, str) and cell.startswith("="):
            yield CellError(number, name, FORMULA)
        elif isinstance(cell, CellError):
            yield CellError(number, name, cell.says)


def _row(
    number: int, cells: list[CellValue | CellError], columns: tuple[str, ...], decimal_mark: str | None
) -> TableRow:
    """With the cells that can be read, and an empty one in each column that it does not reach."""
    padded = [*cells, *[""] * (len(columns) - len(cells))]
    named = {name: cell for name, cell in zip(columns, padded, strict=False) if not isinstance(cell, CellError)}
    meant = {name: as_meant(cell) if isinstance(cell, str) else cell for name, cell in named.items()}
    return TableRow(number, meant, decimal_mark)
