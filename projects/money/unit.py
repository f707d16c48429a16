"""What good parts cost at any quantity: how many are started, and what every operation on the way adds."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from math import ceil
from typing import Any, NamedTuple

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

from .breaks import PriceList
from .learning import Reading, check_learning, hours_for
from .rounding import as_quoted, cents, not_below_nothing, shared_out
from .starts import NINE_IN_TEN, check_chance, check_scrap, entering, rolled

NOTHING = Decimal(0)
AMOUNTS = ("tools", "setup", "pieces", "material", "work", "overhead")  # what a line adds up


@dataclass(frozen=True)
class Tool:
    """A pattern, core box or jig: its cost, its life in mouldings, and the mouldings left in one already paid for."""

    name: str
    cost: Decimal
    life: int | None = None
    left: int = 0

    def __post_init__(self) -> None:
        not_below_nothing(self.name, self.cost)
        if (self.life is not None and self.life < 1) or self.left < 0:
            raise ValueError(f"{self.name}: a tool lasts for one moulding at least.")

    def bought(self, mouldings: int) -> int:
        """How many have to be paid for: one that lasts for good, or a new one whenever the last is worn out."""
        return 1 if self.life is None else ceil(max(0, mouldings - self.left) / self.life)

    def charge(self, mouldings: int, spread: bool) -> Decimal:
        """Paid off by this batch, or its wear alone: cost · mouldings / life."""
        if spread and self.life is not None:
            return self.cost * mouldings / self.life
        return self.cost * self.bought(mouldings)


@dataclass(frozen=True)
class Operation:
    """One line of a route. Material is for each start; minutes are of our own hands; a lot shares one set-up.

    `instead`: other ways to have it done, with the same scrap; at every quantity the cheapest way is taken.
    `for_all`: what is bought for so many machines at once, such as paint in whole tins; it may not fall.
    Raises ValueError, in the user's words, for what cannot be.
    """

    process: str
    name: str
    tools: tuple[Tool, ...] = ()
    prices: PriceList | None = None
    minutes_setup: Decimal = NOTHING
    minutes_each: Decimal = NOTHING
    learning: Decimal | None = None
    yield_: Decimal = Decimal(1)
    material: Decimal = NOTHING
    supplier: str = ""
    key: str = ""
    lot: int | None = None
    instead: tuple["Operation", ...] = ()
    for_all: Callable[[int], Decimal] | None = None

    def __post_init__(self) -> None:
        check_scrap(1, self.yield_)
        for name in ("minutes_setup", "minutes_each", "material"):
            not_below_nothing(f"{self.name}, {name.replace('_', ' ')}", getattr(self, name))
        if self.learning is not None:
            check_learning(self.learning)
        if self.lot is not None and self.lot < 1:
            raise ValueError(f"{self.name}: a lot holds one piece at least.")

    @cached_property
    def all_tools(self) -> tuple[Tool, ...]:
        """Its own, and what its supplier asks for tooling."""
        asked = (Tool("tooling", self.prices.tooling),) if self.prices and self.prices.tooling else ()
        return self.tools + asked

    def setups(self, pieces: int) -> int:
        return ceil(pieces / self.lot) if self.lot else 1


@dataclass(frozen=True)
class Route:
    """How a part is made, how many a machine takes, and how many spares are wanted beside all machines."""

    part: str
    per_machine: int
    operations: tuple[Operation, ...]
    spares: int = 0

    def __post_init__(self) -> None:
        if not self.operations:
            raise ValueError(f"{self.part}: its route is empty; say how it is made or bought.")
        if self.per_machine < 1 or self.spares < 0:
            raise ValueError(f"{self.part}: a machine takes one at least, and spares are none or more.")

    @cached_property
    def yields(self) -> tuple[Decimal, ...]:
        return tuple(operation.yield_ for operation in self.operations)


@dataclass(frozen=True)
class Terms:
    """Wage per hour, overhead as percent of wages, chance of enough good ones, how tools and learning are counted."""

    wage: Decimal
    overhead: Decimal = NOTHING
    chance: Decimal = NINE_IN_TEN
    spread_tools: bool = False
    learning: Reading = Reading.CRAWFORD

    def __post_init__(self) -> None:
        not_below_nothing("rate per hour", self.wage)
        not_below_nothing("overhead", self.overhead)
        check_chance(self.chance)


class Line(NamedTuple):
    """What one operation adds, and how it came about. `saves`: by ordering more than the fewest that would do."""

    operation: Operation
    entering: int
    ordered: int
    tools_bought: int
    setups: int
    saves: Decimal
    tools: Decimal
    setup: Decimal
    pieces: Decimal
    material: Decimal
    work: Decimal
    overhead: Decimal

    @property
    def key(self) -> str:
        return self.operation.key

    @property
    def name(self) -> str:
        return self.operation.name

    @property
    def amounts(self) -> tuple[Decimal, ...]:
        return tuple(getattr(self, name) for name in AMOUNTS)

    @property
    def total(self) -> Decimal:
        return self.tools + self.setup + self.pieces + self.material + self.work + self.overhead


@dataclass(frozen=True)
class PartCost:
    """All good ones of a part: the sheet's lines, their sum, and one good one's share of it."""

    part: str
    lines: tuple[Line, ...]
    good: int
    starts: int
    spares_left: int
    total: Decimal
    each: Decimal


@dataclass(frozen=True)
class MachineCost:
    """A batch of machines: every part's sheet, the development that it bears, the sum, and one machine's share."""

    machines: int
    parts: tuple[PartCost, ...]
    development: Decimal
    total: Decimal
    each: Decimal

    @cached_property
    def shares_of_one(self) -> list[Decimal]:
        """Of one machine's cost, by part and of development last: they add up to it."""
        return shared_out(self.each, [*(part.total for part in self.parts), self.development])


