"""The sheet on which a supplier names his prices: a line for each operation asked, a column for each quantity."""

from collections.abc import Sequence

from projects.site.exports import TableFormat, table_bytes
from projects.site.sheets import ANSWERED, ASKED, KEY, MONEY, PRICE_AT, QuoteLine, Value


def write_request(lines: Sequence[QuoteLine], currency: str, form: TableFormat) -> bytes:
    """What is known already is filled in; the key by which the sheet is read back stands last, in XLSX out of sight."""
    quantities = list(dict.fromkeys(quantity for line in lines for quantity, _ in line.prices))
    prices = [f"{PRICE_AT} {quantity} {currency}" for quantity in quantities]
    money = [f"{name} {currency}" for name in MONEY.values()]
    columns = [*ASKED.values(), *prices, *money, *ANSWERED.values(), KEY]
    return table_bytes(columns, [_row(line, quantities) for line in lines], form, title="request", hidden=[KEY])


def _row(line: QuoteLine, quantities: Sequence[int]) -> list[Value]:
    prices = dict(line.prices)
    asked = [getattr(line, name) for name in ASKED]
    answered = [getattr(line, name) for name in (*MONEY, *ANSWERED)]
    return [*asked, *(prices.get(quantity) for quantity in quantities), *answered, line.key]
