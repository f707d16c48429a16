"""What must be bought for a batch of a design, who offers it and on what terms: rows as values for
`projects.money.ordering`, and its answers.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cached_property
from uuid import UUID

from projects.buying.domain.comparison import PricedQuote
from projects.buying.domain.offers import rate_in, rates_of
from projects.money import ordering, unit_cost
from projects.money.breaks import Break, PriceList
from projects.money.needs import Case
from projects.money.starts import rolled
from projects.money.stock import NetRequirement, net_requirements
from projects.record.models.cost_terms import terms_of
from projects.record.models.designs import Design, Part
from projects.record.models.orders import OrderLine
from projects.record.models.pieces import Piece
from projects.record.models.projects import Project
from projects.record.models.routes import Operation
from projects.record.models.suppliers import Supplier

from .cost_sheet import NOTHING, CostSheet, DesignRoutes, prices_due
from .hand_work import machines_made
from .stock import DesignStock, LeftOut, PartStock

HERE = "here"
LIMIT = 3.0  # s that a page may wait for a proof; the comparison with one supplier half of it
Process = Operation.Process
OURS = (Process.ASSEMBLY, Process.PACKING, Process.CARRIAGE)  # done by ourselves, unless somebody quotes for it


@dataclass(frozen=True)
class BatchWanted:
    """So many machines and spare sets, by a day if there is one.

    expired: quotes that no longer stand, or are for another revision, count too
    apart: wishes for one supplier are left aside
    batch: whose pieces and orders count before those of none · afresh: as if nothing were there or on order
    """

    machines: int
    spares: int = 0
    by: date | None = None
    expired: bool = False
    apart: bool = False
    batch: Project | None = None
    afresh: bool = False

    @property
    def typed(self) -> dict[str, str]:
        """As a form or an address carries it."""
        values = {**vars(self), "batch": self.batch and self.batch.pk}
        return {name: str(value) for name, value in values.items() if value}


@dataclass(frozen=True)
class OperationStock:
    """What is in stock or on order of one operation, with the rows that it rests on."""

    row: Operation
    requirement: NetRequirement
    pieces: tuple[Piece, ...]
    lines: tuple[OrderLine, ...]

    @property
    def unmarked(self) -> int:
        """In stock without a mark."""
        return self.requirement.in_stock - len(self.pieces)


@dataclass(frozen=True)
class NeededOperation:
    """One operation on a part's route that pieces still have to go through, and who may do it.

    good: wanted in the end · started: at the first operation · before: share that comes through all before this one
    rest: share that comes through this one and all after it
    line: our own figures; without any cost where another page reckons it, as it does finishing
    requirement: less what of it is in stock or on order · wait: days until what is on order has come, after all before
    tools: days that new tools of it come later than its pieces may
    castings_lost: of its quantity, bad ones for which a supplier who replaces them gives others
    """

    row: Operation
    quantity: int
    good: int
    started: int
    before: Decimal
    rest: Decimal
    quotes: tuple[PricedQuote, ...]
    line: unit_cost.CostLine | None
    requirement: NetRequirement
    wait: int = 0
    tools: int = 0
    castings_lost: int = 0

    @property
    def key(self) -> str:
        return str(self.row.pk)

    @property
    def ours(self) -> bool:
        """Nobody else is asked."""
        return self.line is not None and not self.quotes

    @property
    def coming(self) -> bool:
        """All of it is on order: it takes time, and costs no more."""
        return not self.requirement.to_order

    @property
    def offers(self) -> Iterator[ordering.Offer]:
        """Of every supplier, and our own; tools that a quote would need as well are left out of our own."""
        for priced in self.quotes:
            quote, days = priced.quote, max(self.wait, self.tools + priced.quote.days)
            free = quote.supplier.recasts_free and self.row.process == Process.CASTING
            replaced = self.castings_lost if free else 0
            yield ordering.Offer(str(quote.pk), self.key, str(quote.supplier_id), prices_due(priced), days, replaced)
        cost, days = NOTHING, self.wait
        if self.line is not None:
            cost = self.line.total - (NOTHING if self.row.process == Process.PATTERN else self.line.tools)
            days = max(self.wait, self.tools + self.row.lead_days)
        if self.coming or self.line is not None:
            prices = PriceList((Break(1, NOTHING),), setup=cost)
            yield ordering.Offer(f"{HERE} {self.key}", self.key, HERE, prices, days)


@dataclass(frozen=True, eq=False)
class Ordering:
    """What is wanted, asked on a day: needs, offers and suppliers by the keys of their rows; "here" is the workshop."""

    design: Design
    wanted: BatchWanted
    day: date

    @cached_property
    def source(self) -> DesignRoutes:
        made = machines_made(terms_of(self.design), self.wanted.batch)
        return DesignRoutes(self.design, self.day, self.wanted.expired, machines_made=made)

    @cached_property
    def terms(self) -> unit_cost.CostingTerms:
        """A pattern that is bought is paid for whole, however the sheet counts its wear."""
        return replace(CostSheet(self.design, terms_of(self.design), self.day).terms, spread_tools=False)

    # -- what is there already

    @cached_property
    def stock(self) -> dict[Part | None, PartStock]:
        """By part; the machine as a whole is None. Nothing is there where that is asked for."""
        routes = {part: tuple(self.source.of_part(part)) for part in (*self.source.parts, None)}
        if self.wanted.afresh:
            return {part: PartStock(route) for part, route in routes.items()}
        source = DesignStock(self.design, self.wanted.batch)
        return {part: source.of(part, route) for part, route in routes.items()}

    @cached_property
    def requirements(self) -> dict[Part | None, list[NetRequirement]]:
        """Of each operation of a part's route; a pattern is made for the castings that are still to be poured."""
        of_part: dict[Part | None, list[NetRequirement]] = {}
        for part, stock in self.stock.items():
            yields = tuple(_yield(row) for row in stock.route)
            chance, good = self.terms.chance, self._good(part)
            plain = net_requirements(good, yields, chance, stock.through, stock.on_order) if yields else []
            of_part[part] = [
                self._patterns(row, own, after, stock) if row.process == Process.PATTERN else own
                for row, own, after in zip(stock.route, plain, [*plain, None][1:], strict=True)
            ]
        return of_part

    def _good(self, part: Part | None) -> int:
        """Wanted in the end."""
        return part.quantity * (self.wanted.machines + self.wanted.spares) if part else self.wanted.machines

    def _patterns(
        self, row: Operation, own: NetRequirement, after: NetRequirement | None, stock: PartStock
    ) -> NetRequirement:
        mouldings = after.needed if after and after.in_stock else own.gross
        wanted = self.source.new_patterns(row, mouldings) if mouldings else 0
        lines = stock.lines_of(row)
        come = 0 if self.source.has_pattern(row) else sum(line.good for line in lines)
        return NetRequirement(wanted, wanted, come, sum(line.outstanding for line in lines))

    @cached_property
    def already(self) -> list[OperationStock]:
        """Operations of which something is there or on order, but for those that nobody else is asked to do."""
        rows = []
        for part, requirements in self.requirements.items():
            stock = self.stock[part]
            for row, requirement in zip(stock.route, requirements, strict=True):
                lines = stock.lines_of(row)
                if requirement.reduced and requirement.gross and (lines or self.source.offers.get(row.pk)):
                    pieces = () if row.process == Process.PATTERN else tuple(stock.pieces_through(row))
                    rows.append(OperationStock(row, requirement, pieces, lines))
        return rows

    @property
    def not_counted(self) -> list[tuple[Part, LeftOut]]:
        return [(part, left_out) for part, stock in self.stock.items() if part for left_out in stock.left_out]

    # -- what is still needed

    @cached_property
    def needed(self) -> dict[str, NeededOperation]:
        """By key, part by part along each route, up to the last operation that is bought.

        What is done here after all that is bought has come asks nobody for anything.
        """
        needed: dict[str, NeededOperation] = {}
        for part in self.stock:
            operations = list(self._needed(part))
            while operations and operations[-1].ours:
                operations.pop()
            needed |= {operation.key: operation for operation in operations}
        return needed

    def _needed(self, part: Part | None) -> Iterator[NeededOperation]:
        """How many every operation meets is as the cost sheet has it, less what is there and on order."""
        stock, requirements = self.stock[part], self.requirements[part]
        operations = [unit_cost.RouteOperation(row.process, row.label, casting_faults=row.casting_faults)
                      for row in stock.route]  # fmt: skip
        lost = unit_cost.castings_lost(operations, [own.gross for own in requirements], self._good(part))
        yields, waited, soonest = [_yield(row) for row in stock.route], 0, 0
        for at, (row, requirement) in enumerate(zip(stock.route, requirements, strict=True)):
            if not requirement.needed:
                continue
            wait = max(0, stock.expected(row, self.day) - waited)
            waited += wait
            number = requirement.to_order
            operation = NeededOperation(
                row,
                number or requirement.needed,
                self._good(part),
                requirements[0].gross,
                rolled(yields[:at]),
                rolled(yields[at:]),
                tuple(self.source.offers.get(row.pk, ())) if number else (),
                self._here(row, requirement, makes_them=at == 0) if number else None,
                requirement,
                wait,
                max(0, self.source.tool_days(row, number) - soonest),
                lost[at] * number // requirement.gross if requirement.gross else 0,
            )
            soonest += min((offer.lead_days for offer in operation.offers), default=0)
            yield operation

    def _here(self, row: Operation, requirement: NetRequirement, makes_them: bool) -> unit_cost.CostLine | None:
        """By our own figures where it may be done here, or is work of our own hands that nobody offers."""
        number = requirement.to_order
        batch, offered = unit_cost.Batch(self.wanted.machines, self.terms), bool(self.source.offers.get(row.pk))
        if row.worked_out or (row.process in OURS and not row.in_house and not offered):
            costless = unit_cost.RouteOperation(row.process, row.label, key=str(row.pk))
            return batch.in_one_way(costless, number, makes_them)
        by_hand_alone = not (row.setup or row.each or row.per_kilogram)  # nobody is paid for it but ourselves
        if row.has_figures and (row.in_house or (not offered and by_hand_alone)):
            own = self.source.own(row)
            learned = replace(own, made_before=own.made_before + requirement.in_stock)
            return batch.in_one_way(learned, number, makes_them)
        return None

    # -- as values

    @cached_property
    def needs(self) -> list[ordering.PurchaseNeed]:
        """What is on order already is no choice any more, so no wish for one supplier is about it."""
        before: dict[UUID | None, str] = {}
        needs = []
        for key, operation in self.needed.items():
            row, process, kept_with = operation.row, "", None
            if not operation.coming:
                process = row.process
                other = self.needed.get(str(row.keep_with_id))
                kept_with = other.key if other and not other.coming and not self.wanted.apart else None
            what, follows = str(row.part or row.design), before.get(row.part_id)
            needs.append(ordering.PurchaseNeed(key, what, operation.quantity, process, follows, kept_with))
            before[row.part_id] = key
        return needs

    @cached_property
    def quotes(self) -> dict[str, PricedQuote]:
        """By the key of an offer."""
        return {str(one.quote.pk): one for operation in self.needed.values() for one in operation.quotes}

    @cached_property
    def suppliers(self) -> dict[str, Supplier]:
        """Those who offer something, by key."""
        return {str(one.quote.supplier_id): one.quote.supplier for one in self.quotes.values()}

    @cached_property
    def offers(self) -> list[ordering.Offer]:
        return [offer for operation in self.needed.values() for offer in operation.offers]

    @cached_property
    def case(self) -> Case:
        """As `projects.money.ordering` takes it."""
        rates = rates_of(self.design.workshop)
        suppliers = []
        for key, row in self.suppliers.items():
            rate = rate_in(rates, row.money_in)
            suppliers.append(ordering.SupplierTerms(key, row.delivery * rate, row.minimum_order * rate))
        days = None if self.wanted.by is None else (self.wanted.by - self.day).days
        return ordering.lay_out(self.needs, self.offers, suppliers, days, HERE)

    # -- answered

    @cached_property
    def best(self) -> ordering.OrderPlan:
        return ordering.order_plan(self.case, limit_s=LIMIT)

    @cached_property
    def part_by_part(self) -> ordering.OrderPlan:
        return ordering.part_by_part(self.case)

    @cached_property
    def one_supplier(self) -> ordering.OrderPlan | None:
        return ordering.one_supplier(self.case, limit_s=LIMIT / 2)

    def as_picked(self, picked: dict[str, str], bound: Decimal) -> ordering.OrderPlan | None:
        """With the offer named for each need; None where that cannot be had any more."""
        return ordering.as_picked(self.case, picked, bound)

    @property
    def without_route(self) -> list[Part]:
        return [part for part in self.source.parts if not self.source.of_part(part)]


def _yield(row: Operation) -> Decimal:
    return Decimal(1) if row.worked_out else row.good_percent / 100
