"""What must be bought for a batch of a design, who offers it and on what terms: rows as values for costing.ordering."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any

from projects.buying.domain.comparison import PricedQuote
from projects.buying.domain.offers import rate_in, rates_of
from projects.money import ordering, unit
from projects.money.breaks import Break, PriceList
from projects.money.in_hand import Lack, lacks
from projects.money.starts import rolled
from projects.record.models.cost_terms import terms_of
from projects.record.models.designs import Design, Part
from projects.record.models.orders import OrderLine
from projects.record.models.pieces import Piece
from projects.record.models.projects import Project
from projects.record.models.routes import Operation
from projects.record.models.suppliers import Supplier

from .cost_routes import NOTHING, DesignRoutes, has_figures
from .cost_sheet import CostSheet
from .in_hand import InHand, LeftOut, PartInHand

HERE = "here"
LIMIT = 3.0  # s that a page may wait for a proof; the comparison with one supplier half of it
Process = Operation.Process
OURS = (Process.ASSEMBLY, Process.PACKING, Process.CARRIAGE)  # done by ourselves, unless somebody quotes for it


@dataclass(frozen=True)
class Wanted:
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
class Already:
    """What is there or on order of one operation, with the rows that it rests on."""

    row: Operation
    lack: Lack
    pieces: tuple[Piece, ...] = ()
    lines: tuple[OrderLine, ...] = ()

    @property
    def uncounted(self) -> int:
        """In hand without a mark."""
        return self.lack.there - len(self.pieces)


@dataclass(frozen=True)
class Stop:
    """One operation on a part's way: how many come to it, who offers it, and what it costs where it is done here.

    good: wanted in the end · started: at the first operation · before: share that comes through all before this one
    line: our own figures; without any cost where another page reckons it, as it does finishing
    lack: what of it is there or on order · wait: days until what is on order has come, after all before it
    """

    row: Operation
    quantity: int
    good: int
    started: int
    before: Decimal
    columns: tuple[PricedQuote, ...]
    line: unit.Line | None
    lack: Lack
    wait: int = 0

    @property
    def key(self) -> str:
        return str(self.row.pk)

    @property
    def ours(self) -> bool:
        """Nobody else is asked."""
        return self.line is not None and not self.columns

    @property
    def coming(self) -> bool:
        """All of it is on order: it takes time, and costs no more."""
        return not self.lack.to_order

    @property
    def here(self) -> Decimal:
        """What it costs here; tools that a quote would need as well are left out."""
        tools = NOTHING if self.row.process == Process.PATTERN else self.line.tools
        return self.line.total - tools


@dataclass(frozen=True, eq=False)
class Ordering:
    """The question on a day, as needs, offers and suppliers by the keys of their rows; "here" is the workshop."""

    design: Design
    wanted: Wanted
    day: date

    @cached_property
    def source(self) -> DesignRoutes:
        return DesignRoutes(self.design, self.day, self.wanted.expired)

    @cached_property
    def terms(self) -> unit.Terms:
        """A pattern that is bought is paid for whole, however the sheet counts its wear."""
        return replace(CostSheet(self.design, terms_of(self.design), self.day).terms, spread_tools=False)

    @property
    def days(self) -> int | None:
        return None if self.wanted.by is None else (self.wanted.by - self.day).days

    # -- each part's way

    @cached_property
    def stops(self) -> dict[str, Stop]:
        ways = (_until_last_bought(list(self._way(part))) for part in (*self.source.parts, None))
        return {stop.key: stop for way in ways for stop in way}

    def _way(self, part: Part | None) -> Iterator[Stop]:
        """How many every operation meets is as the cost sheet has it, less what is there and on order."""
        rows, read = self.source.of_part(part), self.in_hand[part]
        good, yields = self._good(part), tuple(_yield(row) for row in rows)
        found, waited = self.lacks[part], 0
        for at, (row, lack) in enumerate(zip(rows, found, strict=True)):
            wait = max(0, read.expected(row, self.day) - waited)
            if lack.needed:
                waited += wait
                number = lack.to_order or lack.needed
                here = self._here(row, number, makes_them=at == 0) if lack.to_order else None
                columns = self._columns(row) if lack.to_order else ()
                yield Stop(row, number, good, found[0].afresh, rolled(yields[:at]), columns, here, lack, wait)

    def _good(self, part: Part | None) -> int:
        """Wanted in the end."""
        return part.quantity * (self.wanted.machines + self.wanted.spares) if part else self.wanted.machines

    # -- what is there already

    @cached_property
    def in_hand(self) -> dict[Part | None, PartInHand]:
        """By part; the machine as a whole is None. Nothing is there where that is asked for."""
        routes = {part: tuple(self.source.of_part(part)) for part in (*self.source.parts, None)}
        if self.wanted.afresh:
            return {part: PartInHand(route) for part, route in routes.items()}
        source = InHand(self.design, self.wanted.batch)
        return {part: source.of(part, route) for part, route in routes.items()}

    @cached_property
    def lacks(self) -> dict[Part | None, list[Lack]]:
        return {part: list(self._lacks(part)) for part in self.in_hand}

    def _lacks(self, part: Part | None) -> Iterator[Lack]:
        """Of each operation of its route; a pattern is made for the castings that are still to be poured."""
        read, rows = self.in_hand[part], self.source.of_part(part)
        yields = tuple(_yield(row) for row in rows)
        found = lacks(self._good(part), yields, self.terms.chance, read.there, read.on_order) if rows else []
        for at, (row, lack) in enumerate(zip(rows, found, strict=True)):
            after = found[at + 1] if at + 1 < len(found) else None
            yield self._patterns(row, lack, after, read) if row.process == Process.PATTERN else lack

    def _patterns(self, row: Operation, lack: Lack, after: Lack | None, read: PartInHand) -> Lack:
        mouldings = after.needed if after and after.there else lack.afresh
        wanted = self.source.new_patterns(row, mouldings) if mouldings else 0
        lines = read.lines_of(row)
        come = 0 if self.source.has_pattern(row) else sum(line.good for line in lines)
        return Lack(wanted, wanted, come, sum(line.outstanding for line in lines))

    @cached_property
    def already(self) -> list[Already]:
        """Operations of which something is there or on order, but for those that nobody else is asked to do."""
        return [self._already(row, lack, part) for part, row, lack in self._laid_out if lack.anything and lack.afresh]

    @property
    def _laid_out(self) -> Iterator[tuple[Part | None, Operation, Lack]]:
        for part, found in self.lacks.items():
            for row, lack in zip(self.source.of_part(part), found, strict=True):
                if self._columns(row) or self.in_hand[part].lines_of(row):
                    yield part, row, lack

    @property
    def not_counted(self) -> list[tuple[Part, LeftOut]]:
        return [(part, one) for part, read in self.in_hand.items() if part for one in read.left_out]

    def _already(self, row: Operation, lack: Lack, part: Part | None) -> Already:
        read = self.in_hand[part]
        pieces = () if row.process == Process.PATTERN else read.pieces_through(row)
        return Already(row, lack, tuple(pieces), read.lines_of(row))

    def _here(self, row: Operation, number: int, makes_them: bool) -> unit.Line | None:
        """By our own figures where it may be done here, or is work of our own hands that nobody offers."""
        batch = unit.Batch(self.wanted.machines, self.terms)
        if row.worked_out or (row.process in OURS and not row.in_house and not self._columns(row)):
            return batch.in_one_way(unit.Operation(row.process, row.label, key=str(row.pk)), number, makes_them)
        if has_figures(row) and (row.in_house or (not self._columns(row) and _by_hand_alone(row))):
            return batch.in_one_way(self.source.own(row), number, makes_them)
        return None

    # -- offers

    def _columns(self, row: Operation) -> tuple[PricedQuote, ...]:
        return tuple(self.source.offers.get(row.pk, ()))

    # -- as values

    @cached_property
    def needs(self) -> list[ordering.Need]:
        before: dict[Any, str] = {}
        needs = []
        for key, stop in self.stops.items():
            part = stop.row.part_id
            needs.append(self._need(stop, before.get(part)))
            before[part] = key
        return needs

    def _need(self, stop: Stop, follows: str | None) -> ordering.Need:
        row, process = stop.row, "" if stop.coming else stop.row.process
        kept = None if self.wanted.apart or stop.coming else self._kept_with(row)
        return ordering.Need(stop.key, str(row.part or row.design), stop.quantity, process, follows, kept)

    def _kept_with(self, row: Operation) -> str | None:
        """What is on order already is no choice any more."""
        other = self.stops.get(str(row.keep_with_id))
        return other.key if other and not other.coming else None

    @cached_property
    def offers(self) -> list[ordering.Offer]:
        return [offer for stop in self.stops.values() for offer in _offers(stop)]

    @cached_property
    def columns(self) -> dict[str, PricedQuote]:
        """By the key of an offer."""
        return {str(one.quote.pk): one for stop in self.stops.values() for one in stop.columns}

    @cached_property
    def rows(self) -> dict[str, Supplier]:
        """Those who offer something, by key."""
        return {str(one.quote.supplier_id): one.quote.supplier for one in self.columns.values()}

    @cached_property
    def suppliers(self) -> list[ordering.Supplier]:
        rates = rates_of(self.design.workshop)
        return [_supplier(key, row, rate_in(rates, row.money_in)) for key, row in self.rows.items()]

    @property
    def question(self) -> tuple[Any, ...]:
        """As the sums of costing.ordering take it."""
        return self.needs, self.offers, self.suppliers

    # -- answered

    @cached_property
    def best(self) -> ordering.OrderPlan:
        return ordering.order_plan(*self.question, self.days, HERE, limit_s=LIMIT)

    @cached_property
    def part_by_part(self) -> ordering.OrderPlan:
        return ordering.part_by_part(*self.question, self.days, HERE)

    @cached_property
    def one_supplier(self) -> ordering.OrderPlan | None:
        return ordering.one_supplier(*self.question, self.days, HERE, limit_s=LIMIT / 2)

    def as_picked(self, picked: dict[str, str], bound: Decimal) -> ordering.OrderPlan | None:
        """With the offer named for each need; None where that cannot be had any more."""
        return ordering.as_picked(*self.question, picked, bound, self.days, HERE)

    # -- what is known of it otherwise

    @property
    def without_route(self) -> list[Part]:
        return [part for part in self.source.parts if not self.source.of_part(part)]


def _until_last_bought(way: list[Stop]) -> list[Stop]:
    """What is done here after all that is bought has come asks nobody for anything."""
    while way and way[-1].ours:
        way.pop()
    return way


def _yield(row: Operation) -> Decimal:
    return Decimal(1) if row.worked_out else row.good_percent / 100


def _by_hand_alone(row: Operation) -> bool:
    """Minutes and no money: nobody is paid for it but ourselves."""
    return not (row.setup or row.each or row.per_kilogram)


def _offers(stop: Stop) -> Iterator[ordering.Offer]:
    for one in stop.columns:
        quote, prices = one.quote, replace(one.prices, tooling=one.tooling_due)
        days = max(stop.wait, quote.days)
        yield ordering.Offer(str(quote.pk), stop.key, str(quote.supplier_id), prices, days)
    if stop.coming or stop.line is not None:
        prices = PriceList((Break(1, NOTHING),), setup=NOTHING if stop.coming else stop.here)
        days = max(stop.wait, 0 if stop.coming else stop.row.lead_days)
        yield ordering.Offer(f"{HERE} {stop.key}", stop.key, HERE, prices, days)


def _supplier(key: str, row: Supplier, rate: Decimal) -> ordering.Supplier:
    return ordering.Supplier(key, row.delivery * rate, row.minimum_order * rate)
