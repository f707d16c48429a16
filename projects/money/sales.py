"""When the money of a batch comes in: deposits, stages that were agreed, and the rest when a machine leaves."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from .pricing import Flow
from .rounding import cents

NOTHING = Decimal(0)
MONTH = Decimal("365.25") / 12  # days
LONGEST = 240  # months; what lies further ahead is no plan


@dataclass(frozen=True)
class FirmSale:
    """Machines that a buyer has ordered firmly: the price of one, and the stages agreed so far."""

    name: str
    count: int
    price: Decimal
    stages: tuple[Flow, ...] = ()


@dataclass(frozen=True)
class Sales:
    """Machines are ready from a day on and leave one after another, `a_month` of them; `deposit` in percent.

    The machine at place n leaves n / a_month months after the first day.
    Raises ValueError, in the user's words, where the last one would leave in more than twenty years.
    """

    machines: int
    ready: date
    a_month: Decimal
    price: Decimal
    deposit: Decimal = NOTHING

    def __post_init__(self) -> None:
        if self.machines < 1 or self.a_month <= 0:
            raise ValueError("sales: at least one machine, and more than none a month.")
        if self.machines > self.a_month * LONGEST:
            raise ValueError(
                f"sold in a month: at {self.a_month.normalize():f} the last of {self.machines} machines leaves "
                f"in more than {LONGEST // 12} years."
            )

    def leaves_on(self, place: int) -> date:
        return self.ready + timedelta(days=int(MONTH * place / self.a_month))

    def deposit_of(self, price: Decimal) -> Decimal:
        return cents(price * self.deposit / 100)


def sale_flows(sales: Sales, firm: Sequence[FirmSale], today: date) -> list[Flow]:
    """Money of every machine of a batch: first those that are firmly sold, in their order, then the others.

    A firm buyer pays the stages agreed, or else the deposit today; the rest when the last of theirs leaves.
    A machine that nobody wants yet is ordered, with its deposit, when the one before it leaves.
    Source: common practice.

    >>> sales = Sales(2, date(2026, 1, 1), Decimal(1), Decimal(400), Decimal(25))
    >>> flows = sale_flows(sales, [FirmSale("the museum", 1, Decimal(380))], date(2026, 1, 1))
    >>> [(str(flow.day), str(flow.amount), flow.name) for flow in flows]  # doctest: +NORMALIZE_WHITESPACE
    [('2026-01-01', '95.00', 'deposit, the museum'), ('2026-01-31', '285.00', 'rest, the museum'),
     ('2026-01-31', '100.00', 'deposits'), ('2026-03-02', '300.00', 'sales')]
    """
    flows: list[Flow] = []
    sold = 0
    for sale in firm:
        count = min(sale.count, sales.machines - sold)
        if count:
            sold += count
            flows += _of_buyer(sales, sale, count, sold, today)
    return [*flows, *_of_others(sales, sold)]


def _of_buyer(sales: Sales, sale: FirmSale, count: int, last: int, today: date) -> Iterator[Flow]:
    price = sale.price * count
    deposit = sales.deposit_of(price)
    stages = sale.stages or ((Flow(today, deposit, f"deposit, {sale.name}"),) if deposit else ())
    yield from stages
    rest = price - sum((stage.amount for stage in stages), NOTHING)
    if rest > 0:
        yield Flow(sales.leaves_on(last), rest, f"rest, {sale.name}")


def _of_others(sales: Sales, sold: int) -> Iterator[Flow]:
    deposit = sales.deposit_of(sales.price)
    for place in range(sold + 1, sales.machines + 1):
        if deposit:
            yield Flow(sales.leaves_on(place - 1), deposit, "deposits")
        yield Flow(sales.leaves_on(place), sales.price - deposit, "sales")
