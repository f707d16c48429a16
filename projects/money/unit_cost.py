"""What good parts cost at any quantity: how many are started, and what every operation on the way adds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from math import ceil
from typing import NamedTuple

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

from .breaks import PriceList
from .learning import LearningModel, check_learning, hours_for
from .rounding import as_quoted, cents, not_below_nothing, shared_out
from .starts import NINE_IN_TEN, check_chance, check_scrap, entering, left_rough

NOTHING = Decimal(0)
HAIR = Decimal("1e-9")  # sums are kept to 28 figures: a lot that is just full asks for no other
AMOUNTS = ("tools", "setup", "pieces", "material", "work", "overhead")  # what a line adds up


@dataclass(frozen=True)
class ToolCost:
    """A pattern, core box or jig: its cost, its life in mouldings, the mouldings left in one already paid for, and the
    days that a new one takes."""

    name: str
    cost: Decimal
    life: int | None = None
    left: int = 0
    days: int = 0

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
class RouteOperation:
    """One operation of a route. Material is for each start; minutes are of our own hands; a lot shares one set-up.

    `made_before`: pieces that it was done to before this batch: a learning curve goes on from them.
    `days`: from when its pieces and tools are there to its last piece.
    `recast_free`: bad castings are replaced free of charge, those too that a later operation with `casting_faults`
    shows, so only as many are paid as there are good ones   [common practice, no source]
    `lot`: pieces that a set-up serves, a fraction where one piece takes several; None: all of them.
    `instead`: other ways to have it done, with the same scrap; at every quantity the cheapest way is taken.
    `for_all`: by the number of machines, what is bought once for all of them, such as paint in whole tins; a number
    that is not in it cannot be reckoned with, and a greater one costs no less.
    Raises ValueError, in the user's words, for what cannot be.
    """

    process: str
    name: str
    tools: tuple[ToolCost, ...] = ()
    prices: PriceList | None = None
    minutes_setup: Decimal = NOTHING
    minutes_each: Decimal = NOTHING
    learning: Decimal | None = None
    yield_: Decimal = Decimal(1)
    material: Decimal = NOTHING
    supplier: str = ""
    key: str = ""
    lot: Decimal | int | None = None
    instead: tuple["RouteOperation", ...] = ()
    for_all: Mapping[int, Decimal] | None = None
    made_before: int = 0
    days: int = 0
    recast_free: bool = False
    casting_faults: bool = False

    def __post_init__(self) -> None:
        check_scrap(1, self.yield_)
        for name in ("minutes_setup", "minutes_each", "material"):
            not_below_nothing(f"{self.name}, {name.replace('_', ' ')}", getattr(self, name))
        if self.learning is not None:
            check_learning(self.learning)
        if self.lot is not None and self.lot <= 0:
            raise ValueError(f"{self.name}: a lot holds something.")

    @cached_property
    def all_tools(self) -> tuple[ToolCost, ...]:
        """Its own, and what its supplier asks for tooling."""
        asked = (ToolCost("tooling", self.prices.tooling),) if self.prices and self.prices.tooling else ()
        return self.tools + asked

    def setups(self, pieces: int) -> int:
        return ceil(Decimal(pieces) / self.lot - HAIR) if self.lot else 1

    def bought_for(self, machines: int) -> Decimal:
        """What is bought once for so many machines; ValueError where nobody has said what that costs."""
        if self.for_all is None:
            return NOTHING
        if machines not in self.for_all:
            raise ValueError(f"{self.name}: nobody knows what it costs for {machines} machines.")
        return self.for_all[machines]


@dataclass(frozen=True)
class Route:
    """How a part is made, how many a machine takes, and how many spares are wanted beside all machines."""

    part: str
    per_machine: int
    operations: tuple[RouteOperation, ...]
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
class CostingTerms:
    """Wage per hour, overhead in percent of wages, chance of enough good ones, how tools and learning are counted."""

    wage: Decimal
    overhead: Decimal = NOTHING
    chance: Decimal = NINE_IN_TEN
    spread_tools: bool = False
    learning: LearningModel = LearningModel.CRAWFORD

    def __post_init__(self) -> None:
        not_below_nothing("rate per hour", self.wage)
        not_below_nothing("overhead", self.overhead)
        check_chance(self.chance)


class CostLine(NamedTuple):
    """What one operation adds, and how it came about. `saves`: by ordering more than the fewest that would do.

    tool_days: until the last of its tools that have to be bought is there
    castings_lost: pieces that a supplier who replaces bad ones would give again
    """

    operation: RouteOperation
    entering: int
    ordered: int
    tools_bought: int
    setups: int
    saves: Decimal
    tool_days: int
    castings_lost: int
    tools: Decimal
    setup: Decimal
    pieces: Decimal
    material: Decimal
    work: Decimal
    overhead: Decimal

    def done_after(self, begins: int) -> int:
        """Days until it is done, where its pieces are there after so many and its tools are ordered on the first."""
        return max(begins, self.tool_days) + self.operation.days

    @property
    def replaced(self) -> int:
        """Free of charge."""
        return self.castings_lost if self.operation.recast_free else 0

    @property
    def to_pay(self) -> int:
        """The fewest that have to be paid."""
        return self.entering - self.replaced

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
    """What all good ones of a part cost: the sheet's lines, their sum, and one good one's share of it.

    `starts`: how many begin the route · `left`: operations after which some likely wait in store, and how many
    """

    part: str
    lines: tuple[CostLine, ...]
    good: int
    starts: int
    left: tuple[tuple[str, int], ...]
    total: Decimal
    each: Decimal

    def done_after(self, begins: int = 0) -> int:
        """Days until its last operation is done, one after another, where the first may begin after so many.

        >>> drill = RouteOperation("machining", "drill", (ToolCost("jig", Decimal(90), days=30),), days=5)
        >>> route = Route("hub", 1, (RouteOperation("casting", "cast", days=20), drill))
        >>> exact_cost(route, 5, CostingTerms(NOTHING)).done_after()
        35
        """
        for line in self.lines:
            begins = line.done_after(begins)
        return begins

    @property
    def left_in_words(self) -> str:
        """
        >>> PartCost("wheel", (), 5, 7, (("casting", 1),), NOTHING, NOTHING).left_in_words
        '1 after casting'
        """
        return ", ".join(f"{count} after {operation}" for operation, count in self.left)


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


def machine_cost(
    routes: Sequence[Route], machines: int, terms: CostingTerms, development_each: Decimal = NOTHING
) -> MachineCost:
    """All parts of a batch of machines, in cents; `development_each` is what one machine bears of it.

    part = tools + set-ups + price of the pieces + material · starts + wage · hours + overhead
    each = (Σ parts + development) / machines
    The total is rounded once, and every amount of every line is its share of that. Good ones of a part = machines ·
    per machine + spares; see `entering` for how many every operation meets.
    Raises ValueError where no part has a route, or below 1 machine.  Source: common practice; BINOMIAL for the starts.

    >>> moulding = (ToolCost("pattern", Decimal(640)), ToolCost("core box", Decimal(180)))
    >>> casting = RouteOperation("casting", "cast", moulding, minutes_setup=Decimal(60), material=Decimal("58.50"))
    >>> machine_cost([Route("frame", 1, (casting,))], 5, CostingTerms(wage=Decimal(95))).each
    Decimal('241.50')
    """
    if not routes:
        raise ValueError("No part has a route yet; say for one at least how it is made or bought.")
    not_below_nothing("development", development_each)
    exact = [exact_cost(route, machines, terms) for route in routes]
    development = development_each * machines
    total = sum((cost.total for cost in exact), development)
    amounts = [amount for cost in exact for line in cost.lines for amount in line.amounts]
    shares = iter(shared_out(cents(total), [*amounts, development]))
    parts = []
    for cost in exact:
        lines = tuple(_with_amounts(line, [next(shares) for _ in AMOUNTS]) for line in cost.lines)
        in_cents = sum((line.total for line in lines), NOTHING)
        parts.append(replace(cost, lines=lines, total=in_cents, each=cents(cost.each)))
    return MachineCost(machines, tuple(parts), next(shares), cents(total), cents(total / machines))


def _with_amounts(line: CostLine, amounts: Sequence[Decimal]) -> CostLine:
    tools, setup, pieces, material, work, overhead = amounts
    return line._replace(saves=cents(line.saves), tools=tools, setup=setup, pieces=pieces, material=material,
                         work=work, overhead=overhead)  # fmt: skip


def exact_cost(route: Route, machines: int, terms: CostingTerms) -> PartCost:
    """A part's sheet before it is rounded. Raises ValueError, with the part's name, for what cannot be reckoned."""
    if machines < 1:
        raise ValueError(f"machines: {machines} cannot be made; enter 1 or more.")
    good = route.per_machine * machines + route.spares
    try:
        numbers = entering(good, route.yields, terms.chance)
        lines = Batch(machines, terms).lines(route.operations, numbers, good)
    except ValueError as wrong:
        raise ValueError(f"{route.part}: {wrong}") from wrong
    total = sum((line.total for line in lines), NOTHING)
    rough = zip(route.operations, left_rough(numbers, route.yields, good), strict=True)
    recast = any(line.replaced for line in lines)
    left = tuple(
        (operation.name, count)
        for (operation, count), line in zip(rough, lines, strict=True)
        if count and not (recast and (line.replaced or operation.casting_faults))
    )
    return PartCost(route.part, lines, good, numbers[0], left, total, total / good)


def castings_lost(operations: Sequence[RouteOperation], numbers: Sequence[int], good: int) -> list[int]:
    """Of each operation, those that it meets in vain: what it spoils itself, and what later ones show to be its fault.

    entering − entering the next, and the same of every later operation with casting_faults
    """
    spoilt = [number - after for number, after in zip(numbers, (*numbers, good)[1:], strict=True)]
    shown = [count if operation.casting_faults else 0 for operation, count in zip(operations, spoilt, strict=True)]
    return [own + sum(shown[at + 1 :]) for at, own in enumerate(spoilt)]


@dataclass(frozen=True)
class Batch:
    """So many machines, on these terms: what each operation adds, before it is rounded."""

    machines: int
    terms: CostingTerms

    def lines(self, operations: Sequence[RouteOperation], numbers: Sequence[int], good: int) -> tuple[CostLine, ...]:
        """Each operation done in the way that costs least; of ways that cost the same, the first."""
        lost = castings_lost(operations, numbers, good)
        return tuple(
            min(
                (self.in_one_way(way, number, at == 0, lost[at]) for way in (operation, *operation.instead)),
                key=lambda line: line.total,
            )
            for at, (operation, number) in enumerate(zip(operations, numbers, strict=True))
        )

    def in_one_way(self, operation: RouteOperation, number: int, makes_them: bool, lost: int = 0) -> CostLine:
        """Of the orders worth trying the cheapest with its tools and material; of equal ones the smallest.

        lost: castings that a supplier gives again, where he does
        """
        if operation.prices is None:
            return self._line(operation, number, number, makes_them, lost)
        paid = number - lost if operation.recast_free else number
        tried = operation.prices.worth_trying(max(1, paid))
        first, *others = (self._line(operation, number, at, makes_them, lost) for at in tried)
        best = min(others, key=lambda line: line.total, default=first)
        return best._replace(saves=first.total - best.total) if best.total < first.total else first

    def _line(self, operation: RouteOperation, number: int, ordered: int, makes_them: bool, lost: int) -> CostLine:
        """Only a route's first operation makes pieces: a later one works on those there are, whatever was ordered."""
        there = max(ordered, number) if makes_them else number
        terms, prices, tools = self.terms, operation.prices, operation.all_tools
        setups = operation.setups(there)
        setting_up = setups * operation.minutes_setup * terms.wage / 60
        minutes = operation.minutes_each * number
        if operation.learning is not None:
            minutes = hours_for(
                operation.minutes_each, operation.learning, number, terms.learning, operation.made_before
            )
        work = minutes * terms.wage / 60
        return CostLine(
            operation,
            number,
            ordered,
            tools_bought=sum([tool.bought(there) for tool in tools]),
            setups=setups,
            saves=NOTHING,
            castings_lost=lost,
            tool_days=max([tool.days for tool in tools if tool.bought(there)], default=0),
            tools=sum([tool.charge(there, terms.spread_tools) for tool in tools], NOTHING),
            setup=setting_up + (setups * prices.setup if prices else 0),
            pieces=operation.bought_for(self.machines) + (prices.pieces(ordered) if prices else 0),
            material=operation.material * there,
            work=work,
            overhead=(setting_up + work) * terms.overhead / 100,
        )


