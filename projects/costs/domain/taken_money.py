"""What a project's paint, blasting and orders should have come to, and what they did."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Any

from projects.buying.domain.offers import rates_of
from projects.money.fixed import own_hands
from projects.money.rounding import cents
from projects.money.unit import Line
from projects.record.models.orders import Order, OrderLine
from projects.record.models.paint_receipts import PaintReceipt
from projects.record.models.projects import Project
from projects.record.models.routes import Operation
from projects.record.models.steps import Step
from projects.record.models.visits import Visit, VisitPiece
from projects.visits.domain.settlement import Settlement, settlement
from projects.work.domain.paint import PaintList

from .cost_sheet import CostSheet
from .taken import Taken, summed

NOTHING = Decimal(0)
USED = "Likely litres at what a litre on the pieces costs in tins; litres logged at what a litre was bought for."
BOUGHT = "Cheapest tins for the paint list's likely litres; of what was bought, its litres at a litre's price there."


# -- paint


@dataclass(frozen=True, eq=False)
class PaintTaken:
    """`paints`: of all layers; `steps`: the entries that still stand."""

    paints: PaintList
    steps: list[Step]

    @cached_property
    def coated(self) -> list[Step]:
        return [step for step in self.steps if step.kind == Step.Kind.COATED]

    @cached_property
    def litres(self) -> dict[tuple[Any, Any], float]:
        """Likely ones, by piece and layer."""
        coats = [coat for need in self.paints.needs for coat in need.coats]
        return {
            (piece.pk, coat.layer.pk): float(coat.each.likely.to("liter").magnitude)
            for coat in coats
            for piece in coat.pieces
        }

    @property
    def by_coating(self) -> list[Taken]:
        names = {need.coating.pk: str(need.coating) for need in self.paints.needs}
        names |= {step.coating_id: str(step.coating) for step in self.coated if step.coating}
        whole = {need.coating.pk: float(need.on_pieces.likely.to("liter").magnitude) for need in self.paints.needs}
        rows = [
            self._taken(name, [step for step in self.coated if step.coating_id == pk], whole.get(pk))
            for pk, name in names.items()
        ]
        return sorted(rows, key=lambda row: row.what)

    def of_part(self, part: Any) -> Taken:
        whole = [
            float(coat.litres.likely.to("liter").magnitude)
            for need in self.paints.needs
            for coat in need.coats
            if coat.part == part
        ]
        steps = [step for step in self.coated if step.piece.part_id == part.pk]
        return self._taken("paint", steps, sum(whole) if whole else None)

    def _taken(self, what: str, steps: list[Step], whole: float | None) -> Taken:
        told = [step for step in steps if step.litres is not None]
        took = sum(float(step.litres.to("liter").magnitude) for step in told) if told else None
        thought = summed(self.litres.get((step.piece_id, step.layer_id)) for step in told)
        rests_on = f"{len(told)} of {len(steps)} coats with litres" if steps else ""
        return Taken(
            what,
            "L",
            whole,
            thought,
            took,
            rests_on,
            "Likely litres of the paint list; what stays in tins and gun is left out.",
        )


@dataclass(frozen=True, eq=False)
class PaintBought:
    """Of one project, coating by coating, in the workshop's own money; `paints`: of all layers, for likely litres."""

    project: Any
    paints: PaintList

    @cached_property
    def receipts(self) -> dict[Any, list[PaintReceipt]]:
        found = defaultdict(list)
        for receipt in self.project.paint_receipts.standing().select_related("coating"):
            found[receipt.coating].append(receipt)
        return dict(found)

    @cached_property
    def rates(self) -> dict[str, Decimal]:
        return rates_of(self.project.workshop)

    @property
    def rows(self) -> list[Taken]:
        purchases = {need.coating: need.purchase for need in self.paints.needs if need.priced and need.purchase}
        coatings = sorted({*purchases, *self.receipts}, key=str)
        return [self._of(coating, purchases.get(coating)) for coating in coatings]

    def _of(self, coating: Any, purchase: Any) -> Taken:
        own = self.receipts.get(coating, [])
        litres = sum(receipt.litres.to("L").magnitude for receipt in own)
        thought = purchase and own and cents(purchase.cost * _share(litres, purchase.bought))
        receipts = f"{len(own)} receipt{'s' * (len(own) != 1)}"
        return Taken(
            str(coating),
            whole=purchase and purchase.cost,
            thought=thought or None,
            took=self._paid(own) if own else None,
            rests_on=f"{litres:.4g} L on {receipts}" if own else "",
            how=BOUGHT,
        )

    def of_part(self, part: Any, used: PaintTaken) -> Taken:
        """What is left in the tins and the gun is shared out by the litres on the pieces."""
        coats = [(need, coat) for need in self.paints.needs for coat in need.coats if coat.part == part]
        steps = [step for step in used.coated if step.piece.part_id == part.pk]
        told = [step for step in steps if step.litres is not None and self._spent(step.coating, 0) is not None]
        thought = (self._thought(step.coating, used.litres.get((step.piece_id, step.layer_id))) for step in told)
        return Taken(
            "paint, its money",
            whole=_cents(self._thought(need.coating, coat.litres.likely.to("L").magnitude) for need, coat in coats),
            thought=_cents(thought),
            took=_cents(self._spent(step.coating, step.litres.to("L").magnitude) for step in told),
            rests_on=f"{len(told)} of {len(steps)} coats with litres and a receipt" if steps else "",
            how=USED,
        )

    def _thought(self, coating: Any, litres: float | None) -> Decimal | None:
        """So much on the pieces, when the cheapest tins are bought for all of it."""
        need = next((need for need in self.paints.needs if need.coating == coating and need.priced), None)
        if litres is None or need is None or need.purchase is None:
            return None
        return need.purchase.cost * _share(litres, need.on_pieces.likely)

    def _spent(self, coating: Any, litres: float) -> Decimal | None:
        receipts = self.receipts.get(coating, [])
        paid = self._paid(receipts) if receipts else None
        return None if paid is None else paid * _share(litres, sum(r.litres for r in receipts))

    def _paid(self, receipts: Iterable[PaintReceipt]) -> Decimal | None:
        """None where one is in money that has no rate any more."""
        told = list(receipts)
        if any(receipt.currency not in self.rates for receipt in told):
            return None
        return cents(sum((receipt.price * self.rates[receipt.currency] for receipt in told), NOTHING))


