"""What a table that leaves and a table that comes in share: a mark that keeps text from running, and the quote sheet.

A spreadsheet takes text that begins with one of a few signs for a formula, and runs it. An apostrophe before it keeps
it text; on the way in that one apostrophe is taken off again, so that every text comes back as it was.
"""

import re
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

Value = str | int | Decimal | date | None

RUNS = re.compile(r"'*[=+\-@\t\r\n]")
MARKED = re.compile(r"'+[=+\-@\t\r\n]")


def harmless(text: str) -> str:
    """
    >>> harmless("=1+1"), harmless("'=1+1"), harmless("frame")
    ("'=1+1", "''=1+1", 'frame')
    """
    return f"'{text}" if RUNS.match(text) else text


def as_meant(text: str) -> str:
    """The text without the mark of `harmless`.

    >>> as_meant("'=1+1"), as_meant("''=1+1"), as_meant("'tis a frame")
    ('=1+1', "'=1+1", "'tis a frame")
    """
    return text[1:] if MARKED.match(text) else text


@dataclass(frozen=True)
class QuoteLine:
    """One line of a quote sheet: what is asked, and in the fields from `prices` on what a supplier answers.

    key: by which the filled sheet is known again · mass: kg · prices: (quantity, price for one or None) in the
    sheet's order · drawing: what its file is called · row: where it stood in a sheet that came in
    """

    key: str
    part: str
    number: str
    revision: str
    process: str
    material: str
    mass: Decimal | None
    prices: tuple[tuple[int, Decimal | None], ...]
    setup: Decimal | None = None
    tooling: Decimal | None = None
    minimum: int | None = None
    lead_days: int | None = None
    valid_until: date | None = None
    remark: str = ""
    drawing: str = ""
    row: int = field(default=0, compare=False)

    @property
    def answered(self) -> bool:
        priced = any(price is not None for _, price in self.prices)
        given = (self.setup, self.tooling, self.minimum, self.lead_days, self.valid_until)
        return priced or bool(self.remark) or any(value is not None for value in given)


ASKED = {
    "part": "part",
    "number": "number",
    "revision": "revision",
    "process": "process",
    "material": "material",
    "mass": "mass kg",
    "drawing": "drawing",
}
MONEY = {"setup": "set-up", "tooling": "tooling"}  # these and the prices name the currency in their heading
ANSWERED = {
    "minimum": "least quantity",
    "lead_days": "lead time days",
    "valid_until": "valid until",
    "remark": "remark",
}
PRICE_AT = "price at"
KEY = "key"
