"""What to ask: margin and mark-up, tax, how many must be sold, and when the cash is lowest."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, Decimal
from itertools import accumulate

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working, day_told

from .rounding import cents, not_below_nothing

NOTHING = Decimal(0)


def price_by_margin(cost: Decimal, margin: Decimal) -> Decimal:
    """Price without tax of which `margin` percent is left after the cost.

    p = c / (1 − m)      0 ≤ m < 100 %, else ValueError.  Source: common practice.

    >>> price_by_margin(Decimal(262), Decimal(30))
    Decimal('374.29')
    """
    not_below_nothing("cost", cost)
    _check_margin(margin)
    return cents(cost / (1 - margin / 100))


def price_by_mark_up(cost: Decimal, mark_up: Decimal) -> Decimal:
    """Price without tax that lies `mark_up` percent above the cost.

    p = c · (1 + k)      k ≥ 0, else ValueError.  Source: common practice.

    >>> price_by_mark_up(Decimal(262), Decimal(40))
    Decimal('366.80')
    """
    not_below_nothing("cost", cost)
    not_below_nothing("mark-up", mark_up)
    return cents(cost * (1 + mark_up / 100))


def mark_up_from_margin(margin: Decimal) -> Decimal:
    """k = m / (1 − m), in percent.      0 ≤ m < 100 %, else ValueError.  Source: common practice.

    >>> round(mark_up_from_margin(Decimal(30)), 2)
    Decimal('42.86')
    """
    _check_margin(margin)
    return 100 * margin / (100 - margin)


def margin_from_mark_up(mark_up: Decimal) -> Decimal:
    """m = k / (1 + k), in percent.      k ≥ 0, else ValueError.  Source: common practice.

    >>> round(margin_from_mark_up(Decimal(40)), 2)
    Decimal('28.57')
    """
    not_below_nothing("mark-up", mark_up)
    return 100 * mark_up / (100 + mark_up)


def margin_of(price: Decimal, cost: Decimal) -> Decimal:
    """Share of a price without tax that is left after the cost, in percent; below nothing where it loses money.

    m = (p − c) / p      p > 0, else ValueError.  Source: common practice.

    >>> round(margin_of(Decimal("366.80"), Decimal(262)), 2)
    Decimal('28.57')
    """
    return _percent(price - cost, "price", price)


def mark_up_of(price: Decimal, cost: Decimal) -> Decimal:
    """What was put on the cost to make a price without tax, in percent of the cost; below nothing where it loses money.

    k = (p − c) / c      c > 0, else ValueError.  Source: common practice.

    >>> round(mark_up_of(Decimal("374.29"), Decimal(262)), 2)
    Decimal('42.86')
    """
    return _percent(price - cost, "cost", cost)


def _percent(left: Decimal, name: str, whole: Decimal) -> Decimal:
    if whole <= 0:
        raise ValueError(f"{name}: what is left is told as a share of it, so it must be more than nothing.")
    return 100 * left / whole


def tax_on(net: Decimal, rate: Decimal) -> Decimal:
    """Tax to be added to a price without it.   net · r      r in percent, ≥ 0.  Source: common practice.

    >>> tax_on(Decimal("374.29"), Decimal(20))
    Decimal('74.86')
    """
    not_below_nothing("tax", rate)
    return cents(net * rate / 100)


def _check_margin(margin: Decimal) -> None:
    if not (margin.is_finite() and 0 <= margin < 100):
        raise ValueError(f"margin: {margin} % cannot be; it is a share of the price, from 0 to below 100 %.")


@dataclass(frozen=True)
class BreakEven:
    """How many must be sold: as reckoned, as whole machines, and the turnover as reckoned."""

    exact: Decimal
    quantity: int
    turnover: Decimal


def break_even(fixed: Decimal, price: Decimal, variable: Decimal) -> BreakEven:
    """How many sales pay for what is spent whether any are made or not.

    Q = F / (p − v), whole machines rounded up; turnover = Q · p
    Valid for p > v.  Raises ValueError otherwise: no number of sales would do.  Source: BREAK-EVEN.

    >>> break_even(Decimal(2400), Decimal(410), Decimal(262)).quantity
    17
    """
    not_below_nothing("fixed costs", fixed)
    if price <= variable:
        raise ValueError(f"price: {price} does not lie above the {variable} that each one costs; none would ever pay.")
    exact = fixed / (price - variable)
    return BreakEven(exact, int(exact.to_integral_value(ROUND_CEILING)), cents(fixed * price / (price - variable)))


@dataclass(frozen=True)
class Recovery:
    """What each machine bears of development, what those sold have brought back, and what is left."""

    each: Decimal
    recovered: Decimal
    left: Decimal


def recovery(development: Decimal, over: int, sold: int = 0) -> Recovery:
    """Development brought back by so many machines in equal shares.

    each = D / N;  recovered = D · min(sold, N) / N;  left = D − recovered
    Valid for N ≥ 1, sold ≥ 0.  Raises ValueError below.  Source: common practice.

    >>> [str(amount) for amount in vars(recovery(Decimal(1500), 20, 8)).values()]
    ['75.00', '600.00', '900.00']
    """
    not_below_nothing("development", development)
    if over < 1 or sold < 0:
        raise ValueError("development: it is recovered over one machine at least.")
    recovered = cents(development * min(sold, over) / over)
    return Recovery(cents(development / over), recovered, development - recovered)


@dataclass(frozen=True)
class Flow:
    """Money on a day: received, or below nothing where it is paid."""

    day: date
    amount: Decimal
    name: str


@dataclass(frozen=True)
class Balance:
    """A flow, and the cash after it."""

    flow: Flow
    after: Decimal


@dataclass(frozen=True)
class Cash:
    """The cash after every flow, its lowest point, and the day of it; no day where it is lowest before them all."""

    opening: Decimal
    balances: tuple[Balance, ...]
    lowest: Decimal
    lowest_on: date | None
    closing: Decimal

    @property
    def tied_up(self) -> Decimal:
        """At the lowest point, of what there was to begin with."""
        return self.opening - self.lowest


def cash(flows: Iterable[Flow], opening: Decimal = NOTHING) -> Cash:
    """Cash over time. On one day what is paid comes before what is received, so the lowest point is never flattered.

    balance = opening + Σ flows so far      Source: common practice.

    >>> months = [date(2026, month, 1) for month in (1, 2, 3)]
    >>> sums = (Decimal(500), Decimal(-1800), Decimal(2400))
    >>> over_time = cash(Flow(day, amount, "") for day, amount in zip(months, sums))
    >>> str(over_time.lowest), str(over_time.lowest_on), str(over_time.closing)
    ('-1300', '2026-02-01', '1100')
    """
    in_order = sorted(flows, key=lambda flow: (flow.day, flow.amount))
    sums = list(accumulate((flow.amount for flow in in_order), initial=opening))
    lowest = min(sums)
    at = sums.index(lowest)
    balances = tuple(Balance(flow, after) for flow, after in zip(in_order, sums[1:], strict=True))
    return Cash(opening, balances, lowest, in_order[at - 1].day if at else None, sums[-1])


def margin_working(cost: Decimal, margin: Decimal, currency: str) -> Working:
    """How `price_by_margin` came about, with the mark-up that it is."""
    return Working(
        "price by margin",
        "cost / (1 − margin)",
        (("cost", f"{cost} {currency}"), ("margin", f"{margin} % of the price")),
        f"{price_by_margin(cost, margin)} {currency}, without tax",
        COMMON_PRACTICE,
        f"The same price as a mark-up of {mark_up_from_margin(margin):.2f} % of the cost.",
    )


def mark_up_working(cost: Decimal, mark_up: Decimal, currency: str) -> Working:
    """How `price_by_mark_up` came about, with the margin that it is."""
    return Working(
        "price by mark-up",
        "cost · (1 + mark-up)",
        (("cost", f"{cost} {currency}"), ("mark-up", f"{mark_up} % of the cost")),
        f"{price_by_mark_up(cost, mark_up)} {currency}, without tax",
        COMMON_PRACTICE,
        f"The same price as a margin of {margin_from_mark_up(mark_up):.2f} % of the price.",
    )


def tax_working(net: Decimal, rate: Decimal, currency: str) -> Working:
    """How the price with tax came about."""
    tax = tax_on(net, rate)
    return Working(
        "price with tax",
        "net + net · rate",
        (("without tax", f"{net} {currency}"), ("rate", f"{rate} %"), ("tax", f"{tax} {currency}")),
        f"{net + tax} {currency}, with tax",
        COMMON_PRACTICE,
        "Which rate holds, and whether any, local law says.",
    )


def break_even_working(
    fixed: Decimal, price: Decimal, variable: Decimal, currency: str, counted: tuple[tuple[str, str], ...] = ()
) -> Working:
    """How `break_even` came about; `counted`: what is counted as fixed, and what as variable."""
    sales = break_even(fixed, price, variable)
    return Working(
        "how many must be sold",
        "fixed / (price − variable), rounded up",
        (
            *counted,
            ("fixed", f"{fixed} {currency}"),
            ("price without tax", f"{price} {currency}"),
            ("variable: what each one adds", f"{variable} {currency}"),
            ("as reckoned", f"{sales.exact:.2f}"),
        ),
        f"{sales.quantity}",
        "BREAK-EVEN",
        f"Turnover as reckoned {sales.turnover} {currency}.",
    )


def recovery_working(development: Decimal, over: int, sold: int, currency: str) -> Working:
    """How `recovery` came about."""
    recovered = recovery(development, over, sold)
    return Working(
        "development recovered",
        "development · min(sold, over) / over",
        (
            ("development", f"{development} {currency}"),
            ("recovered over", f"{over} machines"),
            ("share of each", f"{recovered.each} {currency}"),
            ("sold", str(sold)),
        ),
        f"{recovered.recovered} {currency}, {recovered.left} {currency} left",
        COMMON_PRACTICE,
    )


def cash_working(cash: Cash, currency: str) -> Working:
    """How the lowest point of the cash came about: every flow up to it."""
    count = [cash.opening, *(balance.after for balance in cash.balances)].index(cash.lowest)
    return Working(
        "lowest cash",
        "opening + Σ flows so far; on one day what is paid comes before what is received",
        (
            ("opening", f"{cash.opening} {currency}"),
            *(
                (f"{day_told(item.flow.day)}, {item.flow.name}", f"{item.flow.amount:+} {currency}")
                for item in cash.balances[:count]
            ),
        ),
        f"{cash.lowest} {currency} on {day_told(cash.lowest_on) if cash.lowest_on else 'the day before all this'}",
        COMMON_PRACTICE,
    )