def _cents(money: Iterable[Decimal | None]) -> Decimal | None:
    told = summed(money)
    return None if told is None else cents(told)


def _share(litres: float, bought: Any) -> Decimal:
    return Decimal(str(round(litres, 4))) / Decimal(str(round(bought.to("L").magnitude, 4)))


# -- blasting


@dataclass(frozen=True, eq=False)
class BlastTaken:
    """The visits of a project, each with what its estimate and its settlement lay upon this project's pieces."""

    project: Project

    @cached_property
    def settled(self) -> list[Settlement]:
        visits = Visit.objects.of(self.project.workshop).filter(pieces__piece__project=self.project, cancelled_at=None)
        return [settlement(visit) for visit in visits.distinct().select_related("workshop").order_by("date")]

    def _ours(self, rows: Iterable[VisitPiece]) -> list[VisitPiece]:
        return [row for row in rows if row.piece.project_id == self.project.pk]

    @property
    def by_visit(self) -> list[Taken]:
        return [self._money(str(one.visit), one, self._ours(one.rows)) for one in self.settled]

    def of_part(self, part: Any) -> Taken:
        """Over all visits."""
        told = [
            self._money("", one, [row for row in self._ours(one.rows) if row.piece.part_id == part.pk])
            for one in self.settled
        ]
        told = [one for one in told if not one.empty]
        names = ("whole", "thought", "took")
        known = {name: [getattr(one, name) for one in told if getattr(one, name) is not None] for name in names}
        return Taken("blasting", **{name: sum(sums) if sums else None for name, sums in known.items()})

    def _money(self, what: str, one: Settlement, rows: list[VisitPiece]) -> Taken:
        """Thought of what was blasted, once that is paid."""
        blasted, paid = [row.pk for row in one.blasted if row in rows], one.visit.paid is not None
        return Taken(
            what,
            whole=_shares(one.sheet.shares, [row.pk for row in rows]),
            thought=_shares(one.as_reckoned.shares, blasted) if paid else None,
            took=_shares(one.shares, blasted) if paid else None,
            rests_on=f"{len(blasted)} of {len(rows)} pieces blasted",
            how="Shares of the visit's sheet by minutes; of what was paid, once it is settled.",
        )

    @property
    def media(self) -> list[Taken]:
        """Kilograms of each medium."""
        whole: dict[str, list[float]] = defaultdict(list)
        thought: dict[str, list[float]] = defaultdict(list)
        took: dict[str, list[float]] = defaultdict(list)
        for one in self.settled:
            for line in one.sheet.lines:
                if line.row in self._ours(one.rows):
                    name, weight = str(line.row.medium), float(line.done.bought.likely.to("kg").magnitude)
                    whole[name].append(weight)
                    if line.row.used is not None:
                        thought[name].append(weight)
                        took[name].append(float(line.row.used.to("kg").magnitude))
        how = "The blast sheet's likely kilograms; what was weighed in a pot is shared out by minutes."
        return [
            Taken(name, "kg", sum(weights), sum(thought[name]) if thought[name] else None,
                  sum(took[name]) if took[name] else None, f"{len(took[name])} of {len(weights)} pieces weighed", how)
            for name, weights in sorted(whole.items())
        ]  # fmt: skip


