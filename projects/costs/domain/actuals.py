"""Actual against estimate: a project's minutes, paint, blasting and orders as they went, beside what they should take.

An estimate of the whole says nothing of work half done, so what was logged is held against the estimate of just that.
Nothing logged is None, and never nothing.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any, Generic, TypeVar
from uuid import UUID

from django.db.models import Count

from finishing.coatings.models import Coating
from finishing.science.sources import COMMON_PRACTICE
from finishing.science.tins import Purchase
from finishing.science.units import Quantity
from finishing.science.work_time import LETTERING, WIPING, lettering_minutes, wiping_minutes
from finishing.science.working import Working, true_minus
from finishing.site.fields import number
from finishing.workshops.models import Workshop
from projects.buying.domain.offers import rates_of
from projects.money.fixed import own_hands
from projects.money.learning import LearningModel
from projects.money.rounding import cents
from projects.money.unit_cost import CostLine, machine_cost
from projects.proving.domain.development import Development
from projects.record.domain.states import read_states
from projects.record.models.cost_terms import terms_of
from projects.record.models.designs import Part
from projects.record.models.orders import Order, OrderLine
from projects.record.models.paint_receipts import PaintReceipt
from projects.record.models.pieces import Piece
from projects.record.models.projects import Project
from projects.record.models.routes import Operation
from projects.record.models.steps import Step
from projects.record.models.visits import Visit, VisitPiece
from projects.visits.domain.settlement import Settlement, settlements
from projects.work.domain.paint import PaintList, paint_list
from projects.work.domain.work_log import racks, standing_steps, work_of

from .cost_sheet import NOTHING, CostSheet
from .finishing_costs import coat_minutes, turned_coats
from .hand_work import Lot, estimated_minutes, logged_lots, may_be_logged
from .project_orders import ProjectOrders

Figure = TypeVar("Figure", float, Decimal)
UNITS = {"min": "minute", "L": "liter", "kg": "kilogram"}


@dataclass(frozen=True)
class ActualLine(Generic[Figure]):
    """What something took beside its estimate. Without a unit it is money.

    `estimate`: of all of it · `estimate_to_date`: of what has an actual figure · `actual`: that figure
    """

    what: str
    unit: str = ""
    estimate: Figure | None = None
    estimate_to_date: Figure | None = None
    actual: Figure | None = None
    rests_on: str = ""
    how: str = ""

    @property
    def difference(self) -> Figure | None:
        if self.estimate_to_date is None or self.actual is None:
            return None
        return self.actual - self.estimate_to_date

    @property
    def more(self) -> int | None:
        """By how many percent it took more, or less."""
        if self.difference is None or not self.estimate_to_date:
            return None
        return round(100 * float(self.difference) / float(self.estimate_to_date))

    @property
    def more_in_words(self) -> str:
        return true_minus(f"{self.more:+} %")

    @property
    def empty(self) -> bool:
        return not self.estimate and self.estimate_to_date is None and self.actual is None

    @property
    def figures(self) -> list[tuple[str, Any]]:
        """By their heading: Quantities, or money; None where not known."""
        named = {
            "all of it": self.estimate,
            "of what has a figure": self.estimate_to_date,
            "took": self.actual,
            "difference": self.difference,
        }
        if not self.unit:
            return list(named.items())
        unit = UNITS[self.unit]
        return [(name, None if own is None else Quantity(float(own), unit)) for name, own in named.items()]

    def working(self, currency: str) -> Working:
        def in_words(figure: Figure | None) -> str:
            if figure is None:
                return "not known"
            return f"{float(figure):.4g} {self.unit}" if self.unit else f"{figure:.2f} {currency}"

        inputs = (
            ("thought, all of it", in_words(self.estimate)),
            ("thought, of what has a figure", in_words(self.estimate_to_date)),
            ("took", "nothing logged" if self.actual is None else in_words(self.actual)),
            *((("rests on", self.rests_on),) if self.rests_on else ()),
        )
        share = "" if self.more is None else f", {self.more:+} %"
        return Working(
            self.what, "took − thought", inputs, in_words(self.difference) + share, COMMON_PRACTICE, self.how
        )


Measured = ActualLine[float]  # minutes, litres or kilograms
Money = ActualLine[Decimal]


def summed(figures: Iterable[Figure | None]) -> Figure | None:
    """None where one of them is not known, or there is none."""
    total: Figure | None = None
    for figure in figures:
        if figure is None:
            return None
        total = figure if total is None else total + figure
    return total


def _summed_in_cents(amounts: Iterable[Decimal | None]) -> Decimal | None:
    total = summed(amounts)
    return None if total is None else cents(total)


# -- minutes

# The works of the log, and what each was reckoned by
REASONS = {
    "stripping down": "nothing is reckoned for it",
    "masking": "area · the workshop's minutes for a square metre",
    "wiping": f"area · {WIPING.value:.0f} min/m²",
    "blasting": "area · the workshop's minutes for a square metre",
    "preparing": "area · minutes of the system's layer",
    "coats": "area · minutes of the system's layer",
    "mixing": "sessions of each paint · the workshop's minutes; of what was logged, those for each entry",
    "cleaning up": "sessions of each paint · the workshop's minutes; of what was logged, those for each entry",
    "lettering": f"pieces with letters · {LETTERING.value:.0f} min",
    "touching up": "nothing is reckoned for it",
    "turning over": "sessions in which pieces are turned · the workshop's minutes to move a rack",
    "moving": "nothing is reckoned for it",
}
OF_A_PART = ("masking", "blasting", "wiping", "preparing", "coats", "lettering")  # works both reckoned and logged


def estimated_by_work(pieces: Collection[Piece], shop: Workshop) -> dict[str, float]:
    """By work, the minutes that the rates give for all that these pieces ask for, with their states."""
    minutes: dict[str, float] = defaultdict(float)
    rates = shop.rates
    for piece in pieces:
        part, area = piece.part, piece.part.square_metres
        if piece.state.gets_letters:
            minutes["lettering"] += lettering_minutes(1)
        if area is not None and not part.stays_bare:
            if part.blasted != Part.Blasted.CLEAN:
                minutes["masking"] += rates.to_mask(area)
                minutes["wiping"] += wiping_minutes(area)
                minutes["blasting"] += rates.to_blast(area)
            for layer in part.system.layers.all() if part.system else ():
                minutes["coats" if layer.is_coat else "preparing"] += layer.minutes_on(area)
    counts = Counter(piece.part for piece in pieces)
    sessions = {coat: rates.sessions(own) for coat, own in coat_minutes(counts.items()).items()}
    if mixed := sum(sessions.values()):
        minutes |= {"mixing": mixed * rates.mixing, "cleaning up": mixed * rates.cleaning}
    if turned := sum(sessions.get(coat, 0) for coat in turned_coats(counts)):
        minutes["turning over"] = turned * rates.to_turn_over
    return dict(minutes)


def timed(what: str, steps: Iterable[Step], shop: Workshop, estimate: float | None, how: str) -> Measured:
    """The time of these entries, beside what the rates give for the same work."""
    read = [(step, number(step, "minutes")) for step in steps]
    own = [(step, minutes) for step, minutes in read if step.kind != Step.Kind.NOTED or minutes is not None]
    times = [(step, minutes) for step, minutes in own if minutes is not None]
    actual = sum(minutes for _, minutes in times) if times else None
    to_date = summed(rack.reckoned(shop.rates) for rack in racks(step for step, _ in times))
    rests_on = f"{len(times)} of {len(own)} entries with a time" if own else ""
    return ActualLine(what, "min", estimate, to_date, actual, rests_on, how)


# -- own hands on the routes


@dataclass(frozen=True, eq=False)
class HandActuals:
    """Own hands beside finishing, as the routes have them for so many machines and as the log has them."""

    sheet: CostSheet
    machines: int
    steps: list[Step]

    @cached_property
    def operations(self) -> dict[str, Operation]:
        return {str(row.pk): row for row in may_be_logged(self.sheet.source.operations)}

    @cached_property
    def lines(self) -> list[tuple[CostLine, float]]:
        """Every line of the sheet with its minutes: at a wage of 60 an hour each minute costs one."""
        if not self.sheet.known:
            return []
        counted = replace(self.sheet.terms, wage=Decimal(60), overhead=NOTHING)
        cost = machine_cost(self.sheet.routes([self.machines]), self.machines, counted)
        lines = [line for part in cost.parts for line in part.lines]
        return [(line, float(line.work + line.setups * line.operation.minutes_setup)) for line in lines]

    @property
    def by_process(self) -> list[Measured]:
        return self._by_process(self.lines, self.steps)

    def of_part(self, part: Part) -> list[Measured]:
        """What its own route asks for; work on the machine as a whole is no part's, but its share of time is."""
        here = {key for key, row in self.operations.items() if row.part_id == part.pk}
        lines = [entry for entry in self.lines if entry[0].key in here]
        return self._by_process(lines, [step for step in self.steps if step.piece.part_id == part.pk])

    def _by_process(self, lines: list[tuple[CostLine, float]], steps: list[Step]) -> list[Measured]:
        rows = []
        for process in Operation.Process:
            if process in Operation.FINISHING:
                continue
            logged = [step for step in steps if step.work == process]
            entries, (lots, stray) = racks(logged), logged_lots(logged, self.operations.values())
            how = "set-ups and pieces of the routes · their minutes; of what was logged, those of its lots and pieces"
            if process not in Step.Work.values:
                how = "set-ups and pieces of the routes · their minutes; what comes from others is not timed"
            elif stray:
                how += ". Some entries belong to no single operation of a route, so nothing is held against them."
            to_date = self._estimated(lots) if lots and not stray else None
            row: Measured = ActualLine(
                process.label,
                "min",
                sum(minutes for line, minutes in lines if line.operation.process == process) or None,
                to_date,
                sum(rack.minutes for rack in entries) if entries else None,
                f"{len(entries)} entr{'y' if len(entries) == 1 else 'ies'} with a time" if entries else "",
                how,
            )
            if not row.empty:
                rows.append(row)
        return rows

    def _estimated(self, lots: list[Lot]) -> float:
        return estimated_minutes(lots, LearningModel(self.sheet.row.reading), self.sheet.source.machines_made)


