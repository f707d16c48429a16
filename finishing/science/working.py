"""How a number was made: what a page opens when somebody asks; and how a day and a minus are written there."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

_HYPHEN = re.compile(r"(?<![\w.)])-(?=[\d.])")  # before a number: not in 2027-01-27, Q-17 or 10-12


@dataclass(frozen=True)
class LedgerRow:
    """From when until when (None: at that moment), what was reckoned then, and who told it."""

    begin: datetime
    end: datetime | None
    cells: tuple[str, ...]
    mark: str


@dataclass(frozen=True)
class Ledger:
    """The hours behind a number, one row after the other, under their headings."""

    heads: tuple[str, ...]
    rows: tuple[LedgerRow, ...]


@dataclass(frozen=True)
class Working:
    """Formula, inputs with units, result and source (a key of SOURCES) of one number shown to a person."""

    name: str
    formula: str
    inputs: tuple[tuple[str, str], ...]
    result: str
    source: str
    note: str = ""
    ledger: Ledger | None = None


MOST_DECIMALS = 5


def decimals_to_reckon(values: tuple[float, ...], result: Callable[..., float], shown: int) -> int:
    """With how many decimals, one at least, values are printed from which a result is reckoned anew by hand.

    result: what follows from them; shown: to how many decimals that is printed.

    >>> decimals_to_reckon((17.92, 4.21), lambda metal, dew: metal - dew, shown=1)
    1
    >>> decimals_to_reckon((18.54, 9.76), lambda metal, dew: metal - dew, shown=1)
    2
    """
    told = round(result(*values), shown)
    return next(
        (
            decimals
            for decimals in range(1, MOST_DECIMALS)
            if abs(round(result(*(round(value, decimals) for value in values)), shown) - told) < 10.0**-MOST_DECIMALS
        ),
        MOST_DECIMALS,
    )


def day_told(day: date) -> str:
    """A day as every page tells it.

    >>> day_told(date(2027, 1, 27))
    '27 Jan 2027'
    """
    return f"{day.day} {day:%b %Y}"


def true_minus(text: str) -> str:
    """Numbers below nothing with a minus sign, which a hyphen is not.

    >>> true_minus("-1.2 °C of -540 GBP, mark H-3 by 2027-01-27")
    '−1.2 °C of −540 GBP, mark H-3 by 2027-01-27'
    """
    return _HYPHEN.sub("−", text)
