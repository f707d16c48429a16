"""Which tins to buy: the cheapest set that holds what is needed, exactly; then the one that leaves least over."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil, gcd
from typing import Any

from .sources import OUR_JUDGEMENT
from .units import Quantity
from .validity import within

MOST_PAINT = 500.0  # L in one purchase
NOTHING = Quantity(0, "L")
_HAIR = 1e-6  # mL: 0.1 L ten times is one litre, whatever the floats say


@dataclass(frozen=True)
class Tin:
    """A tin or a kit as it is sold; a kit's size is what it makes when mixed."""

    size: Any
    price: Decimal

    def __post_init__(self) -> None:
        within("tin size", self.millilitres, 1, 1000 * MOST_PAINT, "mL", OUR_JUDGEMENT)
        within("tin price", self.price, 0, 1e9, "", OUR_JUDGEMENT)

    @property
    def millilitres(self) -> int:
        return int(self.size.to("mL").magnitude + _HAIR)  # rounded down, so a tin never holds less than is said


@dataclass(frozen=True)
class Purchase:
    """How many of each tin, largest first, what they cost, and what is left over with the stock on hand."""

    tins: tuple[tuple[Tin, int], ...]
    cost: Decimal
    left_over: Any

    @property
    def bought(self) -> Any:
        return sum((count * tin.size for tin, count in self.tins), NOTHING).to("L")


def cheapest_tins(needed: Any, offered: Sequence[Tin], on_hand: Any = NOTHING) -> Purchase:
    """Least cost; of equal cost the least left over; of equal leftovers the fewest tins. Stock on hand is used first.

    c(v) = min over tins of price + c(v − size), c(v ≤ 0) = 0, in steps of the sizes' common divisor: exact to 1 mL.
    Valid to 500 L.  Raises OutsideValidity for an amount, a size or a price that cannot be.

    >>> shelf = [Tin(Quantity(1, "L"), Decimal("19.50")), Tin(Quantity(2.5, "L"), Decimal("41.00"))]
    >>> purchase = cheapest_tins(Quantity(3.2, "L"), shelf, on_hand=Quantity(0.3, "L"))
    >>> [(f"{tin.size:~P}", count) for tin, count in purchase.tins], f"{purchase.cost}, {purchase.left_over:.1f~P} over"
    ([('1 L', 3)], '58.50, 0.1 L over')
    """
    within("paint needed", needed.to("L").magnitude, 0, MOST_PAINT, "L", OUR_JUDGEMENT)
    within("paint on hand", on_hand.to("L").magnitude, 0, MOST_PAINT, "L", OUR_JUDGEMENT)
    within("number of tin sizes", len(offered), 1, 50, "sizes", OUR_JUDGEMENT)
    short = ceil((needed - on_hand).to("mL").magnitude - _HAIR)
    chosen = Counter(_choose(short, offered))
    by_size = sorted(chosen.items(), key=lambda pair: pair[0].millilitres, reverse=True)
    cost = sum((count * tin.price for tin, count in by_size), Decimal(0))
    bought = sum((count * tin.size for tin, count in by_size), NOTHING)
    return Purchase(tuple(by_size), cost, (on_hand + bought - needed).to("L"))


def _choose(short: int, offered: Sequence[Tin]) -> list[Tin]:
    """Tins that cover so many millilitres: the table of best choices, walked back from its end."""
    step = gcd(*(tin.millilitres for tin in offered))
    table = _table(ceil(short / step), [(tin.millilitres // step, tin.price) for tin in offered])
    chosen, amount = [], len(table) - 1
    while amount > 0:
        tin = offered[table[amount][-1]]
        chosen.append(tin)
        amount -= tin.millilitres // step
    return chosen


Choice = tuple[Decimal, int, int, int]  # cost, steps left over, tins, which tin first: compared in this order


def _table(steps: int, sizes: list[tuple[int, Decimal]]) -> list[Choice]:
    """The best choice for 0, 1 … so many steps still to cover."""
    table: list[Choice] = [(Decimal(0), 0, 0, -1)]
    for amount in range(1, steps + 1):
        table.append(min(_taking(tin, size, price, amount, table) for tin, (size, price) in enumerate(sizes)))
    return table


def _taking(tin: int, size: int, price: Decimal, amount: int, table: list[Choice]) -> Choice:
    cost, over, count, _ = table[amount - size] if size < amount else (Decimal(0), size - amount, 0, -1)
    return cost + price, over, count + 1, tin