# -- paint


@dataclass(frozen=True, eq=False)
class PaintActuals:
    """Paint put on and paint bought, the latter in the workshop's own money.

    `paints`: of all layers, with their likely litres; `steps`: the entries that still stand.
    """

    project: Project
    paints: PaintList
    steps: list[Step]

    @cached_property
    def coated(self) -> list[Step]:
        return [step for step in self.steps if step.kind == Step.Kind.COATED]

    @cached_property
    def litres(self) -> dict[tuple[UUID, UUID | None], float]:
        """Likely ones, by piece and layer."""
        coats = [(coat, _litres(coat.each.likely)) for need in self.paints.needs for coat in need.coats]
        return {(piece.pk, coat.layer.pk): litres for coat, litres in coats for piece in coat.pieces}

    # -- put on

    @property
    def by_coating(self) -> list[Measured]:
        names = {need.coating.pk: str(need.coating) for need in self.paints.needs}
        names |= {step.coating.pk: str(step.coating) for step in self.coated if step.coating}
        estimates = {need.coating.pk: _litres(need.on_pieces.likely) for need in self.paints.needs}
        rows = [
            self._put_on(name, [step for step in self.coated if step.coating_id == pk], estimates.get(pk))
            for pk, name in names.items()
        ]
        return sorted(rows, key=lambda row: row.what)

    def on_part(self, part: Part) -> Measured:
        coats = [coat for need in self.paints.needs for coat in need.coats if coat.part == part]
        steps = [step for step in self.coated if step.piece.part_id == part.pk]
        return self._put_on("paint", steps, sum(_litres(coat.litres.likely) for coat in coats) if coats else None)

    def _put_on(self, what: str, steps: list[Step], estimate: float | None) -> Measured:
        litres = [(step, number(step, "litres")) for step in steps]
        measured = [(step, own) for step, own in litres if own is not None]
        return ActualLine(
            what,
            "L",
            estimate,
            summed(self.litres.get((step.piece_id, step.layer_id)) for step, _ in measured),
            summed(own for _, own in measured),
            f"{len(measured)} of {len(steps)} coats with litres" if steps else "",
            "Likely litres of the paint list; what stays in tins and gun is left out.",
        )

    # -- bought

    @cached_property
    def receipts(self) -> dict[Coating, list[PaintReceipt]]:
        of_coating: dict[Coating, list[PaintReceipt]] = defaultdict(list)
        for receipt in self.project.paint_receipts.standing().select_related("coating"):
            of_coating[receipt.coating].append(receipt)
        return dict(of_coating)

    @cached_property
    def rates(self) -> dict[str, Decimal]:
        return rates_of(self.project.workshop)

    @cached_property
    def purchases(self) -> dict[Coating, Purchase]:
        """The cheapest tins for the likely litres, of every coating that has prices."""
        return {need.coating: need.purchase for need in self.paints.needs if need.priced and need.purchase}

    @property
    def bought(self) -> list[Money]:
        rows: list[Money] = []
        for coating in sorted({*self.purchases, *self.receipts}, key=str):
            receipts, purchase = self.receipts.get(coating, []), self.purchases.get(coating)
            litres = sum(_litres(receipt.litres) for receipt in receipts)
            to_date = None
            if purchase and receipts:
                to_date = cents(purchase.cost * _share(litres, _litres(purchase.bought))) or None
            rests_on = f"{litres:.4g} L on {len(receipts)} receipt{'s' * (len(receipts) != 1)}" if receipts else ""
            rows.append(
                ActualLine(
                    str(coating),
                    estimate=purchase.cost if purchase else None,
                    estimate_to_date=to_date,
                    actual=self._paid(receipts),
                    rests_on=rests_on,
                    how="Cheapest tins for the paint list's likely litres; of what was bought, its litres at a litre's "
                    "price there.",
                )
            )
        return rows

    def money_on_part(self, part: Part) -> Money:
        """What is left in the tins and the gun is shared out by the litres on the pieces."""
        coats = [(need, coat) for need in self.paints.needs for coat in need.coats if coat.part == part]
        steps = [step for step in self.coated if step.piece.part_id == part.pk]
        spent = [(step, self._spent(step)) for step in steps]
        known = [(step, amount) for step, amount in spent if amount is not None]
        to_date = (self._estimate(step.coating, self.litres.get((step.piece_id, step.layer_id))) for step, _ in known)
        return ActualLine(
            "paint, its money",
            estimate=_summed_in_cents(
                self._estimate(need.coating, _litres(coat.litres.likely)) for need, coat in coats
            ),
            estimate_to_date=_summed_in_cents(to_date),
            actual=_summed_in_cents(amount for _, amount in known),
            rests_on=f"{len(known)} of {len(steps)} coats with litres and a receipt" if steps else "",
            how="Likely litres at what a litre on the pieces costs in tins; litres logged at what a litre was bought "
            "for.",
        )

    def _estimate(self, coating: Coating | None, litres: float | None) -> Decimal | None:
        """So many litres on the pieces, when the cheapest tins are bought for all of it."""
        if coating is None or litres is None or coating not in self.purchases:
            return None
        on_pieces = next(need.on_pieces.likely for need in self.paints.needs if need.coating == coating)
        return self.purchases[coating].cost * _share(litres, _litres(on_pieces))

    def _spent(self, step: Step) -> Decimal | None:
        """The litres of a coat at what a litre of that coating was bought for; None where either is not known."""
        receipts = self.receipts.get(step.coating, []) if step.coating else []
        paid = self._paid(receipts)
        if paid is None or step.litres is None:
            return None
        return paid * _share(_litres(step.litres), sum(_litres(receipt.litres) for receipt in receipts))

    def _paid(self, receipts: list[PaintReceipt]) -> Decimal | None:
        """None without any, or where one is in money that has no rate any more."""
        if not receipts or any(receipt.currency not in self.rates for receipt in receipts):
            return None
        return cents(sum((receipt.price * self.rates[receipt.currency] for receipt in receipts), NOTHING))


