"""Cost per machine against how many are made: the rungs, the steps between them, and what makes each step."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from itertools import pairwise

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

from .rounding import CENT, cents, shared_out
from .unit_cost import AMOUNTS, Batch, CostingTerms, CostLine, PartCost, Route, exact_cost

NOTHING = Decimal(0)
HAIR = Decimal("1e-9")  # sums are kept to 28 figures, so anything above this is no rounding


class CostDriver(StrEnum):
    """What makes the cost of one machine rise or leap down."""

    TOOL = "another tool"
    SET_UP = "another set-up"
    BREAK = "price break"
    EXTRA_START = "extra start"
    FOR_ALL = "bought for all at once"
    OTHER_WAY = "another supplier or way"


@dataclass(frozen=True)
class Rung:
    """A batch size, what one machine of it costs, and what all cost."""

    size: int
    each: Decimal
    total: Decimal


@dataclass(frozen=True)
class Cause:
    """The operation on a part that makes a step, the cost driver, and by how much for one machine, in cents."""

    part: str
    operation: str
    key: str
    driver: CostDriver
    amount: Decimal


@dataclass(frozen=True)
class LadderStep:
    """From one size to the next the cost per machine rises, or leaps down; its causes, the largest first.

    rest: what all else comes to. The causes and it add up to the change.
    """

    before: int
    size: int
    change: Decimal
    causes: tuple[Cause, ...]
    rest: Decimal

    @property
    def rest_is(self) -> str:
        return "the rest, spread over more machines" if self.rest < 0 else "the rest, in cents of rounding"


@dataclass(frozen=True)
class BetterOrder:
    """In a batch of this size, an order for more pieces of a part costs less than one for the fewest that would do."""

    size: int
    part: str
    operation: str
    key: str
    instead_of: int
    quantity: int
    saves: Decimal


@dataclass(frozen=True)
class BetterBatch:
    """A bigger batch that costs no more in all."""

    instead_of: int
    size: int
    saves: Decimal


@dataclass(frozen=True)
class CostLadder:
    rungs: tuple[Rung, ...]
    steps: tuple[LadderStep, ...]
    better_orders: tuple[BetterOrder, ...]
    better_batches: tuple[BetterBatch, ...]

    def carried_by(self, bearable: Iterable[Decimal]) -> tuple[int, ...]:
        """Sizes for which there are as many buyers as machines who would each bear the cost of one."""
        firm = sorted(bearable, reverse=True)
        return tuple(rung.size for rung in self.rungs if rung.size <= len(firm) and firm[rung.size - 1] >= rung.each)


def ladder(
    routes: Sequence[Route], sizes: Iterable[int], terms: CostingTerms, development_each: Decimal = NOTHING
) -> CostLadder:
    """The cost of one machine at every size, with each rise and each leap down explained.

    each(n) = (Σ parts(n) + development) / n      A rise is never without a cause: another tool, another set-up, a
    price that rises at its break, scrap that asks for a whole extra start, or what is bought for all at once.
    Sizes from 1.  Raises ValueError for none, or below 1.  Source: common practice.

    >>> from .breaks import Break, PriceList
    >>> from .unit_cost import RouteOperation
    >>> prices = PriceList((Break(1, Decimal(48)), Break(5, Decimal(42)), Break(10, Decimal(36))))
    >>> handle = Route("handle", 1, (RouteOperation("bought in", "buy", prices=prices),))
    >>> costs = ladder([handle], range(1, 11), CostingTerms(wage=Decimal(0)))
    >>> [(better.instead_of, better.quantity, str(better.saves)) for better in costs.better_orders]
    [(9, 10, '18.00')]
    """
    wanted = sorted(set(sizes))
    if not wanted or not routes:
        raise ValueError("Batch sizes and parts: enter one of each at least.")
    sheets = [
        _Sheets(Batch(size, terms), tuple(exact_cost(route, size, terms) for route in routes), development_each)
        for size in wanted
    ]
    rungs = tuple(sheet.rung for sheet in sheets)
    return CostLadder(
        rungs,
        tuple(_steps(sheets)),
        tuple(better for sheet in sheets for better in sheet.better_orders()),
        tuple(_better_batches(rungs)),
    )


@dataclass(frozen=True)
class _Sheets:
    batch: Batch
    parts: tuple[PartCost, ...]
    development_each: Decimal

    @property
    def size(self) -> int:
        return self.batch.machines

    @cached_property
    def rung(self) -> Rung:
        total = sum((part.total for part in self.parts), self.development_each * self.size)
        return Rung(self.size, cents(total / self.size), cents(total))

    def lines(self) -> Iterator[tuple[str, int, CostLine]]:
        """Each with its part and its place in the route."""
        return ((part.part, at, line) for part in self.parts for at, line in enumerate(part.lines))

    def better_orders(self) -> Iterator[BetterOrder]:
        for part, _, line in self.lines():
            prices = line.operation.prices
            if prices and line.saves >= CENT:
                least = max(line.to_pay, prices.fewest)
                yield BetterOrder(self.size, part, line.name, line.key, least, line.ordered, cents(line.saves))


def _better_batches(rungs: Sequence[Rung]) -> Iterator[BetterBatch]:
    """Totals never fall, so of the bigger batches that cost no more the last is as far as one can go."""
    for at, rung in enumerate(rungs):
        bigger = [other for other in rungs[at + 1 :] if other.total <= rung.total]
        if bigger:
            yield BetterBatch(rung.size, bigger[-1].size, rung.total - bigger[-1].total)


def _steps(sheets: Sequence[_Sheets]) -> Iterator[LadderStep]:
    for before, after in pairwise(sheets):
        change = after.rung.each - before.rung.each
        rises, leaps = _rises(before, after, CENT if change > 0 else NOTHING), list(_leaps_down(before, after))
        if rises if change > 0 else leaps:
            causes = tuple(sorted(rises + leaps, key=lambda cause: -abs(cause.amount)))
            yield LadderStep(before.size, after.size, change, causes, change - sum(cause.amount for cause in causes))


def _rises(before: _Sheets, after: _Sheets, least: Decimal) -> list[Cause]:
    """Every operation that costs more for a machine, in cents that add up to `least` at least."""
    risen: list[tuple[Cause, Decimal]] = []
    for (part, at, old), (_, _, new) in zip(before.lines(), after.lines(), strict=True):
        amount = new.total / after.size - old.total / before.size
        if amount > HAIR:
            # Where another way took over, the old one rose more still: it tells why.
            rose = (
                new
                if _same_way(old, new)
                else after.batch.in_one_way(old.operation, new.entering, at == 0, new.castings_lost)
            )
            driver = _driver_up(old, rose, before.size, after.size)
            risen.append((Cause(part, new.name, new.key, driver, NOTHING), amount))
    exact = [amount for _, amount in risen]
    shares = shared_out(max(least, cents(sum(exact, NOTHING))), exact) if risen else []
    return [replace(cause, amount=share) for (cause, _), share in zip(risen, shares, strict=True) if share]


def _driver_up(old: CostLine, new: CostLine, before: int, after: int) -> CostDriver:
    """By the column of the line that rose most for a machine."""
    most = max(AMOUNTS, key=lambda name: getattr(new, name) / after - getattr(old, name) / before)
    if most == "tools" and new.tools_bought > old.tools_bought:
        return CostDriver.TOOL
    if most in ("setup", "overhead") and new.setups > old.setups:
        return CostDriver.SET_UP
    if most == "pieces" and new.operation.for_all:
        return CostDriver.FOR_ALL
    return CostDriver.EXTRA_START if new.entering / after > old.entering / before else CostDriver.BREAK


def _leaps_down(before: _Sheets, after: _Sheets) -> Iterator[Cause]:
    """Every order that goes another way or reaches a later price, and so costs a machine less, by a cent at least."""
    for (part, _, old), (_, _, new) in zip(before.lines(), after.lines(), strict=True):
        whole = new.total / after.size - old.total / before.size
        if whole > HAIR:  # told as a rise
            continue
        if not _same_way(old, new):
            driver, amount = CostDriver.OTHER_WAY, whole
        elif (prices := new.operation.prices) and prices.band(new.ordered) > prices.band(old.ordered):
            driver, amount = CostDriver.BREAK, new.pieces / after.size - old.pieces / before.size
        else:
            continue
        if amount <= -CENT:
            yield Cause(part, new.name, new.key, driver, cents(amount))


def _same_way(old: CostLine, new: CostLine) -> bool:
    return old.operation is new.operation


def step_working(step: LadderStep, currency: str) -> Working:
    """Which parts and operations make a step."""
    return Working(
        f"step from {step.before} to {step.size} machines",
        "cost of one machine at the greater size − at the smaller",
        (
            *(
                (f"{cause.part}, {cause.operation}: {cause.driver}", f"{cause.amount:+} {currency}")
                for cause in step.causes
            ),
            *([(step.rest_is, f"{step.rest:+} {currency}")] if step.rest else []),
        ),
        f"{step.change:+} {currency} for a machine",
        COMMON_PRACTICE,
    )
