"""What single entries of a log have in common: their middle one, and how far the middle half of them lies apart."""

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import quantiles

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

FEWEST = 5  # entries; figures from fewer would be chance   [our judgement]


@dataclass(frozen=True)
class Middle:
    """A quarter of the entries lies below `low`, half of them below `median`, three quarters below `high`."""

    low: float
    median: float
    high: float
    count: int


def middle(figures: Iterable[float], least: int = FEWEST) -> Middle | None:
    """Median and middle half of single figures; None while there are fewer than `least`.

    In order of size the figure at place 1 + (n − 1) · p, between two places in proportion; p = ¼, ½, ¾.
    One slow day moves a mean and not a median.      Source: common practice.

    >>> middle([20, 24, 25, 31, 60])
    Middle(low=24.0, median=25.0, high=31.0, count=5)
    >>> middle([20, 24]) is None
    True
    """
    known = sorted(figures)
    if len(known) < max(2, least):
        return None
    low, median, high = quantiles(known, n=4, method="inclusive")
    return Middle(low, median, high, len(known))


def middle_working(what: str, figures: Iterable[float], unit: str, note: str) -> Working | None:
    """How `middle` came about: every entry, in order of size; None where there are too few."""
    known = sorted(figures)
    shown = middle(known)
    if shown is None:
        return None
    return Working(
        what,
        "the entry at place 1 + (n − 1) · p in order of size; p = ½ for the median, ¼ and ¾ for the middle half",
        (
            ("entries, in order of size", ", ".join(f"{figure:.3g}" for figure in known)),
            ("entries", str(shown.count)),
            ("middle half", f"{shown.low:.3g} to {shown.high:.3g} {unit}"),
        ),
        f"{shown.median:.3g} {unit}",
        COMMON_PRACTICE,
        note,
    )