def part_cost(route: Route, machines: int, terms: Terms, spares: int = 0) -> PartCost:
    """A part's sheet in cents: the total is rounded once, and its shares are handed out so that they add up.

    tools + set-ups + price of the pieces + material · starts + wage · hours + overhead
    Good ones = machines · per machine + spares; see `entering` for how many every operation meets.
    Valid from 1 machine.  Raises ValueError below.  Source: common practice; BINOMIAL for the starts.

    >>> moulding = (Tool("pattern", Decimal(640)), Tool("core box", Decimal(180)))
    >>> casting = Operation("casting", "cast", moulding, minutes_setup=Decimal(60), material=Decimal("58.50"))
    >>> part_cost(Route("frame", 1, (casting,)), 5, Terms(wage=Decimal(95))).each
    Decimal('241.50')
    """
    cost = exact_cost(route, machines, terms, spares)
    return _in_cents((cost,), cents(cost.total), NOTHING)[0][0]


def machine_cost(
    routes: Sequence[Route], machines: int, terms: Terms, development_each: Decimal = NOTHING
) -> MachineCost:
    """All parts of a batch of machines, rounded once; `development_each` is what one machine bears of it.

    each = (Σ parts + development) / machines.  A part's share may lie a cent beside the total of its own sheet.
    Raises ValueError where no part has a route, or below 1 machine.  Source: common practice.
    """
    if not routes:
        raise ValueError("No part has a route yet; say for one at least how it is made or bought.")
    not_below_nothing("development", development_each)
    exact = tuple(exact_cost(route, machines, terms) for route in routes)
    development = development_each * machines
    total = sum((cost.total for cost in exact), development)
    parts, borne = _in_cents(exact, cents(total), development)
    return MachineCost(machines, parts, borne, cents(total), cents(total / machines))


def exact_cost(route: Route, machines: int, terms: Terms, spares: int = 0) -> PartCost:
    """The sheet before it is rounded. Raises ValueError, with the part's name, for what cannot be reckoned."""
    if machines < 1:
        raise ValueError(f"machines: {machines} cannot be made; enter 1 or more.")
    good = route.per_machine * machines + route.spares + spares
    try:
        numbers = entering(good, route.yields, terms.chance)
        lines = Batch(machines, terms).lines(route.operations, numbers)
    except ValueError as wrong:
        raise ValueError(f"{route.part}: {wrong}") from wrong
    total = sum((line.total for line in lines), NOTHING)
    left = max(0, int(numbers[0] * rolled(route.yields)) - good)
    return PartCost(route.part, lines, good, numbers[0], left, total, total / good)


@dataclass(frozen=True)
class Batch:
    """So many machines, on these terms: what each operation adds, before it is rounded."""

    machines: int
    terms: Terms

    def lines(self, operations: Sequence[Operation], numbers: Sequence[int]) -> tuple[Line, ...]:
        met = zip(operations, numbers, strict=True)
        return tuple(self.cheapest_way(one, number, at == 0) for at, (one, number) in enumerate(met))

    def cheapest_way(self, operation: Operation, number: int, makes_them: bool) -> Line:
        """Of all ways to have it done the one that costs least; of equal ones the first."""
        lines = [self.in_one_way(way, number, makes_them) for way in (operation, *operation.instead)]
        return min(lines, key=lambda line: line.total)

    def in_one_way(self, operation: Operation, number: int, makes_them: bool) -> Line:
        """Of the orders worth trying the cheapest with its tools and material; of equal ones the smallest."""
        if operation.prices is None:
            return self._line(operation, number, number, makes_them)
        first, *others = (self._line(operation, number, at, makes_them) for at in operation.prices.worth_trying(number))
        best = min(others, key=lambda line: line.total, default=first)
        return best._replace(saves=first.total - best.total) if best.total < first.total else first

    def _line(self, operation: Operation, number: int, ordered: int, makes_them: bool) -> Line:
        """Only a route's first operation makes pieces: a later one works on those there are, whatever was ordered."""
        there = ordered if makes_them else number
        terms, prices, tools = self.terms, operation.prices, operation.all_tools
        setups = operation.setups(there)
        setting_up = setups * operation.minutes_setup * terms.wage / 60
        work = _minutes(operation, number, terms.learning) * terms.wage / 60
        return Line(
            operation,
            number,
            ordered,
            tools_bought=sum([tool.bought(there) for tool in tools]),
            setups=setups,
            saves=NOTHING,
            tools=sum([tool.charge(there, terms.spread_tools) for tool in tools], NOTHING),
            setup=setting_up + (setups * prices.setup if prices else 0),
            pieces=self._pieces(operation, ordered),
            material=operation.material * there,
            work=work,
            overhead=(setting_up + work) * terms.overhead / 100,
        )

    def _pieces(self, operation: Operation, ordered: int) -> Decimal:
        for_all = operation.for_all(self.machines) if operation.for_all else NOTHING
        return for_all + (operation.prices.pieces(ordered) if operation.prices else NOTHING)