def _litres(volume: Quantity) -> float:
    return float(volume.to("liter").magnitude)


def _share(litres: float, of: float) -> Decimal:
    return Decimal(str(round(litres, 4))) / Decimal(str(round(of, 4)))


# -- blasting


@dataclass(frozen=True, eq=False)
class BlastActuals:
    """The visits of a project, each with what its estimate and its settlement lay upon this project's pieces."""

    project: Project

    @cached_property
    def settlements(self) -> list[Settlement]:
        visits = Visit.objects.of(self.project.workshop).filter(pieces__piece__project=self.project, cancelled_at=None)
        return settlements(list(visits.distinct().select_related("workshop").order_by("date")))

    def _ours(self, settled: Settlement) -> list[VisitPiece]:
        return [row for row in settled.rows if row.piece.project_id == self.project.pk]

    @property
    def by_visit(self) -> list[Money]:
        return [self._money(str(settled.visit), settled, self._ours(settled)) for settled in self.settlements]

    def of_part(self, part: Part) -> Money:
        """Over all visits; what is not known of one is left out."""
        rows = [
            self._money("", settled, [row for row in self._ours(settled) if row.piece.part_id == part.pk])
            for settled in self.settlements
        ]
        return ActualLine(
            "blasting",
            estimate=summed(row.estimate for row in rows if row.estimate is not None),
            estimate_to_date=summed(row.estimate_to_date for row in rows if row.estimate_to_date is not None),
            actual=summed(row.actual for row in rows if row.actual is not None),
        )

    def _money(self, what: str, settled: Settlement, rows: list[VisitPiece]) -> Money:
        """What was blasted is held against its estimate once it is paid."""
        blasted, paid = [row for row in settled.blasted if row in rows], settled.visit.paid is not None

        def borne(shares: dict[UUID, Decimal], by: list[VisitPiece]) -> Decimal | None:
            return summed(shares[row.pk] for row in by if row.pk in shares)

        return ActualLine(
            what,
            estimate=borne(settled.sheet.shares, rows),
            estimate_to_date=borne(settled.as_reckoned.shares, blasted) if paid else None,
            actual=borne(settled.shares, blasted) if paid else None,
            rests_on=f"{len(blasted)} of {len(rows)} pieces blasted",
            how="Shares of the visit's sheet by minutes; of what was paid, once it is settled.",
        )

    @property
    def media(self) -> list[Measured]:
        """By medium: the blast sheet's likely kilograms, and those that were weighed."""
        likely: dict[str, list[float]] = defaultdict(list)
        weighed: dict[str, list[tuple[float, float]]] = defaultdict(list)
        for settled in self.settlements:
            ours = self._ours(settled)
            for line in settled.sheet.lines:
                if line.row in ours:
                    name, weight = str(line.row.medium), float(line.done.bought.likely.to("kg").magnitude)
                    likely[name].append(weight)
                    if line.row.used is not None:
                        weighed[name].append((weight, float(line.row.used.to("kg").magnitude)))
        return [
            ActualLine(
                name,
                "kg",
                sum(weights),
                summed(weight for weight, _ in weighed[name]),
                summed(used for _, used in weighed[name]),
                f"{len(weighed[name])} of {len(weights)} pieces weighed",
                "The blast sheet's likely kilograms; what was weighed in a pot is shared out by minutes.",
            )
            for name, weights in sorted(likely.items())
        ]


