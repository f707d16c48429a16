"""A design's rows as values for `projects.money`: each part's route, with every way there is to have a thing done."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cache, cached_property
from typing import Any

from projects.buying.domain.comparison import PricedQuote, priced_quotes
from projects.buying.domain.route_gaps import NO_ROUTE
from projects.money import unit
from projects.money.breaks import Break, PriceList
from projects.record.models.routes import Operation, Tool

from .finishing_costs import Bought, Finishing

Process = Operation.Process
NOTHING = Decimal(0)
MOULDED = (Tool.Kind.PATTERN, Tool.Kind.CORE_BOX)
WHOLE = "the machine as a whole"
PAINT, BLASTER = "paint, in whole tins", "blasting contractor"


@dataclass(frozen=True)
class Gap:
    """What cannot be reckoned with, why, and the page of the row at which it is mended."""

    what: str
    why: str
    page: str
    row: Any


@dataclass(frozen=True, eq=False)
class DesignRoutes:
    """Routes of one design on a day. `expired`: quotes that ended, or are for another revision, count too."""

    design: Any
    day: date
    expired: bool = False
    spare_sets: int = 0

    @cached_property
    def parts(self) -> list[Any]:
        rows = self.design.parts.select_related("workshop", "lettering_coating").prefetch_related(
            "system__layers__coating__tin_sizes", "system__layers__coating__additives"
        )
        return list(rows.order_by("name"))

    @cached_property
    def operations(self) -> list[Operation]:
        """In the order of each route."""
        rows = Operation.objects.filter(design=self.design).select_related("part", "design")
        rows = rows.prefetch_related("tools__operation__order_lines__receipts")
        return list(rows.order_by("part__name", "position"))

    def of_part(self, part: Any) -> list[Operation]:
        return [row for row in self.operations if row.part_id == (part and part.pk)]

    @cached_property
    def finishing(self) -> Finishing:
        processes = {part: frozenset(row.process for row in self.of_part(part)) for part in self.parts}
        return Finishing(self.design.workshop, processes)

    @cached_property
    def routes(self) -> tuple[unit.Route, ...]:
        """Every part that has a way to be made; then the machine as a whole, its paint and its blaster."""
        parts = ((part.name, part.quantity, self.of_part(part)) for part in self.parts)
        made = [self._route(*part) for part in (*parts, (WHOLE, 1, self.of_part(None)))]
        return (*filter(None, made), *self._bought_for_all())

    def _route(self, name: str, per_machine: int, rows: list[Operation]) -> unit.Route | None:
        operations = tuple(filter(None, (self.operation(row) for row in rows)))
        spares = per_machine * self.spare_sets if name != WHOLE else 0
        return unit.Route(name, per_machine, operations, spares) if operations else None

    def _bought_for_all(self) -> Iterator[unit.Route]:
        for name, way in ((PAINT, self.finishing.paint), (BLASTER, self.finishing.blasting)):
            bought = cache(way)  # asked for once for each of its tins or days
            first = bought(1)
            if first:
                yield unit.Route(name, 1, tuple(_for_all(each.what, bought) for each in first))

    # -- one operation

    def operation(self, row: Operation) -> unit.Operation | None:
        """The first way, with the others beside it; None where nobody knows what it costs."""
        ways = list(self.ways(row))
        return replace(ways[0], instead=tuple(ways[1:])) if ways else None

    def ways(self, row: Operation) -> Iterator[unit.Operation]:
        """By finishing, or by each quote that counts; by our own figures where it is done here or nobody offered."""
        if row.worked_out:
            if row.part and not self.finishing.lacking(row.part, row.process):
                yield self._finished(row)
            return
        offers = self.offers.get(row.pk, [])
        yield from (self._quoted(row, offer) for offer in offers)
        if (row.in_house or not offers) and has_figures(row):
            yield self.own(row)

    @cached_property
    def quoted(self) -> dict[Any, list[PricedQuote]]:
        """Every quote, by operation."""
        return priced_quotes(self.design, self.day, everything=True)

    @cached_property
    def offers(self) -> dict[Any, list[PricedQuote]]:
        """Those that are reckoned with."""
        return {
            key: [one for one in columns if one.prices is not None and one.counts(self.expired)]
            for key, columns in self.quoted.items()
        }

    @property
    def left_out(self) -> list[PricedQuote]:
        """Quotes with prices that would count if those that ended, or are for another revision, did."""
        priced = [one for one in self._all if one.prices is not None]
        return [one for one in priced if one.counts(expired=True) and not one.counts(self.expired)]

    @property
    def priceless(self) -> list[PricedQuote]:
        """Quotes that count and cannot be reckoned with, for want of a rate or a weight."""
        return [one for one in self._all if one.prices is None and one.counts(self.expired)]

    @property
    def _all(self) -> Iterator[PricedQuote]:
        return (one for columns in self.quoted.values() for one in columns)

    def _finished(self, row: Operation) -> unit.Operation:
        minutes = self.finishing.minutes(row.part, row.process)
        return unit.Operation(
            row.process, row.label, minutes_setup=minutes.setup, minutes_each=minutes.each, key=str(row.pk)
        )

    def _quoted(self, row: Operation, offer: Any) -> unit.Operation:
        """A quote stands in for our own figures; our hands stay only where the work is not done here anyway."""
        prices = replace(offer.prices, tooling=offer.tooling_due)
        mine = self.own(row, with_hands=not row.in_house)
        if row.process == Process.PATTERN:
            return self._pattern(row, prices.tooling + prices.cost(1), mine)
        return replace(mine, prices=prices, material=NOTHING, supplier=offer.quote.supplier.name)

    def own(self, row: Operation, with_hands: bool = True) -> unit.Operation:
        if row.process == Process.PATTERN:
            return self._pattern(row, row.setup + row.each, self._hands(row, with_hands))
        each = row.each + row.per_kilogram * _kilograms(row)
        prices = PriceList((Break(1, NOTHING),), setup=row.setup) if row.setup else None
        return replace(self._hands(row, with_hands), prices=prices, material=each, tools=self._tools(row))

    def _hands(self, row: Operation, with_hands: bool) -> unit.Operation:
        setup, each = (row.setup_minutes, row.each_minutes) if with_hands else (None, None)
        return unit.Operation(
            row.process,
            row.label,
            minutes_setup=_minutes(setup),
            minutes_each=_minutes(each),
            learning=row.learning,
            yield_=row.good_percent / 100,
            key=str(row.pk),
        )

    # -- tools

    def _pattern(self, row: Operation, cost: Decimal, hands: unit.Operation) -> unit.Operation:
        """Made once and not for each piece; one that is in use need not be made again until it is worn out."""
        life = min((tool.life for tool in self._moulded(row) if tool.life), default=None)
        once = hands.minutes_setup + hands.minutes_each
        left = sum(tool.left or 0 for tool in self._moulded(row) if tool.state == Tool.State.IN_USE)
        there = self.has_pattern(row)
        if there and life is None:
            return replace(hands, minutes_setup=NOTHING, minutes_each=NOTHING, prices=None)
        tool = unit.Tool(row.label, cost, life, left if life else 0)
        return replace(hands, minutes_setup=NOTHING if there else once, minutes_each=NOTHING, tools=(tool,))

    def new_patterns(self, row: Operation, mouldings: int) -> int:
        """How many have to be made for so many mouldings; none as long as one in use lasts."""
        tools = self._pattern(row, NOTHING, self._hands(row, with_hands=False)).tools
        return sum(tool.bought(mouldings) for tool in tools)

    def has_pattern(self, row: Operation) -> bool:
        """Whether one is in use."""
        return any(tool.state == Tool.State.IN_USE for tool in self._moulded(row))

    def _moulded(self, row: Operation) -> list[Tool]:
        return [
            tool
            for one in self.operations
            if one.part_id == row.part_id
            for tool in one.tools.all()
            if tool.kind in MOULDED and tool.state != Tool.State.WORN_OUT
        ]

    def _tools(self, row: Operation) -> tuple[unit.Tool, ...]:
        """Those used in it, but for patterns that a pattern operation of the same part pays for."""
        paid = any(one.process == Process.PATTERN for one in self.operations if one.part_id == row.part_id)
        return tuple(
            unit.Tool(str(tool), tool.cost, tool.life, (tool.left or 0) if tool.state == Tool.State.IN_USE else 0)
            for tool in row.tools.all()
            if not (paid and tool.kind in MOULDED) and _still_costs(tool)
        )

    # -- what is missing

    @cached_property
    def gaps(self) -> list[Gap]:
        return [*self._gaps_of_parts(), *self._gaps_of_quotes(), *self._gaps_of_paint()]

    def _gaps_of_parts(self) -> Iterator[Gap]:
        for part in self.parts:
            if not self.of_part(part):
                yield Gap(part.name, NO_ROUTE, "route", part)
        for row in self.operations:
            if row.worked_out:
                lacking = self.finishing.lacking(row.part, row.process) if row.part else "it belongs to a part"
                if lacking:
                    yield Gap(str(row), lacking, "operation", row)
            elif not any(self.ways(row)) and not self._made_already(row):
                yield Gap(str(row), "no quote that counts and no figure of our own", "operation", row)

    def _gaps_of_quotes(self) -> Iterator[Gap]:
        for one in self.priceless:
            yield Gap(f"{one.quote.operation}, {one.quote.supplier}", one.trouble, "quote", one.quote)

    def _made_already(self, row: Operation) -> bool:
        return row.process == Process.PATTERN and bool(self._moulded(row))

    def _gaps_of_paint(self) -> Iterator[Gap]:
        for coating in self.finishing.unpriced:
            yield Gap(str(coating), "no tin of it has a price", "coating-edit", coating)


def _for_all(what: str, bought: Callable[[int], Iterable[Bought]]) -> unit.Operation:
    """Bought once for the whole batch."""

    def cost(machines: int) -> Decimal:
        return next((each.cost for each in bought(machines) if each.what == what), NOTHING)

    return unit.Operation("finishing", what, for_all=cost)


def has_figures(row: Operation) -> bool:
    money = (row.setup, row.each, row.per_kilogram)
    return any(money) or any(time.magnitude for time in (row.setup_minutes, row.each_minutes))


def _still_costs(tool: Tool) -> bool:
    """One in use that lasts for good is paid for."""
    return tool.state == Tool.State.WANTED or (tool.state == Tool.State.IN_USE and tool.life is not None)


def _kilograms(row: Operation) -> Decimal:
    return (row.part.kilograms if row.part else None) or NOTHING


def _minutes(time: Any) -> Decimal:
    return Decimal(str(time.to("minute").magnitude)) if time is not None else NOTHING
