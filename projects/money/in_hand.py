"""What is there already, or on its way, against what a batch needs: how many are still to be ordered."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

from .starts import NINE_IN_TEN, entering


@dataclass(frozen=True)
class Unit:
    """One of a part. through: so many operations of its route · seated: in a machine, or meant for one.

    key: of the piece; empty where it is only counted, as what was received without a mark
    """

    key: str
    through: int
    seated: bool = False


def counted_in(units: Iterable[Unit], counts: Sequence[int]) -> list[Unit]:
    """The same, further on by what was received without saying which: counts[k] came good from operation k.

    Those furthest ahead are taken for them; where there are not so many, the others are only counted.

    >>> [unit.through for unit in counted_in([Unit("F-1", 1), Unit("F-2", 1)], (2, 1))]
    [2, 1]
    >>> [unit.through for unit in counted_in([], (3, 1))]
    [2, 1, 1]
    """
    found = list(units)
    for at in reversed(range(len(counts))):
        further = max(0, counts[at] - sum(unit.through > at for unit in found))
        before = sorted((unit for unit in found if unit.through <= at), key=_furthest)
        known = before[:further]
        ahead = [unit for unit in found if unit.through > at] + [replace(unit, through=at + 1) for unit in known]
        found = ahead + [Unit("", at + 1)] * (further - len(known)) + before[further:]
    return found


def spare(units: Iterable[Unit], seats: int) -> list[Unit]:
    """Those that machines with so many places for it leave over: what sits in them, or is furthest, is theirs.

    >>> [unit.key for unit in spare([Unit("a", 1), Unit("b", 2), Unit("c", 1, seated=True)], 2)]
    ['a']
    """
    in_order = sorted(units, key=_furthest)
    return [unit for unit in in_order[max(0, seats) :] if not unit.seated]


def _furthest(unit: Unit) -> tuple[bool, int]:
    return not unit.seated, -unit.through


@dataclass(frozen=True)
class Lack:
    """What one operation still lacks.

    afresh: would come to it if nothing were there · wanted: good ones of it, for enough to come through the rest
    there: are through it already · on_order: ordered of it and not received
    """

    afresh: int
    wanted: int
    there: int = 0
    on_order: int = 0
    yield_: Decimal = Decimal(1)
    chance: Decimal = NINE_IN_TEN

    @property
    def missing(self) -> int:
        return max(0, self.wanted - self.there)

    @property
    def needed(self) -> int:
        """To be sent through it, for those that are missing: never more than if nothing were there."""
        if not self.there:
            return self.afresh
        return min(self.afresh, entering(self.missing, (self.yield_,), self.chance)[0]) if self.missing else 0

    @property
    def to_order(self) -> int:
        return max(0, self.needed - self.on_order)

    @property
    def anything(self) -> bool:
        return bool(self.there or self.on_order)


def lacks(
    good: int,
    yields: Sequence[Decimal],
    chance: Decimal,
    there: Sequence[int],
    on_order: Sequence[int],
) -> list[Lack]:
    """For each operation of a route how many are still to be ordered.

    to order = max(0, needed − on order);  needed = starts for (wanted − there) good ones;  wanted = starts of the
    rest of the route for the good ones in the end.  With nothing there: as `entering` has it.
    What is through an operation is through all before it.      Source: common practice; BINOMIAL for the starts.

    >>> [one.to_order for one in lacks(10, (Decimal(1), Decimal(1)), NINE_IN_TEN, (4, 1), (3, 0))]
    [3, 9]
    """
    numbers = entering(good, tuple(yields), chance)
    found: list[Lack] = []
    furthest = 0
    for at in reversed(range(len(numbers))):
        furthest = max(furthest, there[at])
        rest = tuple(yields[at + 1 :])
        wanted = entering(good, rest, chance)[0] if rest else good
        found.insert(0, Lack(numbers[at], wanted, furthest, on_order[at], yields[at], chance))
    return found


def lack_working(lack: Lack, what: str) -> Working:
    """How a number to be ordered came about."""
    scrap = (
        (("come out good", f"{100 * lack.yield_:.4g} %"), ("to send through it for these", str(lack.needed)))
        if lack.yield_ < 1
        else ()
    )
    return Working(
        f"still to order of {what}",
        "max(0, needed for (wanted − in hand) − on order)",
        (
            ("if nothing were there", str(lack.afresh)),
            ("good ones of it wanted", str(lack.wanted)),
            ("in hand", str(lack.there)),
            ("missing", str(lack.missing)),
            *scrap,
            ("on order, not received", str(lack.on_order)),
        ),
        str(lack.to_order),
        "BINOMIAL" if lack.yield_ < 1 else COMMON_PRACTICE,
        f"With a chance of {100 * lack.chance:.4g} %, and never more than if nothing were there."
        if lack.yield_ < 1
        else "",
    )
