"""What is in stock or on order against what a batch needs: how many are still to be ordered."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

from .starts import NINE_IN_TEN, entering


@dataclass(frozen=True)
class StockUnit:
    """One of a part. through: so many operations of its route · seated: in a machine, or meant for one.

    key: of the piece; empty where it is only counted, as what was received without a mark
    """

    key: str
    through: int
    seated: bool = False


def counted_in(units: Iterable[StockUnit], counts: Sequence[int]) -> list[StockUnit]:
    """The same, moved on by what was received without saying which: counts[k] came good from operation k.

    Those furthest along the route are assumed to be the ones; where there are fewer of them than came good, the others
    are units without a key.

    >>> [unit.through for unit in counted_in([StockUnit("F-1", 1), StockUnit("F-2", 1)], (2, 1))]
    [2, 1]
    >>> [unit.through for unit in counted_in([], (3, 1))]
    [2, 1, 1]
    """
    counted = list(units)
    for at in reversed(range(len(counts))):
        further = max(0, counts[at] - sum(unit.through > at for unit in counted))
        before = sorted((unit for unit in counted if unit.through <= at), key=_furthest)
        known = before[:further]
        ahead = [unit for unit in counted if unit.through > at] + [replace(unit, through=at + 1) for unit in known]
        counted = ahead + [StockUnit("", at + 1)] * (further - len(known)) + before[further:]
    return counted


def spare(units: Iterable[StockUnit], seats: int) -> list[StockUnit]:
    """Those left over by machines with so many places for them, which keep what sits in them, then what is furthest.

    >>> [unit.key for unit in spare([StockUnit("a", 1), StockUnit("b", 2), StockUnit("c", 1, seated=True)], 2)]
    ['a']
    """
    in_order = sorted(units, key=_furthest)
    return [unit for unit in in_order[max(0, seats) :] if not unit.seated]


def _furthest(unit: StockUnit) -> tuple[bool, int]:
    return not unit.seated, -unit.through


@dataclass(frozen=True)
class NetRequirement:
    """How many pieces must still be ordered of one operation.

    gross: would come to it without any stock · wanted: good ones of it, for enough to come through the rest
    in_stock: through it already · on_order: ordered of it and not received
    """

    gross: int
    wanted: int
    in_stock: int = 0
    on_order: int = 0
    yield_: Decimal = Decimal(1)
    chance: Decimal = NINE_IN_TEN

    @property
    def missing(self) -> int:
        return max(0, self.wanted - self.in_stock)

    @property
    def needed(self) -> int:
        """To be sent through it, for those that are missing: never more than without any stock."""
        if not self.in_stock:
            return self.gross
        return min(self.gross, entering(self.missing, (self.yield_,), self.chance)[0]) if self.missing else 0

    @property
    def to_order(self) -> int:
        return max(0, self.needed - self.on_order)

    @property
    def reduced(self) -> bool:
        """Whether any of it is in stock or on order."""
        return bool(self.in_stock or self.on_order)


def net_requirements(
    good: int,
    yields: Sequence[Decimal],
    chance: Decimal,
    in_stock: Sequence[int],
    on_order: Sequence[int],
) -> list[NetRequirement]:
    """For each operation of a route how many are still to be ordered.

    to order = max(0, needed − on order);  needed = starts for (wanted − in stock) good ones;  wanted = starts of the
    rest of the route for the good ones in the end.  Without any stock: as `entering` has it.
    What is through an operation is through all before it.      Source: common practice; BINOMIAL for the starts.

    >>> [one.to_order for one in net_requirements(10, (Decimal(1), Decimal(1)), NINE_IN_TEN, (4, 1), (3, 0))]
    [3, 9]
    """
    numbers = entering(good, tuple(yields), chance)
    requirements: list[NetRequirement] = []
    furthest = 0
    for at in reversed(range(len(numbers))):
        furthest = max(furthest, in_stock[at])
        rest = tuple(yields[at + 1 :])
        wanted = entering(good, rest, chance)[0] if rest else good
        requirements.insert(0, NetRequirement(numbers[at], wanted, furthest, on_order[at], yields[at], chance))
    return requirements


def net_requirement_working(requirement: NetRequirement, what: str) -> Working:
    """How a number to be ordered came about."""
    good, needed, scrap = f"{100 * requirement.yield_:.4g} %", str(requirement.needed), requirement.yield_ < 1
    return Working(
        f"still to order of {what}",
        "max(0, needed for (wanted − in hand) − on order)",
        (
            ("if nothing were there", str(requirement.gross)),
            ("good ones of it wanted", str(requirement.wanted)),
            ("in hand", str(requirement.in_stock)),
            ("missing", str(requirement.missing)),
            *((("come out good", good), ("to send through it for these", needed)) if scrap else ()),
            ("on order, not received", str(requirement.on_order)),
        ),
        str(requirement.to_order),
        "BINOMIAL" if scrap else COMMON_PRACTICE,
        f"With a chance of {100 * requirement.chance:.4g} %, and never more than if nothing were there."
        if scrap
        else "",
    )
