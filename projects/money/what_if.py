"""The same routes with one of their inputs dearer, longer or worse: for a what-if, and for each input's own range."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal

from .breaks import Break, PriceList
from .unit import Operation, Route, Terms, Tool

ONE = Decimal(1)
PRICED = ("casting", "machining", "bought in")  # processes whose prices move by themselves
WORST = Decimal("0.0001")  # the least share that comes out good


def scaled_route(route: Route, shares: Mapping[str, Decimal]) -> Route:
    """A route in which inputs have moved to a share of what they were.

    Shares, 1 where none is given: "casting", "machining", "bought in": prices and material of operations of that
    process; "tools"; "minutes": our own hands; "scrap": the share that comes out bad.
    Valid for shares not below nothing; scrap ends where one in ten thousand is good.

    >>> from .unit import part_cost
    >>> casting = Operation("casting", "cast", material=Decimal(50), yield_=Decimal("0.9"))
    >>> dearer = scaled_route(Route("frame", 1, (casting,)), {"casting": Decimal("1.2"), "scrap": Decimal(0)})
    >>> part_cost(dearer, 10, Terms(wage=Decimal(0))).each
    Decimal('60.00')
    """
    return replace(route, operations=tuple(_scaled(operation, shares) for operation in route.operations))


def scaled_terms(terms: Terms, shares: Mapping[str, Decimal]) -> Terms:
    """Terms with the wage moved by its share, "wage"."""
    return replace(terms, wage=terms.wage * shares.get("wage", ONE))


def _scaled(operation: Operation, shares: Mapping[str, Decimal]) -> Operation:
    price, tools = shares.get(operation.process, ONE), shares.get("tools", ONE)
    minutes = shares.get("minutes", ONE)
    return replace(
        operation,
        tools=tuple(_scaled_tool(tool, tools) for tool in operation.tools),
        prices=operation.prices and _scaled_prices(operation.prices, price, tools),
        material=operation.material * price,
        minutes_setup=operation.minutes_setup * minutes,
        minutes_each=operation.minutes_each * minutes,
        yield_=max(WORST, 1 - (1 - operation.yield_) * shares.get("scrap", ONE)),
        instead=tuple(_scaled(other, shares) for other in operation.instead),
        for_all=_scaled_purchase(operation.for_all, price),
    )


def _scaled_tool(tool: Tool, share: Decimal) -> Tool:
    return replace(tool, cost=tool.cost * share)


def _scaled_prices(prices: PriceList, share: Decimal, tools: Decimal) -> PriceList:
    breaks = tuple(Break(at.from_quantity, at.price * share) for at in prices.breaks)
    return replace(prices, breaks=breaks, setup=prices.setup * share, tooling=prices.tooling * tools)


def _scaled_purchase(for_all: Callable[[int], Decimal] | None, share: Decimal) -> Callable[[int], Decimal] | None:
    return for_all and (lambda machines: for_all(machines) * share)
