"""How many to start, so that enough come out good."""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from decimal import Decimal
from functools import lru_cache
from itertools import accumulate
from math import ceil, prod
from operator import mul

from finishing.science.working import Working

NOTHING = Decimal(0)
NINE_IN_TEN = Decimal("0.9")
MOST_STARTS = 100_000
TRIED = range(MOST_STARTS + 1)
HAIR = Decimal("1e-20")  # sums are kept to 28 figures: a chance that is met exactly counts as met


def rolled(yields: Sequence[Decimal]) -> Decimal:
    """Share that comes through every operation.   y = Π yᵢ      0 < yᵢ ≤ 1.  Source: common practice.

    >>> rolled([Decimal("0.95"), Decimal("0.97"), Decimal("0.99")])
    Decimal('0.912285')
    """
    return prod(yields, start=Decimal(1))


def on_average(good: int, yield_: Decimal) -> Decimal:
    """Starts that give so many good ones on average.   good / y      0 < y ≤ 1, else ValueError.  Common practice.

    >>> round(on_average(8, Decimal("0.9")), 2)
    Decimal('8.89')
    """
    check_scrap(good, yield_)
    return good / yield_


def starts(good: int, yield_: Decimal, chance: Decimal = NINE_IN_TEN) -> int:
    """The fewest to start, so that enough come out good with this chance at least.

    least n with P(n) ≥ chance,  P(n) = Σ over i from good to n of C(n, i) · y^i · (1 − y)^(n − i)
    Valid for 0 < y ≤ 1, 0 < chance < 1, up to 100 000 starts.  Raises ValueError outside.  Source: BINOMIAL.

    >>> starts(8, Decimal("0.9"))
    10
    """
    check_scrap(good, yield_)
    check_chance(chance)
    wanted = chance - HAIR
    fewest = next((started for started, reached in _chances(good, yield_) if reached >= wanted), None)
    fewest = fewest or bisect_left(TRIED, wanted, lo=_walked(good).stop, key=lambda at: 1 - _too_few(good, at, yield_))
    if fewest not in TRIED:
        raise ValueError(
            f"More than {MOST_STARTS} would have to be started for {good} good ones; look at the scrap rate."
        )
    return fewest


def chance_of(good: int, started: int, yield_: Decimal) -> Decimal:
    """Chance that enough of those started come out good: P(n) of `starts`.      Source: BINOMIAL.

    >>> round(chance_of(8, 9, Decimal("0.9")), 4)
    Decimal('0.7748')
    """
    check_scrap(good, yield_)
    if started < good or yield_ == 1:
        return Decimal(started >= good)
    if started in _walked(good):
        return next(reached for at, reached in _chances(good, yield_) if at == started)
    return 1 - _too_few(good, started, yield_)


@lru_cache(maxsize=65536)
def entering(good: int, yields: tuple[Decimal, ...], chance: Decimal = NINE_IN_TEN) -> tuple[int, ...]:
    """How many every operation meets: of what is started, less the scrap before it, only as many as still must be.

    entering k = max(good, least of ⌈starts · Π yields before k⌉ and the starts for Π yields from k on)
    What was started beyond need waits, as the last operation that may spoil it leaves it.
    Source: common practice; BINOMIAL for the starts.

    >>> entering(8, (Decimal("0.9"), Decimal("0.95"), Decimal(1)))
    (11, 9, 8)
    """
    *before, through = accumulate(yields, mul, initial=Decimal(1))
    started = starts(good, through, chance)
    from_on = list(accumulate(reversed(yields), mul))[::-1]
    come = [(ceil(started * share), starts(good, rest, chance)) for share, rest in zip(before, from_on, strict=True)]
    return tuple([max(good, min(through, wanted)) for through, wanted in come])


def left_rough(numbers: Sequence[int], yields: Sequence[Decimal], good: int) -> list[int]:
    """Good ones of each operation that likely go no further: those that come through it, less those that the next
    one meets, or less the good ones wanted after the last.

    >>> left_rough((7, 5, 5), (Decimal("0.9"), Decimal(1), Decimal(1)), 5)
    [1, 0, 0]
    """
    return [
        max(0, int(number * yield_) - after)
        for number, yield_, after in zip(numbers, yields, (*numbers[1:], good), strict=True)
    ]


def _walked(good: int) -> range:
    """Starts that are tried one after another: while fewer are bad than good, that is the shorter sum."""
    return range(min(good, TRIED.stop), min(2 * good, TRIED.stop))


def _chances(good: int, yield_: Decimal) -> Iterator[tuple[int, Decimal]]:
    """Starts and the chance that they are enough: the last good one comes at the good-th start, or the next, or …"""
    term = reached = yield_**good
    for started in _walked(good):
        yield started, reached
        term *= (1 - yield_) * started / (started - good + 1)
        reached += term


def _too_few(good: int, started: int, yield_: Decimal) -> Decimal:
    """None comes out good, or one, or … : as many terms as good ones are wanted. Valid for y < 1."""
    term = reached = (1 - yield_) ** started
    for at in range(good - 1):
        term *= yield_ * (started - at) / ((at + 1) * (1 - yield_))
        reached += term
    return reached


def check_scrap(good: int, yield_: Decimal) -> None:
    if good < 1:
        raise ValueError(f"quantity: {good} good ones cannot be made; enter 1 or more.")
    if not (yield_.is_finite() and 0 < yield_ <= 1):
        raise ValueError(f"come out good: {100 * yield_} % is outside the range above 0 and up to 100 %.")


def check_chance(chance: Decimal) -> None:
    if not (chance.is_finite() and 0 < chance < 1):
        raise ValueError(f"chance of enough good ones: {100 * chance} % is not between 0 and 100 %.")


def starts_working(good: int, yield_: Decimal, chance: Decimal = NINE_IN_TEN) -> Working:
    """How `starts` came about, with the chances of one fewer and one more."""
    started = starts(good, yield_, chance)
    near = range(max(good, started - 1), started + 2)
    return Working(
        "how many to start",
        "least n with Σ over i from good to n of C(n, i) · y^i · (1 − y)^(n − i) ≥ chance",
        (
            ("good ones wanted", str(good)),
            ("come out good, y", f"{100 * yield_:.4g} %"),
            ("chance wanted", f"{100 * chance:.4g} %"),
            *((f"chance with {number}", f"{100 * chance_of(good, number, yield_):.1f} %") for number in near),
        ),
        f"start {started}",
        "BINOMIAL",
        f"On average {on_average(good, yield_):.2f} would do; what is left over becomes spares.",
    )
