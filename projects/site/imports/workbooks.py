"""An XLSX file's first sheet in view, cell by cell. Refused whole: what runs, links outside, is locked or blows up."""

import warnings
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO
from zipfile import ZipFile

from openpyxl import Workbook, load_workbook
from openpyxl.cell import Cell
from openpyxl.worksheet.worksheet import Worksheet

from .cells import CellError, CellValue

ZIP, OLD_OFFICE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
TOO_LARGE = 10**15  # whole numbers of more digits are not what was typed any more
MOST_UNPACKED = 30_000_000  # bytes
# in a document type, text may be made to unfold into ever more text
DOCTYPES = ["<!DOCTYPE".encode(code) for code in ("utf-8", "utf-16-le", "utf-16-be")]
RUNS_OR_LINKS = {"vbaProject": "macros", "externalLinks": "links to other files", "connections.xml": "links to data"}


def is_workbook(data: bytes) -> bool:
    return data.startswith((ZIP, OLD_OFFICE))


def read_workbook(data: bytes, most_rows: int, most_columns: int) -> Iterator[tuple[int, list[CellValue | CellError]]]:
    """Each row with its number. Raises ValueError for a workbook that is not read at all."""
    if data.startswith(OLD_OFFICE):
        raise ValueError("The file is locked with a password, or is an old XLS; save it as XLSX without a password.")
    sheet = _first_in_view(_opened(data))
    _check(sheet, most_rows, most_columns)
    return ((number, [_cell(cell) for cell in row]) for number, row in enumerate(sheet.iter_rows(), start=1))


def _opened(data: bytes) -> Workbook:
    try:
        fault = _unsafe(data)
        if not fault:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # they are of styles and drawings, which are not kept
                return load_workbook(BytesIO(data), keep_links=False)
    except Exception as error:  # a broken workbook breaks its reader in more ways than can be named
        raise ValueError("The XLSX file is broken; open it in a spreadsheet and save it anew.") from error
    raise ValueError(fault)


def _unsafe(data: bytes) -> str:
    """Why it is not opened; empty: it may be. What a part says of its size holds: no more of it is unpacked."""
    with ZipFile(BytesIO(data)) as packed:
        parts = packed.infolist()
        if sum(part.file_size for part in parts) > MOST_UNPACKED:
            return f"The XLSX file unpacks to more than {MOST_UNPACKED // 1_000_000} MB."
        for sign, what in RUNS_OR_LINKS.items():
            if any(sign in part.filename for part in parts):
                return f"The XLSX file has {what}; save it without them."
        if any(doctype in text for text in map(packed.read, parts) for doctype in DOCTYPES):
            return "The XLSX file declares a document type, which no spreadsheet writes."
    return ""


def _first_in_view(book: Workbook) -> Worksheet:
    for sheet in book.worksheets:
        if sheet.sheet_state == "visible":
            return sheet
    raise ValueError("The XLSX file has no sheet in view.")


def _check(sheet: Worksheet, most_rows: int, most_columns: int) -> None:
    """A hidden column is read like the others; a hidden row is one that nobody looked at."""
    if sheet.max_column > most_columns:
        raise ValueError(f"The sheet reaches to column {sheet.max_column}; at most {most_columns} can be read.")
    if sheet.max_row > most_rows + 1:
        raise ValueError(f"The sheet reaches to row {sheet.max_row}; at most {most_rows} rows can be read.")
    if merged := sorted(str(cells) for cells in sheet.merged_cells.ranges):
        raise ValueError(f"Cells {merged[0]} are merged; part them.")
    if hidden := [number for number, row in sheet.row_dimensions.items() if row.hidden and number <= sheet.max_row]:
        raise ValueError(f"Row {min(hidden)} is hidden; show it, or delete it.")


def _cell(cell: Cell) -> CellValue | CellError:
    """A number with as many digits as a spreadsheet shows: 15."""
    value = cell.value
    if cell.data_type == "f":
        return CellError(cell.row, "", "this is a formula; enter its value.")
    if cell.data_type == "e":
        return CellError(cell.row, "", f"{value} is an error of the spreadsheet.")
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        if not abs(value) < TOO_LARGE:
            return CellError(cell.row, "", "the number is too large.")
        return Decimal(f"{value:.15g}")
    if isinstance(value, datetime):
        return value.date()
    return value if isinstance(value, date) else "" if value is None else str(value)
