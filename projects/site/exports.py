"""Tables as CSV and as XLSX. Text that a spreadsheet would run is made harmless; numbers and dates stay as they are."""

import csv
import re
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from io import BytesIO, StringIO
from typing import Literal

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from projects.site.sheets import Value, harmless

WIDEST = 40  # characters
TableFormat = Literal["csv", "xlsx"]


def table_bytes(
    columns: Sequence[str],
    rows: Iterable[Sequence[Value]],
    form: TableFormat,
    *,
    title: str,
    hidden: Sequence[str] = (),
) -> bytes:
    """The title, and columns out of sight, are an XLSX file's alone."""
    return csv_bytes(columns, rows) if form == "csv" else xlsx_bytes(columns, rows, title=title, hidden=hidden)


def csv_bytes(columns: Sequence[str], rows: Iterable[Sequence[Value]]) -> bytes:
    """With commas and decimal points, and a byte-order mark, by which spreadsheets know UTF-8."""
    out = StringIO()
    writer = csv.writer(out)
    for row in (columns, *rows):
        writer.writerow([_text(value) for value in row])
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def xlsx_bytes(
    columns: Sequence[str], rows: Iterable[Sequence[Value]], *, title: str = "table", hidden: Sequence[str] = ()
) -> bytes:
    """One sheet, its heading bold and always in view. hidden: columns that are there and not shown."""
    book = Workbook()
    sheet = book.active
    sheet.title = title
    for number, row in enumerate((columns, *rows), start=1):
        for column, value in enumerate(row, start=1):
            _fill(sheet.cell(number, column), value)
    _dress(sheet, columns, hidden)
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def _text(value: Value) -> str:
    if isinstance(value, str):
        return harmless(_plain(value))
    if isinstance(value, date):
        return value.isoformat()
    return f"{value:f}" if isinstance(value, Decimal) else "" if value is None else str(value)


def _plain(text: str) -> str:
    """Line ends as one sign, and no sign that a spreadsheet's file may not hold."""
    return ILLEGAL_CHARACTERS_RE.sub("", re.sub(r"\r\n?", "\n", text))


def _fill(cell: Cell, value: Value) -> None:
    if not isinstance(value, str):
        cell.value = value
    elif value:
        cell.value = harmless(_plain(value))
        cell.data_type = "s"  # whatever it looks like, it is text


def _dress(sheet: Worksheet, columns: Sequence[str], hidden: Sequence[str]) -> None:
    sheet.freeze_panes = "A2"
    for number, name in enumerate(columns, start=1):
        cell, letter = sheet.cell(1, number), get_column_letter(number)
        cell.font, cell.alignment = Font(bold=True), Alignment(wrap_text=True, vertical="top")
        longest = max(len(str(other.value or "")) for other in sheet[letter])
        sheet.column_dimensions[letter].width = min(WIDEST, longest + 2)
        sheet.column_dimensions[letter].hidden = name in hidden
