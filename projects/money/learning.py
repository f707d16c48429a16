"""Hands grow quicker with every piece: how long a number of pieces takes on a learning curve."""

from decimal import Decimal
from enum import StrEnum
from functools import lru_cache
from itertools import accumulate
from math import log2

from finishing.science.working import Working

MOST_PIECES = 20_000


class LearningModel(StrEnum):
    """What the percentage is said of: the time of each unit, or the average of all so far. They differ."""

    CRAWFORD = "unit"
    WRIGHT = "cumulative average"


def hours_for(
    first: Decimal, percent: Decimal, count: int, model: LearningModel = LearningModel.CRAWFORD, made_before: int = 0
) -> Decimal:
    """Time for so many pieces when the first ever took `first`, and so many were made before, with none forgotten.

    b = log₂(percent / 100)
    Crawford, each unit:       H = T₁ · Σ i^b   over i = made before + 1 … made before + count
    Wright, average so far:    H = T₁ · (N·N^b − M·M^b)   with M made before and N after
    In the unit of `first`, to 15 figures.  Valid for 50 to 100 %, up to 20 000 pieces.  Raises ValueError outside.
    Source: LEARNING-WRIGHT; the table of units LEARNING-TABLE.

    >>> [f"{hours_for(Decimal(20), Decimal(85), 8, model):.2f} h" for model in LearningModel]
    ['118.72 h', '98.26 h']
    """
    check_learning(percent)
    if count < 1 or made_before < 0 or made_before + count > MOST_PIECES:
        raise ValueError(
            f"learning: {count} pieces after {made_before}; it is worked out for 1 to {MOST_PIECES} in all."
        )
    return first * (_total(model, percent, made_before + count) - _total(model, percent, made_before))


def check_learning(percent: Decimal) -> None:
    """Raise ValueError, in the user's words, for a learning curve outside 50 to 100 %."""
    if not (percent.is_finite() and 50 <= percent <= 100):
        raise ValueError(f"learning curve: {percent} % is outside 50 to 100 %; 85 % means that a doubling saves 15 %.")


def _total(model: LearningModel, percent: Decimal, count: int) -> Decimal:
    """Time for the first so many, as a multiple of the time for the first."""
    if model == LearningModel.CRAWFORD:
        return _sums_of_units(percent, count.bit_length())[count]
    return Decimal(count ** (1 + log2(percent / 100))) if count else Decimal(0)


@lru_cache(maxsize=256)
def _sums_of_units(percent: Decimal, bits: int) -> list[Decimal]:
    """Totals for 0 to 2^bits − 1 pieces: longer lists by doubling, so that few are ever reckoned."""
    exponent = log2(percent / 100)
    return list(accumulate((Decimal(unit**exponent) for unit in range(1, 1 << bits)), initial=Decimal(0)))


_FORMULAS = {
    LearningModel.CRAWFORD: "T₁ · Σ i^b over the pieces i, b = log₂(learning)",
    LearningModel.WRIGHT: "T₁ · (N^(1+b) − M^(1+b)), b = log₂(learning), M made before, N after",
}


def hours_working(
    first: Decimal, percent: Decimal, count: int, model: LearningModel = LearningModel.CRAWFORD, made_before: int = 0
) -> Working:
    """How `hours_for` came about, in hours."""
    total = hours_for(first, percent, count, model, made_before)
    return Working(
        "hours with learning",
        _FORMULAS[model],
        (
            ("first piece", f"{first:.4g} h"),
            ("learning", f"{percent} % of the {model}"),
            ("pieces", str(count)),
            ("made before", str(made_before)),
        ),
        f"{total:.2f} h",
        "LEARNING-WRIGHT",
        f"{total / count:.2f} h each on average. Nothing is counted as forgotten between batches.",
    )
