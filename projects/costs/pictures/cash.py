"""Cash over time and what moves a result most, as pictures."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from math import ceil, floor, log10

from projects.money.pricing import Cash
from projects.money.what_if import TornadoBar
from projects.site.templatetags.money import money

LEFT, RIGHT, TOP, BOTTOM = 50.0, 372.0, 12.0, 180.0  # a picture's own units: a phone's width, room for the scale
MOST_DATES, SHORT = 6, 75  # days, below which a date tells its day
GAP = 27.0  # from bar to bar, with room for the name above it


@dataclass(frozen=True)
class Mark:
    x: float
    y: float
    label: str


def steps(low: float, high: float, count: int = 4) -> list[float]:
    """Round numbers from one below `low` to one above `high`."""
    high = max(high, low + 1)
    wide = high - low
    power = 10 ** floor(log10(wide / count))
    step = next(power * share for share in (1, 2, 2.5, 5, 10) if power * share * count >= wide)
    return [step * at for at in range(floor(low / step), ceil(high / step) + 1)]


@dataclass(frozen=True)
class CashPicture:
    """`line`: the points of a stepped line; `zero`: where nothing is left; `lowest`: its deepest point."""

    line: str
    zero: float
    lowest: Mark
    today: Mark
    across: list[Mark]
    up: list[Mark]


@dataclass(frozen=True)
class _CashScale:
    cash: Cash
    today: date

    @cached_property
    def days(self) -> list[date]:
        return sorted([self.today, *(balance.flow.day for balance in self.cash.balances)])

    @cached_property
    def values(self) -> list[float]:
        sums = [0.0, float(self.cash.opening), *(float(balance.after) for balance in self.cash.balances)]
        return steps(min(sums), max(sums))

    @property
    def length(self) -> int:
        return max(1, (self.days[-1] - self.days[0]).days)

    def x(self, day: date) -> float:
        return round(LEFT + (RIGHT - LEFT) * (day - self.days[0]).days / self.length, 1)

    def y(self, amount: Decimal | float) -> float:
        low, high = self.values[0], self.values[-1]
        return round(BOTTOM - (BOTTOM - TOP) * (float(amount) - low) / (high - low), 1)

    def line(self) -> str:
        """Level until the next flow, upright at it."""
        points, level = [(LEFT, self.y(self.cash.opening))], self.y(self.cash.opening)
        for balance in self.cash.balances:
            at, after = self.x(balance.flow.day), self.y(balance.after)
            points += [(at, level), (at, after)]
            level = after
        return " ".join(f"{x},{y}" for x, y in [*points, (RIGHT, level)])

    def dates(self) -> list[Mark]:
        ends = [self.days[0] + timedelta(days=self.length * at // (MOST_DATES - 1)) for at in range(MOST_DATES)]
        pattern = "%-d %b" if self.length < SHORT else "%b %y"
        return [Mark(self.x(day), BOTTOM, f"{day:{pattern}}") for day in ends]


def cash_picture(cash: Cash, today: date) -> CashPicture:
    scale = _CashScale(cash, today)
    lowest_on = cash.lowest_on or scale.days[0]
    return CashPicture(
        scale.line(),
        scale.y(0),
        Mark(scale.x(lowest_on), scale.y(cash.lowest), ""),
        Mark(scale.x(today), BOTTOM, "today"),
        scale.dates(),
        [Mark(LEFT, scale.y(value), money(value).removesuffix(".00")) for value in scale.values],
    )


@dataclass(frozen=True)
class TornadoSpan:
    """One input: its name, and its bar from the worse to the better result below it."""

    label: str
    y: float
    x: float
    width: float


@dataclass(frozen=True)
class TornadoPicture:
    height: float
    base: float
    zero: float | None
    spans: list[TornadoSpan]


def tornado_picture(bars: Sequence[TornadoBar], base: Decimal) -> TornadoPicture:
    """All results on one scale, the result as reckoned marked; nothing too, where it lies among them."""
    results = [float(result) for bar in bars for result in (bar.at_low, bar.at_high)]
    low, high = min([*results, float(base)]), max([*results, float(base)])

    def x(result: Decimal | float) -> float:
        return round(10 + 360 * (float(result) - low) / ((high - low) or 1), 1)

    spans = []
    for at, bar in enumerate(bars):
        left, right = sorted((x(bar.at_low), x(bar.at_high)))
        spans.append(TornadoSpan(bar.name, GAP * at + 12, left, round(max(right - left, 0.8), 1)))
    return TornadoPicture(GAP * len(bars), x(base), x(0) if low <= 0 <= high else None, spans)