# -- orders


@dataclass(frozen=True, eq=False)
class OrderActuals:
    """What is bought by orders; `machines`: as many as the project has."""

    source: ProjectOrders
    sheet: CostSheet
    machines: int

    @property
    def orders(self) -> list[Order]:
        return [order for order, _ in self.source.priced]

    @cached_property
    def by_operation(self) -> dict[str, list[tuple[OrderLine, Decimal]]]:
        """Each line with its cost in our own money."""
        lines: dict[str, list[tuple[OrderLine, Decimal]]] = defaultdict(list)
        for order, rate in self.source.priced:
            for line in order.lines.all():
                lines[str(line.operation_id)].append((line, line.cost * rate))
        return dict(lines)

    @property
    def rows(self) -> list[Money]:
        costed = []
        if self.sheet.known:
            costed = [line for part in self.sheet.batch(self.machines).parts for line in part.lines if line.key]
        rows = [
            self._of_process(process, [line for line in costed if line.operation.process == process])
            for process in Operation.Process
            if process not in Operation.FINISHING
        ]
        carriage = [cents((order.delivery + order.minimum_charge) * rate) for order, rate in self.source.priced]
        if any(carriage):
            how = "As the orders have it; the sheet has carriage only where a route does."
            rows.append(ActualLine("delivery and least-order charges", actual=sum(carriage, NOTHING), how=how))
        return [row for row in rows if not row.empty]

    def _of_process(self, process: Operation.Process, lines: list[CostLine]) -> Money:
        bought = {line.key: line.total - own_hands(line, self.sheet.terms) for line in lines}
        ordered = [entry for line in lines for entry in self.by_operation.get(line.key, ())]
        to_date = (bought[line.key] * self._share(line) for line in lines if line.key in self.by_operation)
        return ActualLine(
            process.label,
            estimate=sum(bought.values(), NOTHING),
            estimate_to_date=_summed_in_cents(to_date),
            actual=_summed_in_cents(cost for _, cost in ordered),
            rests_on=_counts([line for line, _ in ordered]),
            how=f"Tools, set-ups, pieces and material on the sheet of {self.machines}; of what is ordered its share.",
        )

    def _share(self, line: CostLine) -> Decimal:
        """Of the pieces on the sheet, those that are ordered; more than on the sheet count as all of them."""
        if line.operation.process == Operation.Process.PATTERN:
            return Decimal(1)
        pieces = sum(ordered.quantity for ordered, _ in self.by_operation[line.key])
        return min(Decimal(1), Decimal(pieces) / line.ordered)

    @property
    def paid(self) -> Decimal:
        return cents(sum((order.paid * rate for order, rate in self.source.priced), NOTHING))

    @property
    def to_pay(self) -> Decimal:
        return cents(sum((order.to_pay * rate for order, rate in self.source.priced), NOTHING))


