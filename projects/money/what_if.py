"""What if an input were dearer, longer or worse: routes and terms with it moved, and what moves the profit most."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

from .breaks import Break
from .rounding import cents
from .unit_cost import CostingTerms, Route, RouteOperation, machine_cost

ONE = Decimal(1)
WORST = Decimal("0.0001")  # the least share that comes out good


def scaled_route(route: Route, shares: Mapping[str, Decimal]) -> Route:
    """A route in which inputs have moved to a share of what they were.

    Shares, 1 where none is given: "casting", "machining", "bought in": prices and material of operations of that
    process; "tools"; "minutes": our own hands; "scrap": the share that comes out bad.
    Valid for shares not below nothing; scrap ends where one in ten thousand is good.

    >>> casting = RouteOperation("casting", "cast", material=Decimal(50), yield_=Decimal("0.9"))
    >>> dearer = scaled_route(Route("frame", 1, (casting,)), {"casting": Decimal("1.2"), "scrap": Decimal(0)})
    >>> machine_cost([dearer], 10, CostingTerms(wage=Decimal(0))).each
    Decimal('60.00')
    """
    return replace(route, operations=tuple(_scaled(operation, shares) for operation in route.operations))


def scaled_terms(terms: CostingTerms, shares: Mapping[str, Decimal]) -> CostingTerms:
    """Terms with the wage moved by its share, "wage"."""
    return replace(terms, wage=terms.wage * shares.get("wage", ONE))


def _scaled(operation: RouteOperation, shares: Mapping[str, Decimal]) -> RouteOperation:
    price, tools = shares.get(operation.process, ONE), shares.get("tools", ONE)
    minutes, prices, for_all = shares.get("minutes", ONE), operation.prices, operation.for_all
    return replace(
        operation,
        tools=tuple(replace(tool, cost=tool.cost * tools) for tool in operation.tools),
        prices=prices
        and replace(
            prices,
            breaks=tuple(Break(at.from_quantity, at.price * price) for at in prices.breaks),
            setup=prices.setup * price,
            tooling=prices.tooling * tools,
        ),
        material=operation.material * price,
        minutes_setup=operation.minutes_setup * minutes,
        minutes_each=operation.minutes_each * minutes,
        yield_=max(WORST, 1 - (1 - operation.yield_) * shares.get("scrap", ONE)),
        instead=tuple(_scaled(other, shares) for other in operation.instead),
        for_all=for_all and {machines: cost * price for machines, cost in for_all.items()},
    )


@dataclass(frozen=True)
class BatchProfit:
    """What a batch leaves at a price without tax: all of it is paid for, and what is not sold brings nothing."""

    routes: Sequence[Route]
    machines: int
    terms: CostingTerms
    development_each: Decimal
    price: Decimal

    def at(self, shares: Mapping[str, Decimal]) -> Decimal:
        """The profit with inputs moved to a share of what they are; besides those of the routes "price" and "sold".

        price · sold − cost of all that are made      Source: common practice.

        >>> casting = RouteOperation("casting", "cast", material=Decimal(262))
        >>> batch = BatchProfit([Route("set", 1, (casting,))], 10, CostingTerms(Decimal(0)), Decimal(0), Decimal(410))
        >>> str(batch.at({})), str(batch.at({"sold": Decimal("0.8")}))
        ('1480.00', '660.00')
        """
        routes = [scaled_route(route, shares) for route in self.routes]
        cost = machine_cost(routes, self.machines, scaled_terms(self.terms, shares), self.development_each)
        price, sold = self.price * shares.get("price", ONE), self.machines * shares.get("sold", ONE)
        return price * sold - cost.total


@dataclass(frozen=True)
class TornadoBar:
    """One input at both ends of its own range, as shares of what it is, and the profit at each."""

    name: str
    low: Decimal
    high: Decimal
    at_low: Decimal
    at_high: Decimal

    @property
    def swing(self) -> Decimal:
        return abs(self.at_high - self.at_low)


def tornado(batch: BatchProfit, ranges: Mapping[str, tuple[Decimal, Decimal]]) -> tuple[TornadoBar, ...]:
    """What moves a batch's profit most: each input over its own range while the others stay, the largest swing first.

    Raises ValueError for a range that does not hold 1, what is reckoned with.  Source: common practice.
    """
    bars = []
    for name, (low, high) in ranges.items():
        if not low <= ONE <= high:
            raise ValueError(f"{name}: its range {low} to {high} does not hold 1, what is reckoned with.")
        bars.append(TornadoBar(name, low, high, batch.at({name: low}), batch.at({name: high})))
    return tuple(sorted(bars, key=lambda bar: -bar.swing))


def bar_working(bar: TornadoBar, base: Decimal, currency: str) -> Working:
    """How far one input moves the profit of a batch; its ends are shares of what it is reckoned with."""
    return Working(
        f"{bar.name}, {100 * bar.low:.4g} to {100 * bar.high:.4g} %",
        "price · sold − cost of all that are made, with this input moved and the others as they are",
        (
            ("as reckoned", f"{cents(base)} {currency}"),
            (f"at {100 * bar.low:.4g} %", f"{cents(bar.at_low)} {currency}"),
            (f"at {100 * bar.high:.4g} %", f"{cents(bar.at_high)} {currency}"),
        ),
        f"{cents(bar.swing)} {currency} between the ends",
        COMMON_PRACTICE,
        "The price asked stays as it is when a cost moves.",
    )
