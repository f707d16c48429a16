"""What a contractor's day costs, and which piece bears how much of it. Money is rounded once, to the cent."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

CENT = Decimal("0.01")


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


def shared_out(total: Decimal, weights: Sequence[int]) -> list[Decimal]:
    """A sum by weight, so that the shares add up to it to the cent.

    Each share is cut to the cent, and the cents left over go one each to those of whom most was cut off (the method
    of the largest remainder). Without any weight the shares are equal.

    >>> [str(share) for share in shared_out(Decimal("100.00"), [1, 1, 1])]
    ['33.34', '33.33', '33.33']
    """
    if not any(weights):
        weights = [1] * len(weights)
    whole = sum(weights)
    parts = [divmod(int(total / CENT) * weight, whole) for weight in weights]
    left = int(total / CENT) - sum(cut for cut, _ in parts)
    first = sorted(range(len(parts)), key=lambda at: -parts[at][1])[:left]
    return [CENT * (cut + (at in first)) for at, (cut, _) in enumerate(parts)]


def cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, ROUND_HALF_UP)


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
