"""What machines of a design cost at any number: its rows as routes with every way to have a thing done, the terms it is
reckoned on, the ladder, single sheets, and what is missing.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from uuid import UUID

from finishing.science.units import Quantity
from finishing.site.models import WorkshopRow
from projects.buying.domain.comparison import PricedQuote, priced_quotes
from projects.buying.domain.offers import rates_of
from projects.buying.domain.route_gaps import NO_ROUTE
from projects.money import ladder, pricing, unit_cost
from projects.money.breaks import Break, PriceList
from projects.money.learning import LearningModel
from projects.money.what_if import scaled_route, scaled_terms
from projects.proving.domain.development import Development
from projects.record.models.cost_terms import CostTerms
from projects.record.models.designs import Design, Part
from projects.record.models.projects import Project
from projects.record.models.quotes import sizes_in
from projects.record.models.routes import Operation, Tool

from .finishing_costs import Finishing
from .hand_work import in_minutes, machines_made

Process = Operation.Process
NOTHING, HUNDRED = Decimal(0), Decimal(100)
TALLEST = 50  # machines on the ladder
MOULDED = (Tool.Kind.PATTERN, Tool.Kind.CORE_BOX)
WHOLE = "the machine as a whole"
PAINT, BLASTER, GRIT = "paint, in whole tins", "blasting contractor", "grit, in whole bags"
SESSIONS = "mixing, cleaning up and turning over, once a session"
AT_THE_END = (WHOLE, SESSIONS, PAINT, BLASTER, GRIT)  # when every part is there


@dataclass(frozen=True)
class Gap:
    """What cannot be reckoned with, why, and the page of the row at which it is mended."""

    what: str
    why: str
    page: str
    row: WorkshopRow


@dataclass(frozen=True, eq=False)
class DesignRoutes:
    """A design's routes on a day, as values. `expired`: quotes that ended, or are for another revision, count too.

    machines_made: before those that are asked about; learning goes on from them
    """

    design: Design
    day: date
    expired: bool = False
    spare_sets: int = 0
    machines_made: int = 0

    @cached_property
    def parts(self) -> list[Part]:
        rows = self.design.parts.select_related("system", "lettering_coating").prefetch_related(
            "system__layers__coating__tin_sizes", "system__layers__additives"
        )
        parts = list(rows.order_by("name"))
        for part in parts:
            part.design, part.workshop = self.design, self.design.workshop
        return parts

    @cached_property
    def operations(self) -> list[Operation]:
        """In the order of each route."""
        rows = Operation.objects.filter(design=self.design).order_by("part__name", "position")
        operations = list(rows.prefetch_related("tools__operation__order_lines__receipts"))
        parts = {part.pk: part for part in self.parts}
        for row in operations:
            row.design, row.part = self.design, parts[row.part_id] if row.part_id else None
        return operations

    def of_part(self, part: Part | None) -> list[Operation]:
        """A part's route, in order; without a part what is done to the machine as a whole."""
        return [row for row in self.operations if row.part_id == (part and part.pk)]

    @cached_property
    def finishing(self) -> Finishing:
        processes = {part: frozenset(row.process for row in self.of_part(part)) for part in self.parts}
        return Finishing(self.design.workshop, processes)

    @cached_property
    def made(self) -> tuple[unit_cost.Route, ...]:
        """Every part that has a way to be made; then the machine as a whole."""
        routes = []
        for part in (*self.parts, None):
            operations = tuple(filter(None, (self.operation(row) for row in self.of_part(part))))
            if operations and part:
                spares = part.quantity * self.spare_sets
                routes.append(unit_cost.Route(part.name, part.quantity, operations, spares))
            elif operations:
                routes.append(unit_cost.Route(WHOLE, 1, operations))
        return tuple(routes)

    def bought_for_all(self, sizes: Iterable[int]) -> Iterator[unit_cost.Route]:
        """Paint, grit and a contractor's days, bought once for so many machines; known at these numbers alone."""
        numbers = sorted(set(sizes))
        for name, purchases in (
            (PAINT, self.finishing.paint),
            (BLASTER, self.finishing.blasting),
            (GRIT, self.finishing.grit),
        ):
            costs: dict[str, dict[int, Decimal]] = defaultdict(dict)
            for machines in numbers:
                for bought in purchases(machines):
                    costs[bought.what][machines] = bought.cost
            operations = [unit_cost.RouteOperation("finishing", what, for_all=at) for what, at in costs.items()]
            if operations:
                yield unit_cost.Route(name, 1, tuple(operations))

    @property
    def sessions(self) -> Iterator[unit_cost.Route]:
        """Mixing and cleaning up, and where parts are turned over that too, once for all that a session coats."""
        around = [
            (session.what, session.rates.around_a_coat, session.machines) for session in self.finishing.sessions
        ] + [
            (f"turning over for {session.what}", session.rates.hands_to_turn_over, session.machines)
            for session in self.finishing.sessions
            if session.turned
        ]
        operations = [
            unit_cost.RouteOperation(
                Process.PAINTING, what, minutes_setup=in_minutes(Quantity(minutes, "minute")), lot=machines
            )
            for what, minutes, machines in around
        ]
        if operations:
            yield unit_cost.Route(SESSIONS, 1, tuple(operations))

    # -- one operation

    def operation(self, row: Operation) -> unit_cost.RouteOperation | None:
        """The first way, with the others beside it; None where nobody knows what it costs."""
        ways = list(self.ways(row))
        return replace(ways[0], instead=tuple(ways[1:])) if ways else None

    def ways(self, row: Operation) -> Iterator[unit_cost.RouteOperation]:
        """By finishing, or by each quote that counts; by our own figures where it is done here or nobody offered."""
        if row.worked_out:
            if row.part and not self.finishing.lacking(row.part, row.process):
                minutes = self.finishing.minutes(row.part, row.process)
                key, days = str(row.pk), row.lead_days
                yield unit_cost.RouteOperation(row.process, row.label, minutes_each=minutes, key=key, days=days)
            return
        offers = self.offers.get(row.pk, [])
        for offer in offers:
            yield self._quoted(row, offer)
        if (row.in_house or not offers) and row.has_figures:
            yield self.own(row)

    @cached_property
    def rates(self) -> dict[str, Decimal]:
        return rates_of(self.design.workshop)

    @cached_property
    def quoted(self) -> dict[UUID, list[PricedQuote]]:
        """Every quote, by operation."""
        return priced_quotes(self.design, self.day, everything=True, rates=self.rates)

    @cached_property
    def offers(self) -> dict[UUID, list[PricedQuote]]:
        """Those that are reckoned with, by operation: they count, and have prices."""
        return {
            key: [quote for quote in quotes if quote.prices is not None and quote.counts(self.expired)]
            for key, quotes in self.quoted.items()
        }

    @property
    def left_out(self) -> list[PricedQuote]:
        """Quotes with prices that would count if those that ended, or are for another revision, did."""
        quotes = [quote for quotes in self.quoted.values() for quote in quotes if quote.prices is not None]
        return [quote for quote in quotes if quote.counts(expired=True) and not quote.counts(self.expired)]

    @property
    def priceless(self) -> list[PricedQuote]:
        """Quotes that count and cannot be reckoned with, for want of a rate or a weight."""
        quotes = [quote for quotes in self.quoted.values() for quote in quotes]
        return [quote for quote in quotes if quote.prices is None and quote.counts(self.expired)]

    def _quoted(self, row: Operation, offer: PricedQuote) -> unit_cost.RouteOperation:
        """A quote stands in for our own figures; our hands stay only where the work is not done here anyway."""
        prices, supplier, days = prices_due(offer), offer.quote.supplier.name, offer.quote.days
        own = self.own(row, with_hands=not row.in_house)
        if row.process == Process.PATTERN:
            return replace(self._pattern(row, prices.tooling + prices.cost(1), days, own), supplier=supplier)
        recast_free = offer.quote.supplier.recasts_free and row.process == Process.CASTING
        return replace(own, prices=prices, material=NOTHING, supplier=supplier, days=days, recast_free=recast_free)

    def own(self, row: Operation, with_hands: bool = True) -> unit_cost.RouteOperation:
        """By our own figures; without our hands what they take is left out."""
        hands = unit_cost.RouteOperation(
            row.process,
            row.label,
            minutes_setup=in_minutes(row.setup_minutes) if with_hands else NOTHING,
            minutes_each=in_minutes(row.each_minutes) if with_hands else NOTHING,
            learning=row.learning,
            yield_=row.good_percent / 100,
            key=str(row.pk),
            made_before=self.machines_made * row.per_machine,
            casting_faults=row.casting_faults,
        )
        if row.process == Process.PATTERN:
            return self._pattern(row, row.setup + row.each, row.lead_days, hands)
        kilograms = row.part.kilograms if row.part else None
        return replace(
            hands,
            prices=PriceList((Break(1, NOTHING),), setup=row.setup) if row.setup else None,
            material=row.each + row.per_kilogram * (kilograms or NOTHING),
            tools=self._tools(row),
            days=row.lead_days,
        )

    # -- tools

    def _pattern(
        self, row: Operation, cost: Decimal, days: int, hands: unit_cost.RouteOperation
    ) -> unit_cost.RouteOperation:
        """Made once and not for each piece; one that is in use need not be made again until it is worn out."""
        life = min((tool.life for tool in self._moulded(row) if tool.life), default=None)
        once = hands.minutes_setup + hands.minutes_each
        left = sum(tool.left or 0 for tool in self._moulded(row) if tool.state == Tool.State.IN_USE)
        there = self.has_pattern(row)
        if there and life is None:
            return replace(hands, minutes_setup=NOTHING, minutes_each=NOTHING, prices=None)
        tool = unit_cost.ToolCost(row.label, cost, life, left if life else 0, days)
        return replace(hands, minutes_setup=NOTHING if there else once, minutes_each=NOTHING, tools=(tool,))

    def new_patterns(self, row: Operation, mouldings: int) -> int:
        """How many have to be made for so many mouldings; none as long as one in use lasts."""
        tools = self._pattern(row, NOTHING, 0, unit_cost.RouteOperation(row.process, row.label)).tools
        return sum(tool.bought(mouldings) for tool in tools)

    def has_pattern(self, row: Operation) -> bool:
        """Whether one is in use."""
        return any(tool.state == Tool.State.IN_USE for tool in self._moulded(row))

    def _moulded(self, row: Operation) -> list[Tool]:
        """Patterns and core boxes of the operation's part that are not worn out."""
        return [
            tool
            for operation in self.operations
            if operation.part_id == row.part_id
            for tool in operation.tools.all()
            if tool.kind in MOULDED and tool.state != Tool.State.WORN_OUT
        ]

    def _tools(self, row: Operation) -> tuple[unit_cost.ToolCost, ...]:
        """Those used in it that still cost something; patterns are paid for by the part's pattern operation, if any."""
        paid = any(one.process == Process.PATTERN for one in self.operations if one.part_id == row.part_id)
        tools = []
        for tool in row.tools.all():
            in_use = tool.state == Tool.State.IN_USE
            lasts = in_use and tool.life is None  # and is paid for
            if tool.state != Tool.State.WORN_OUT and not lasts and not (paid and tool.kind in MOULDED):
                left = (tool.left or 0) if in_use else 0
                tools.append(unit_cost.ToolCost(str(tool), tool.cost, tool.life, left, tool.lead_days))
        return tuple(tools)

    def tool_days(self, row: Operation, pieces: int) -> int:
        """Until the tools are there that have to be bought for so many; a pattern's are those of its own operation."""
        return max((tool.days for tool in self._tools(row) if pieces and tool.bought(pieces)), default=0)

    # -- what is missing

    @cached_property
    def gaps(self) -> list[Gap]:
        gaps = [Gap(part.name, NO_ROUTE, "route", part) for part in self.parts if not self.of_part(part)]
        for row in self.operations:
            if row.worked_out:
                lacking = self.finishing.lacking(row.part, row.process) if row.part else "it belongs to a part"
                if lacking:
                    gaps.append(Gap(str(row), lacking, "operation", row))
            elif not any(self.ways(row)) and not (row.process == Process.PATTERN and self._moulded(row)):
                gaps.append(Gap(str(row), "no quote that counts and no figure of our own", "operation", row))
        for one in self.priceless:
            gaps.append(Gap(f"{one.quote.operation}, {one.quote.supplier}", one.trouble, "quote", one.quote))
        for coating in self.finishing.unpriced:
            gaps.append(Gap(str(coating), "no tin of it has a price", "coating-edit", coating))
        for additive in self.finishing.unpriced_additives:
            gaps.append(
                Gap(str(additive), "nobody has said what a litre of it costs", "coating-edit", additive.coating)
            )
        for part in self.finishing.without_grit:
            gaps.append(Gap(part.name, "it is blasted here, and no medium in our list suits it", "part", part))
        for medium in self.finishing.unpriced_grit:
            gaps.append(Gap(str(medium), "nobody has said what a bag of it holds and costs", "medium-edit", medium))
        return gaps


