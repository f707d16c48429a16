"""The cost ladder as a picture: cost of one machine against how many, the leaps, and what buyers would bear."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from math import ceil, floor, log10

from projects.money.ladder import CostLadder

from .cash import Mark

LEFT, RIGHT, TOP, BOTTOM = 46.0, 372.0, 12.0, 200.0  # a picture's own units: a phone's width, room for the scale
TICKS = (1, 5, 10, 20, 30, 40, 50)
MOST_LEAPS = 9  # numbered on the picture; all of them stand in the list


@dataclass(frozen=True)
class LadderPicture:
    """Everything the template draws; `rungs` and `bearable` are the points of stepped lines."""

    rungs: str
    bearable: str
    sizes: list[Mark]
    leaps: list[Mark]
    across: list[Mark]
    up: list[Mark]


def ladder_picture(ladder: CostLadder, sizes: Iterable[int], bearable: Sequence[Decimal] = ()) -> LadderPicture:
    """`bearable`: what each firm buyer would bear for one machine; drawn from the most down."""
    costs = [rung.each for rung in ladder.rungs]
    scale = LadderScale(len(costs), max([*costs, *bearable, Decimal(1)]))
    leaps = sorted(ladder.steps, key=lambda step: -abs(step.change))[:MOST_LEAPS]
    return LadderPicture(
        scale.stairs(costs),
        scale.stairs(sorted(bearable, reverse=True)[: len(costs)]),
        [scale.mark(size, costs[size - 1], str(size)) for size in sizes if size <= len(costs)],
        [scale.mark(step.size, costs[step.size - 1], str(step.size)) for step in sorted(leaps, key=lambda s: s.size)],
        [Mark(scale.x(at), BOTTOM, str(at)) for at in TICKS if at <= len(costs)],
        [Mark(LEFT, scale.y(value), f"{value:g}") for value in scale.values],
    )


@dataclass(frozen=True)
class LadderScale:
    count: int
    most: Decimal

    def x(self, size: float) -> float:
        return round(LEFT + (RIGHT - LEFT) * (size - 0.5) / self.count, 1)

    def y(self, cost: Decimal | float) -> float:
        return round(BOTTOM - (BOTTOM - TOP) * float(cost) / self.values[-1], 1)

    def mark(self, size: int, cost: Decimal, label: str) -> Mark:
        return Mark(self.x(size), self.y(cost), label)

    def stairs(self, costs: Sequence[Decimal]) -> str:
        """Level over each size, upright between two."""
        ends = ((size - 0.5, size + 0.5, self.y(cost)) for size, cost in enumerate(costs, start=1))
        return " ".join(f"{self.x(begin)},{y} {self.x(end)},{y}" for begin, end, y in ends)

    @cached_property
    def values(self) -> list[float]:
        """Up to six round numbers from nothing, the last of them above all that is drawn."""
        most = float(self.most)
        power = 10 ** floor(log10(most))
        step = next(power * share for share in (0.2, 0.5, 1, 2) if 5 * power * share >= most)
        return [round(step * at, 2) for at in range(ceil(most / step) + 1)]