def _counts(lines: list[OrderLine]) -> str:
    if not lines:
        return ""
    rejected = sum(line.rejected for line in lines)
    also = f", {rejected} rejected" if rejected else ""
    return f"{sum(line.quantity for line in lines)} ordered, {sum(line.good for line in lines)} came good{also}"


# -- all of a project


@dataclass(frozen=True, eq=False)
class ProjectActuals:
    project: Project
    day: date

    @property
    def shop(self) -> Workshop:
        return self.project.workshop

    @cached_property
    def numbered(self) -> int:
        """Machines that have a number."""
        return self.project.machines.count()

    @property
    def machines(self) -> int:
        """One at least: what has no number yet is reckoned as one."""
        return self.numbered or 1

    @cached_property
    def sheet(self) -> CostSheet:
        return CostSheet(self.project.design, terms_of(self.project.design), self.day, project=self.project)

    @cached_property
    def _all_pieces(self) -> list[Piece]:
        return read_states(self.project.pieces.order_by("part__name", "mark"), "system__layers__coating__tin_sizes")

    @property
    def pieces(self) -> list[Piece]:
        return [piece for piece in self._all_pieces if not piece.set_aside]

    @cached_property
    def steps(self) -> list[Step]:
        """Of every piece, set aside or not: its time was spent."""
        pieces = {piece.pk: piece for piece in self._all_pieces}
        steps = list(standing_steps(self.shop).filter(piece__project=self.project))
        for step in steps:
            step.piece = pieces[step.piece_id]
        return steps

    @cached_property
    def minutes(self) -> list[Measured]:
        """Of finishing; those of making are `hands`."""
        estimates, logged = estimated_by_work(self.pieces, self.shop), defaultdict(list)
        for step in self.steps:
            logged[work_of(step)].append(step)
        rows = [timed(work, logged[work], self.shop, estimates.get(work), how) for work, how in REASONS.items()]
        return [row for row in rows if not row.empty]

    @cached_property
    def hands(self) -> HandActuals:
        worked = standing_steps(self.shop).filter(piece__project=self.project, kind=Step.Kind.WORKED)
        return HandActuals(self.sheet, self.machines, list(worked.prefetch_related("piece__part")))

    @cached_property
    def paint(self) -> PaintActuals:
        return PaintActuals(self.project, paint_list(self.pieces, all_layers=True, wanted="likely"), self.steps)

    @cached_property
    def blast(self) -> BlastActuals:
        return BlastActuals(self.project)

    @cached_property
    def orders(self) -> OrderActuals:
        return OrderActuals(ProjectOrders(self.project, self.sheet.source.rates), self.sheet, self.machines)

    @cached_property
    def development(self) -> Development:
        return self.sheet.spent_on_it

    @cached_property
    def parts(self) -> dict[Part, int]:
        """How many pieces there are of each part; of a part only what names it."""
        there = Part.objects.filter(pieces__project=self.project, pieces__set_aside=False).only("name")
        return {part: part.many for part in there.annotate(many=Count("pieces")).order_by("name")}

    def of_part(self, part: Part) -> list[Measured | Money]:
        """Every line of it that says something."""
        pieces = [piece for piece in self.pieces if piece.part_id == part.pk]
        steps = [step for step in self.steps if step.piece.part_id == part.pk and work_of(step) in OF_A_PART]
        estimate = sum(own for work, own in estimated_by_work(pieces, self.shop).items() if work in OF_A_PART)
        how = f"{', '.join(OF_A_PART)}: by area and the rates."
        rows: list[Measured | Money] = [
            timed("minutes of finishing", steps, self.shop, estimate, how),
            *self.hands.of_part(part),
            self.paint.on_part(part),
            self.paint.money_on_part(part),
            self.blast.of_part(part),
        ]
        return [row for row in rows if not row.empty]
