"""Sums of money: rounded once, to the cent, and handed out so that the shares add up."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

CENT = Decimal("0.01")


def cents(amount: Decimal) -> Decimal:
    """A sum to the cent, half a cent up.

    >>> cents(Decimal("973.505"))
    Decimal('973.51')
    """
    return amount.quantize(CENT, ROUND_HALF_UP)


def as_quoted(price: Decimal) -> Decimal:
    """A price in cents, or as finely as it was quoted.

    >>> as_quoted(Decimal("58.5000")), as_quoted(Decimal("0.1250"))
    (Decimal('58.50'), Decimal('0.125'))
    """
    rounded = cents(price)
    return rounded if rounded == price else price.normalize()


def shared_out(total: Decimal, weights: Sequence[Decimal | int]) -> list[Decimal]:
    """A sum by weight, so that the shares add up to it to the cent.

    Each share is cut to the cent, and the cents left over go one each to those of whom most was cut off (the method
    of the largest remainder). Without any weight the shares are equal. Weights are not below nothing.

    >>> [str(share) for share in shared_out(Decimal("100.00"), [1, 1, 1])]
    ['33.34', '33.33', '33.33']
    """
    exact = [Fraction(weight) for weight in weights] if any(weights) else [Fraction(1)] * len(weights)
    whole = sum(exact)
    parts = [divmod(int(total / CENT) * weight, whole) for weight in exact]
    left = int(total / CENT) - sum(cut for cut, _ in parts)
    first = set(sorted(range(len(parts)), key=lambda at: -parts[at][1])[:left])
    return [CENT * (cut + (at in first)) for at, (cut, _) in enumerate(parts)]


def not_below_nothing(name: str, amount: Decimal) -> None:
    """Raise ValueError, in the user's words, for a sum that is negative or is no number."""
    if not amount.is_finite() or amount < 0:
        raise ValueError(f"{name}: {amount} is not a sum of money; enter nothing or more.")