def line_working(line: CostLine, terms: CostingTerms, currency: str) -> Working:
    """How one line of a sheet came about."""
    operation, prices = line.operation, line.operation.prices
    inputs = [("pieces that it meets", str(line.entering))]
    if line.ordered != line.entering:
        inputs.append(("ordered", str(line.ordered)))
    if line.replaced:
        inputs.append(("bad castings replaced free of charge", str(line.replaced)))
    if line.saves:
        inputs.append(("saved by ordering more", str(line.saves)))
    if line.setup:
        inputs.append(("set-ups paid", str(line.setups)))
        if operation.lot:
            inputs.append(("a set-up serves", f"{operation.lot:.3g}"))
    if line.tools:
        inputs.append(("tools needed", str(line.tools_bought)))
    if prices:
        reached = prices.breaks[prices.band(line.ordered)]
        price = f"{as_quoted(reached.price)} {currency} each from {reached.from_quantity}"
        inputs.append((f"price reached, {prices.counting}", price))
        inputs.append(("set-up of an order", f"{prices.setup} {currency}"))
    for tool in operation.all_tools:
        life = f", good for {tool.life}" if tool.life else ""
        inputs.append((tool.name, f"{tool.cost} {currency}{life}"))
    if operation.minutes_setup or operation.minutes_each:
        learning = f", learning {operation.learning} % of the {terms.learning}" if operation.learning else ""
        learning += f", {operation.made_before} made before" if learning and operation.made_before else ""
        minutes = (f"{minutes.normalize():f} min" for minutes in (operation.minutes_setup, operation.minutes_each))
        hands = f"{' set-up, '.join(minutes)} each{learning}"
        inputs.append(("own hands", hands))
        inputs.append(("rate and overhead", f"{terms.wage} {currency}/h, {terms.overhead} %"))
    if operation.material:
        inputs.append(("material for each start", f"{operation.material} {currency}"))
    names = ("tools", "set-ups", "pieces", "material", "work", "overhead")
    inputs += [(name, f"{amount} {currency}") for name, amount in zip(names, line.amounts, strict=True) if amount]
    return Working(
        f"cost of {line.name}",
        "tools + set-ups + price of the pieces + material · starts + wage · hours + overhead",
        tuple(inputs),
        f"{line.total} {currency}",
        COMMON_PRACTICE,
        "Tools bear their wear alone." if terms.spread_tools else "This batch pays for its tools.",
    )


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
        f"Likely left over: {cost.left_in_words}." if cost.left else "",
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