def _minutes(operation: Operation, number: int, reading: Reading) -> Decimal:
    if operation.learning is None:
        return operation.minutes_each * number
    return hours_for(operation.minutes_each, operation.learning, number, reading)


def _in_cents(costs: Sequence[PartCost], total: Decimal, development: Decimal) -> tuple[tuple[PartCost, ...], Decimal]:
    """Every amount of every line as its share of the one rounded total."""
    exact = [amount for cost in costs for line in cost.lines for amount in line.amounts]
    shares = iter(shared_out(total, [*exact, development]))
    return tuple(_part_in_cents(cost, shares) for cost in costs), next(shares)


def _part_in_cents(cost: PartCost, shares: Iterator[Decimal]) -> PartCost:
    lines = tuple(_line_in_cents(line, shares) for line in cost.lines)
    total = sum((line.total for line in lines), NOTHING)
    return replace(cost, lines=lines, total=total, each=cents(cost.each))


def _line_in_cents(line: Line, shares: Iterator[Decimal]) -> Line:
    amounts: dict[str, Any] = {name: next(shares) for name in AMOUNTS}
    return line._replace(saves=cents(line.saves), **amounts)


def line_working(line: Line, terms: Terms, currency: str) -> Working:
    """How one line of a sheet came about."""
    return Working(
        f"cost of {line.name}",
        "tools + set-ups + price of the pieces + material · starts + wage · hours + overhead",
        (
            *_counts(line),
            *_price(line, currency),
            *_rates(line.operation, terms, currency),
            *((name, f"{amount} {currency}") for name, amount in zip(_NAMES, line.amounts, strict=True) if amount),
        ),
        f"{line.total} {currency}",
        COMMON_PRACTICE,
        "Tools bear their wear alone." if terms.spread_tools else "This batch pays for its tools.",
    )


_NAMES = ("tools", "set-ups", "pieces", "material", "work", "overhead")


def _counts(line: Line) -> Iterator[tuple[str, str]]:
    yield "pieces that it meets", str(line.entering)
    if line.ordered != line.entering:
        yield "ordered", str(line.ordered)
    if line.saves:
        yield "saved by ordering more", str(line.saves)
    if line.setup:
        yield "set-ups paid", str(line.setups)
    if line.tools:
        yield "tools needed", str(line.tools_bought)


def _price(line: Line, currency: str) -> Iterator[tuple[str, str]]:
    prices = line.operation.prices
    if prices:
        reached = prices.breaks[prices.band(line.ordered)]
        yield (
            f"price reached, {prices.counting}",
            f"{as_quoted(reached.price)} {currency} each from {reached.from_quantity}",
        )
        yield "set-up of an order", f"{prices.setup} {currency}"


def _rates(operation: Operation, terms: Terms, currency: str) -> Iterator[tuple[str, str]]:
    for tool in operation.all_tools:
        life = f", good for {tool.life}" if tool.life else ""
        yield tool.name, f"{tool.cost} {currency}{life}"
    if operation.minutes_setup or operation.minutes_each:
        learning = f", learning {operation.learning} % of the {terms.learning}" if operation.learning else ""
        yield "own hands", f"{operation.minutes_setup} min set-up, {operation.minutes_each} min each{learning}"
        yield "rate and overhead", f"{terms.wage} {currency}/h, {terms.overhead} %"
    if operation.material:
        yield "material for each start", f"{operation.material} {currency}"


def part_working(cost: PartCost, currency: str) -> Working:
    """How the cost of one good part came about."""
    return Working(
        f"cost of one {cost.part}",
        "Σ operations / good ones",
        (
            *((line.name, f"{line.total} {currency}") for line in cost.lines),
            ("all of them", f"{cost.total} {currency}"),
            ("started", str(cost.starts)),
            ("good ones wanted", str(cost.good)),
        ),
        f"{cost.each} {currency}",
        COMMON_PRACTICE,
        f"Spares likely left over: {cost.spares_left}.",
    )


def machine_working(cost: MachineCost, currency: str) -> Working:
    """How the cost of one machine came about."""
    return Working(
        f"cost of one machine, {cost.machines} made",
        "(Σ parts + development) / machines",
        (
            *((part.part, f"{part.total} {currency}") for part in cost.parts),
            ("development", f"{cost.development} {currency}"),
            ("all of them", f"{cost.total} {currency}"),
            ("machines", str(cost.machines)),
        ),
        f"{cost.each} {currency}",
        COMMON_PRACTICE,
        "Rounded once; the cents left over go to those of whom most was cut off.",
    )
