"""How many come out good: what was seen, and how far it may lie from what is so."""

from dataclasses import dataclass
from decimal import Decimal

from finishing.science.working import Working

WIDTH = Decimal("1.959963984540054")  # of the normal curve: 95 of 100 lie within so many deviations
FINE = Decimal("1e-12")  # none or all good begins or ends the range at exactly 0 or 1


@dataclass(frozen=True)
class GoodShare:
    """Pieces started, and how many of them were good: the share, and the range in which it likely lies."""

    started: int
    good: int

    def __post_init__(self) -> None:
        if not 0 <= self.good <= self.started or not self.started:
            raise ValueError(f"{self.good} good of {self.started} started: that cannot be.")

    @property
    def share(self) -> Decimal:
        """
        >>> GoodShare(started=12, good=9).share
        Decimal('0.75')
        """
        return Decimal(self.good) / self.started

    @property
    def range(self) -> tuple[Decimal, Decimal]:
        """Where the true share lies, in 19 cases of 20.

        (p + z²/2n ± z·√(p(1 − p)/n + z²/4n²)) / (1 + z²/n),  p = good/n, z = 1.96
        Valid from one piece, also where all or none were good.  Source: WILSON-1927.

        >>> [str(end.quantize(Decimal("0.0001"))) for end in GoodShare(started=10, good=9).range]
        ['0.5958', '0.9821']
        """
        p, n, square = self.share, self.started, WIDTH * WIDTH
        middle = p + square / (2 * n)
        reach = WIDTH * (p * (1 - p) / n + square / (4 * n * n)).sqrt()
        whole = 1 + square / n
        return ((middle - reach) / whole).quantize(FINE), ((middle + reach) / whole).quantize(FINE)

    @property
    def working(self) -> Working:
        low, high = (f"{100 * end:.0f}" for end in self.range)
        return Working(
            "come out good",
            "(p + z²/2n ± z·√(p(1 − p)/n + z²/4n²)) / (1 + z²/n)",
            (
                ("started, n", str(self.started)),
                ("good", str(self.good)),
                ("p = good / n", f"{100 * self.share:.1f} %"),
            ),
            f"{100 * self.share:.1f} %, likely between {low} and {high} %",
            "WILSON-1927",
            "The range holds the true share in 19 cases of 20 (z = 1.96), if every piece had the same chance."
            " A better pattern or another foundry begins anew.",
        )