def _shares(shares: dict[Any, Decimal], rows: list[Any]) -> Decimal | None:
    known = [shares[pk] for pk in rows if pk in shares]
    return sum(known, NOTHING) if known else None


# -- orders


@dataclass(frozen=True, eq=False)
class OrdersTaken:
    """What is bought by orders; `machines`: as many as the project has."""

    project: Project
    sheet: CostSheet
    machines: int

    @cached_property
    def rates(self) -> dict[str, Decimal]:
        return rates_of(self.project.workshop)

    @cached_property
    def _all(self) -> list[Order]:
        return list(self.project.orders.in_full().filter(cancelled_on=None))

    @cached_property
    def orders(self) -> list[Order]:
        return [order for order in self._all if order.currency in self.rates]

    @property
    def without_rate(self) -> list[Order]:
        return [order for order in self._all if order.currency not in self.rates]

    @cached_property
    def by_operation(self) -> dict[str, list[tuple[OrderLine, Decimal]]]:
        """Each line with its cost in our own money."""
        found = defaultdict(list)
        for order in self.orders:
            for line in order.lines.all():
                found[str(line.operation_id)].append((line, line.cost * self.rates[order.currency]))
        return dict(found)

    @cached_property
    def costed(self) -> list[Line]:
        if not self.sheet.known:
            return []
        return [line for part in self.sheet.batch(self.machines).parts for line in part.lines]

    @property
    def rows(self) -> list[Taken]:
        by_process = [self._of_process(process) for process in Operation.Process if process not in Operation.FINISHING]
        return [row for row in (*by_process, *self._carriage()) if not row.empty]

    def _of_process(self, process: Any) -> Taken:
        lines = [line for line in self.costed if line.operation.process == process and line.key]
        ordered = [one for line in lines for one in self.by_operation.get(line.key, ())]
        told = [self._bought(line) * self._share(line) for line in lines if line.key in self.by_operation]
        return Taken(
            process.label,
            whole=sum((self._bought(line) for line in lines), NOTHING),
            thought=cents(sum(told, NOTHING)) if told else None,
            took=cents(sum((cost for _, cost in ordered), NOTHING)) if ordered else None,
            rests_on=_counts(one for one, _ in ordered) if ordered else "",
            how=f"Tools, set-ups, pieces and material on the sheet of {self.machines}; of what is ordered its share.",
        )

    def _bought(self, line: Line) -> Decimal:
        return line.total - own_hands(line, self.sheet.terms)

    def _share(self, line: Line) -> Decimal:
        """Of the pieces on the sheet, those that are ordered; more than on the sheet count as all of them."""
        pieces = sum(one.quantity for one, _ in self.by_operation[line.key])
        once = line.operation.process == Operation.Process.PATTERN
        return Decimal(1) if once else min(Decimal(1), Decimal(pieces) / line.ordered)

    def _carriage(self) -> Iterator[Taken]:
        sums = [cents((order.delivery + order.minimum_charge) * self.rates[order.currency]) for order in self.orders]
        if any(sums):
            how = "As the orders have it; the sheet has carriage only where a route does."
            yield Taken("delivery and least-order charges", took=sum(sums, NOTHING), how=how)

    @property
    def paid(self) -> Decimal:
        return cents(sum((order.paid * self.rates[order.currency] for order in self.orders), NOTHING))

    @property
    def to_pay(self) -> Decimal:
        return cents(sum((order.to_pay * self.rates[order.currency] for order in self.orders), NOTHING))


def _counts(lines: Iterable[OrderLine]) -> str:
    count: Counter[str] = Counter()
    for line in lines:
        count.update({"ordered": line.quantity, "good": line.good, "rejected": line.rejected})
    rejected = f", {count['rejected']} rejected" if count["rejected"] else ""
    return f"{count['ordered']} ordered, {count['good']} came good{rejected}"
