"""What a number of pieces costs from a price list with breaks, and which number is worth ordering."""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from itertools import pairwise

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

from .rounding import cents, not_below_nothing

NOTHING = Decimal(0)


class Counting(StrEnum):
    """Which pieces of an order have the price that it reached: all, or those of each band their own."""

    ALL_UNITS = "all units"
    INCREMENTAL = "incremental"


@dataclass(frozen=True)
class Break:
    """A price for one piece, from a quantity on."""

    from_quantity: int
    price: Decimal


@dataclass(frozen=True)
class OrderQuantity:
    """How many pieces are ordered, and what that order costs with its set-up."""

    quantity: int
    cost: Decimal


@dataclass(frozen=True)
class PriceList:
    """A supplier's prices for one operation on one part. The first break is also the fewest that he sells.

    Raises ValueError for breaks out of order or doubled, a quantity below one or a price below nothing.
    """

    breaks: tuple[Break, ...]
    counting: Counting = Counting.ALL_UNITS
    minimum: int = 1
    setup: Decimal = NOTHING
    tooling: Decimal = NOTHING

    def __post_init__(self) -> None:
        if not self.breaks:
            raise ValueError("price breaks: enter at least one quantity and its price.")
        for at in self.breaks:
            _quantity_is_one_or_more("price breaks", at.from_quantity)
            not_below_nothing(f"price from {at.from_quantity}", at.price)
        for before, after in pairwise(self.breaks):
            _break_is_further_on(before.from_quantity, after.from_quantity)
        _quantity_is_one_or_more("least quantity", self.minimum)
        not_below_nothing("set-up", self.setup)
        not_below_nothing("tooling", self.tooling)

    @cached_property
    def floors(self) -> list[int]:
        return [at.from_quantity for at in self.breaks]

    @cached_property
    def fewest(self) -> int:
        """The smallest order: the minimum, or the first break where that lies higher."""
        return max(self.minimum, self.breaks[0].from_quantity)

    def band(self, quantity: int) -> int:
        """Which price, counted from 0, an order of so many reaches."""
        return max(0, bisect_right(self.floors, quantity) - 1)

    def pieces(self, quantity: int) -> Decimal:
        """Money for the pieces alone.

        All units:    Q · p(Q)
        Incremental:  Σ over bands of the pieces in the band · its price
        Valid from 1 piece.  Raises ValueError below.  Source: common practice.

        >>> breaks = (Break(1, Decimal(48)), Break(5, Decimal(42)), Break(10, Decimal(36)))
        >>> PriceList(breaks).pieces(9), PriceList(breaks, Counting.INCREMENTAL).pieces(9)
        (Decimal('378'), Decimal('402'))
        """
        _quantity_is_one_or_more("quantity", quantity)
        at = self.band(quantity)
        if self.counting == Counting.ALL_UNITS:
            return quantity * self.breaks[at].price
        return self._before[at] + (quantity - self._starts[at]) * self.breaks[at].price

    def cost(self, quantity: int) -> Decimal:
        """Set-up and pieces of one order; below the fewest that are sold, those are paid for."""
        _quantity_is_one_or_more("quantity", quantity)
        return self.setup + self.pieces(max(quantity, self.fewest))

    def worth_trying(self, quantity: int, most: int | None = None) -> Iterator[int]:
        """The least that can be ordered, then every later break that costs less: between breaks more never does."""
        _quantity_is_one_or_more("quantity", quantity)
        least = max(quantity, self.fewest)
        yield least
        money = self.pieces(least)
        for floor in self.floors[bisect_right(self.floors, least) :]:
            if (most is None or floor <= most) and self.pieces(floor) < money:
                yield floor

    def cheapest(self, quantity: int, most: int | None = None) -> OrderQuantity:
        """At least so many for least money; of equal cost the fewest. At most `most`, unless the minimum is more.

        min over Q ≥ quantity of set-up + pieces(Q)      Valid from 1 piece.  Source: common practice.

        >>> PriceList((Break(1, Decimal(48)), Break(5, Decimal(42)), Break(10, Decimal(36)))).cheapest(9)
        OrderQuantity(quantity=10, cost=Decimal('360'))
        """
        tried = (OrderQuantity(number, self.cost(number)) for number in self.worth_trying(quantity, most))
        return min(tried, key=lambda purchase: purchase.cost)

    @cached_property
    def _starts(self) -> list[int]:
        """How many pieces were priced before each band begins: the first band begins with the first piece."""
        return [0, *(floor - 1 for floor in self.floors[1:])]

    @cached_property
    def _before(self) -> list[Decimal]:
        """What the full bands before each one cost."""
        sums = [NOTHING]
        for at, (start, after) in enumerate(pairwise(self._starts)):
            sums.append(sums[-1] + (after - start) * self.breaks[at].price)
        return sums


def _quantity_is_one_or_more(name: str, quantity: int) -> None:
    if quantity < 1:
        raise ValueError(f"{name}: a quantity of {quantity} cannot be ordered; enter 1 or more.")


def _break_is_further_on(before: int, after: int) -> None:
    if after == before:
        raise ValueError(f"price breaks: there are two prices from {after}; leave one.")
    if after < before:
        raise ValueError(f"price breaks: {after} stands after {before}; put the quantities in rising order.")


def order_working(prices: PriceList, quantity: int, currency: str) -> Working:
    """How `PriceList.cheapest` came about: every order worth trying, and the advice."""
    best = prices.cheapest(quantity)
    tried = tuple(
        (f"order {number}", f"{cents(prices.cost(number))} {currency}") for number in prices.worth_trying(quantity)
    )
    return Working(
        "what to order",
        _FORMULAS[prices.counting],
        (("needed", str(quantity)), ("set-up", f"{prices.setup} {currency}"), *tried),
        f"order {best.quantity}: {cents(best.cost)} {currency}",
        COMMON_PRACTICE,
        _advice(prices, quantity, best, currency),
    )


_FORMULAS = {
    Counting.ALL_UNITS: "set-up + Q · the price that Q reaches; least over the number needed and each later break",
    Counting.INCREMENTAL: "set-up + Σ pieces in each band · its price; least over the number needed and later breaks",
}


def _advice(prices: PriceList, quantity: int, best: OrderQuantity, currency: str) -> str:
    least = max(quantity, prices.fewest)
    if best.quantity > least:
        saved = cents(prices.cost(least) - best.cost)
        over = best.quantity - quantity
        return f"Order {best.quantity}, not {least}: it saves {saved} {currency} and leaves {over} over."
    if best.quantity > quantity:
        return f"The fewest that are sold are {least}."
    return "No later break costs less."