def prices_due(quote: PricedQuote) -> PriceList:
    """A quote's prices with as much of its tooling as is still to be paid; of a quote that has prices."""
    assert quote.prices is not None  # no other is reckoned with
    return replace(quote.prices, tooling=quote.tooling_due)


@dataclass(frozen=True, eq=False)
class CostSheet:
    """`shares`: inputs moved to a share of what they are, by the names of CostRange.Input.

    project: whose machines are asked about; without one, machines that come after all that were made
    """

    design: Design
    row: CostTerms
    day: date
    expired: bool = False
    shares: Mapping[str, Decimal] = field(default_factory=dict)
    project: Project | None = None

    @cached_property
    def source(self) -> DesignRoutes:
        made = machines_made(self.row, self.project)
        return DesignRoutes(self.design, self.day, self.expired, self.row.spares, made)

    def routes(self, sizes: Iterable[int]) -> tuple[unit_cost.Route, ...]:
        """Of these numbers of machines and no others, since paint and blasting are bought for all at once."""
        routes = (*self.source.made, *self.source.sessions, *self.source.bought_for_all(sizes))
        return tuple(scaled_route(route, self.shares) for route in routes)

    @property
    def known(self) -> bool:
        """Whether anything can be reckoned with."""
        return bool(self.source.made)

    @cached_property
    def terms(self) -> unit_cost.CostingTerms:
        usual = unit_cost.CostingTerms(
            wage=self.row.hourly or NOTHING,
            overhead=self.row.overhead,
            chance=self.row.chance / HUNDRED,
            spread_tools=self.row.spread_tools,
            learning=LearningModel(self.row.reading),
        )
        return scaled_terms(usual, self.shares)

    @cached_property
    def gaps(self) -> list[Gap]:
        operations = [operation for route in self.source.made for operation in route.operations]
        by_hand = any(operation.minutes_setup or operation.minutes_each for operation in operations)
        if self.terms.wage or not by_hand:
            return self.source.gaps
        no_wage = Gap("own hands", "nobody has said what an hour of them costs", "cost-terms", self.design)
        return [no_wage, *self.source.gaps]

    # -- development

    @cached_property
    def spent_on_it(self) -> Development:
        return Development(self.design, self.row)

    @property
    def development(self) -> Decimal:
        """Spent on getting it right: on revisions that were replaced, and on the design as a whole."""
        return self.spent_on_it.spent.total

    @property
    def recovery(self) -> pricing.Recovery:
        return pricing.recovery(self.development, self.row.recover_over)

    @cached_property
    def development_each(self) -> Decimal:
        """What one machine of a batch bears of it, not rounded."""
        return self.development / self.row.recover_over

    # -- sheets

    def batch(self, machines: int) -> unit_cost.MachineCost:
        return unit_cost.machine_cost(self.routes([machines]), machines, self.terms, self.development_each)

    @cached_property
    def one_off(self) -> unit_cost.MachineCost:
        """One machine that carries all of its development by itself."""
        return unit_cost.machine_cost(self.routes([1]), 1, self.terms, self.development)

    @cached_property
    def sizes(self) -> list[int]:
        return sizes_in(self.row.sizes)

    @cached_property
    def table(self) -> list[unit_cost.MachineCost]:
        return [self.batch(machines) for machines in self.sizes]

    @cached_property
    def rows(self) -> list[tuple[str, tuple[Decimal, ...]]]:
        """Of one machine, the one-off first: what each part comes to, and development."""
        columns = (cost.shares_of_one for cost in (self.one_off, *self.table))
        names = [*(part.part for part in self.one_off.parts), "development"]
        return list(zip(names, zip(*columns, strict=True), strict=True))

    @property
    def ready(self) -> list[date]:
        """When all is done that is begun today, the one-off first."""
        return [self.day + timedelta(days=_days_until_done(cost)) for cost in (self.one_off, *self.table)]

    @cached_property
    def ladder(self) -> ladder.CostLadder:
        sizes = range(1, TALLEST + 1)
        return ladder.ladder(self.routes(sizes), sizes, self.terms, self.development_each)


def _days_until_done(cost: unit_cost.MachineCost) -> int:
    """From the first orders to the last operation: all parts beside one another, then what is done to all of them."""
    parts = max((part.done_after() for part in cost.parts if part.part not in AT_THE_END), default=0)
    return max((part.done_after(parts) for part in cost.parts if part.part in AT_THE_END), default=parts)
