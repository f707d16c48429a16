"""What a contractor's day costs. Money is rounded once, to the cent."""

from decimal import Decimal

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

from .rounding import cents


def day_cost(call_out: Decimal, travel: Decimal, rate: Decimal, minutes: int) -> Decimal:
    """Call-out and travel once, and the rate for each hour.   call-out + travel + rate · t      Source: agreement.

    >>> day_cost(Decimal("60"), Decimal("35.50"), Decimal("85"), 200)
    Decimal('378.83')
    """
    return cents(call_out + travel + rate * minutes / 60)


def cancellation(cost: Decimal, percent: Decimal) -> Decimal:
    """What is owed for a day cancelled too late: a share of what it would have cost.

    >>> cancellation(Decimal("378.83"), Decimal(50))
    Decimal('189.42')
    """
    return cents(cost * percent / 100)


def day_cost_working(call_out: Decimal, travel: Decimal, rate: Decimal, minutes: int, currency: str) -> Working:
    """How `day_cost` came about."""
    return Working(
        "cost of the day",
        "call-out + travel + rate · hours",
        (
            ("call-out", f"{call_out} {currency}"),
            ("travel", f"{travel} {currency}"),
            ("rate", f"{rate} {currency}/h"),
            ("hours", f"{minutes // 60} h {minutes % 60:02d} min"),
        ),
        f"{day_cost(call_out, travel, rate, minutes)} {currency}",
        COMMON_PRACTICE,
        "Rounded once. Each piece bears its part by its minutes; cents left over go to those of whom most was cut off.",
    )
