"""The sheet on which a supplier names his prices: a line for each operation asked, a column for each quantity."""

from collections.abc import Sequence
from typing import Literal

from projects.site.exports import csv_bytes, xlsx_bytes
from projects.site.sheets import ANSWERED, ASKED, KEY, MONEY, PRICE_AT, QuoteLine, Value


def write_request(lines: Sequence[QuoteLine], currency: str, form: Literal["csv", "xlsx"]) -> bytes:
    """What is known already is filled in; the key by which the sheet is read back stands last, in XLSX out of sight."""
    quantities = list(dict.fromkeys(quantity for line in lines for quantity, _ in line.prices))
    columns = _columns(quantities, currency)
    rows = [_row(line, quantities) for line in lines]
    if form == "csv":
        return csv_bytes(columns, rows)
    return xlsx_bytes(columns, rows, title="request", hidden=[KEY])


def _columns(quantities: Sequence[int], currency: str) -> list[str]:
    prices = [f"{PRICE_AT} {quantity} {currency}" for quantity in quantities]
    return [*ASKED.values(), *prices, *(f"{name} {currency}" for name in MONEY.values()), *ANSWERED.values(), KEY]


def _row(line: QuoteLine, quantities: Sequence[int]) -> list[Value]:
    prices = dict(line.prices)
    asked = [getattr(line, name) for name in ASKED]
    answered = [getattr(line, name) for name in (*MONEY, *ANSWERED)]
    return [*asked, *(prices.get(quantity) for quantity in quantities), *answered, line.key]
