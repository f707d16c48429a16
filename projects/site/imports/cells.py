"""What is meant by a cell: text, number or date, whichever of the usual ways it was written in."""

import re
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

CellValue = str | Decimal | date

SPACES = " \u00a0\u202f\u2009'\u2019"  # that part thousands: plain, no-break, narrow, thin; and apostrophes
MOST_DIGITS = 30  # nobody writes more
THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:([.,])\d{3})(?:\1\d{3})*")


@dataclass
class CellError(Exception):
    """What is wrong with one cell; column "": with the whole row."""

    row: int
    column: str
    says: str

    def __str__(self) -> str:
        where = f"row {self.row}, {self.column}" if self.column else f"row {self.row}"
        return f"{where}: {self.says}"


def shown(cell: CellValue) -> str:
    """As text."""
    return f"{cell:f}" if isinstance(cell, Decimal) else str(cell)


def number_of(cell: CellValue, decimal_mark: str | None = None) -> Decimal:
    """Decimal point or comma, thousands parted by the other one, spaces or apostrophes. Raises ValueError.

    decimal_mark: what the table's other cells suggest; without it `1,234` may mean two things, and is refused.

    >>> number_of("1.234,50"), number_of("1 234.5"), number_of("0,125"), number_of("1,234", ",")
    (Decimal('1234.50'), Decimal('1234.5'), Decimal('0.125'), Decimal('1.234'))
    """
    if isinstance(cell, Decimal):
        return cell
    text = "".join(sign for sign in shown(cell).strip() if sign not in SPACES)
    if len(text) > MOST_DIGITS:
        raise ValueError(f"{text[:MOST_DIGITS]}… is too long for a number.")
    if not re.fullmatch(r"[+-]?[\d.,]*\d[\d.,]*", text, re.ASCII):
        raise ValueError(f"{shown(cell).strip()} is not a number.")
    return Decimal(_with_a_point(text, decimal_mark))


def _with_a_point(text: str, decimal_mark: str | None) -> str:
    marks = [sign for sign in text if sign in ".,"]
    if not marks:
        return text
    last = marks[-1]
    if marks.count(last) > 1 or (len(marks) == 1 and THOUSANDS.fullmatch(text) and last != decimal_mark):
        return _all_thousands(text, marks)
    whole, _, part = text.rpartition(last)
    if len(marks) > 1 and not THOUSANDS.fullmatch(whole):
        raise ValueError(f"{text} is not a number.")
    return f"{whole.replace('.', '').replace(',', '')}.{part}"


def _all_thousands(text: str, marks: list[str]) -> str:
    if not THOUSANDS.fullmatch(text):
        raise ValueError(f"{text} is not a number.")
    if len(marks) == 1:
        plain = text.replace(marks[0], "")
        raise ValueError(f"{text} can be read in two ways; write {plain} or {text.replace(marks[0], '.')}0.")
    return text.replace(marks[0], "")


def date_of(cell: CellValue) -> date:
    """2026-08-31 or 31.8.2026. Raises ValueError for others: 3/4/2026 is two days.

    >>> date_of("31.8.2026")
    datetime.date(2026, 8, 31)
    """
    if isinstance(cell, date):
        return cell
    for form in ("%Y-%m-%d", "%d.%m.%Y"):
        try:
            return datetime.strptime(shown(cell).strip(), form).date()
        except ValueError:
            continue
    raise ValueError(f"{shown(cell).strip()} is not a date; write it as 2026-08-31.")
