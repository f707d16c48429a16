"""What it cost to get a design right: money, orders and hours of our own, by the revision they were spent on."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from uuid import UUID

from projects.buying.domain.offers import rates_of
from projects.money.rounding import cents
from projects.record.domain.proved import Proof, current_revision, in_order
from projects.record.models.cost_terms import CostTerms, terms_of
from projects.record.models.designs import Design, Part, Revision
from projects.record.models.orders import Order, OrderLine
from projects.record.models.proving import Expense

NOTHING = Decimal(0)


@dataclass(frozen=True)
class Spent:
    """Money, that of orders, and minutes with what they come to; without a wage they are counted and not paid."""

    money: Decimal
    ordered: Decimal
    minutes: Decimal
    wage: Decimal | None

    @property
    def hands(self) -> Decimal:
        return cents(self.minutes * (self.wage or 0) / 60)

    @property
    def total(self) -> Decimal:
        return self.money + self.ordered + self.hands

    @property
    def unpaid(self) -> bool:
        return self.wage is None and self.minutes > 0


class Development:
    """All that was spent on a design.

    What went into a revision that another has replaced, and into the design as a whole, is development; orders for a
    replaced one are too, unless it had been proved: then they were for machines, and not for getting it right. What
    went into the revisions that stand is a sum of its own: it becomes development when they are replaced.
    """

    def __init__(self, design: Design, terms: CostTerms | None = None) -> None:
        """terms: the design's, where they were read already."""
        self.design, self.wage = design, (terms or terms_of(design)).hourly
        self.expenses = list(Expense.objects.filter(design=design).select_related("revision__part"))

    @cached_property
    def _standing(self) -> set[UUID | None]:
        of_parts: dict[UUID, list[Revision]] = defaultdict(list)
        for revision in Revision.objects.filter(part__design=self.design):
            of_parts[revision.part_id].append(revision)
        return {in_order(revisions)[-1].pk for revisions in of_parts.values()}

    # -- orders

    @cached_property
    def orders(self) -> list[OrderLine]:
        """Lines for revisions that were replaced before they were proved; goods alone, for an order may be for more."""
        if not self._standing:  # no revision at all
            return []
        rows = OrderLine.objects.filter(operation__design=self.design, order__cancelled_on=None)
        replaced = rows.exclude(revision=None).exclude(revision__in=self._standing)
        proof = Proof(self.design)
        lines = replaced.select_related("order__supplier__workshop", "operation__part", "revision__part")
        return [
            line
            for line in lines.order_by("order__ordered_on")
            if line.revision and proof.unproved(line.revision.part, line.revision)
        ]

    @property
    def without_rate(self) -> list[Order]:
        """In money of which nobody has said what it costs; they are left out."""
        return list({line.order: None for line in self.orders if line.order.currency not in self._rates})

    @cached_property
    def _rates(self) -> dict[str, Decimal]:
        return rates_of(self.design.workshop)

    # -- sums

    def of(self, revision: Revision | None) -> Spent:
        """What was spent on one revision; on the design as a whole without one."""
        return self._sum({revision.pk if revision else None})

    def _sum(self, revisions: set[UUID | None]) -> Spent:
        spent = [row for row in self.expenses if row.revision_id in revisions]
        lines = [line for line in self.orders if line.revision_id in revisions]
        return Spent(
            money=sum((row.amount for row in spent), NOTHING),
            ordered=cents(sum((line.cost * self._rates.get(line.order.currency, NOTHING) for line in lines), NOTHING)),
            minutes=sum((Decimal(str(row.minutes.to("minute").magnitude)) for row in spent), NOTHING),
            wage=self.wage,
        )

    @cached_property
    def spent(self) -> Spent:
        """Development: on replaced revisions, and on the design as a whole."""
        spent_on = {row.revision_id for row in self.expenses} | {line.revision_id for line in self.orders}
        return self._sum(spent_on - self._standing)

    @cached_property
    def standing(self) -> Spent:
        """On the revisions that stand."""
        return self._sum(self._standing)


@dataclass(frozen=True)
class RevisionRecord:
    """A revision with what was spent on it, and why it is not proved; "" where it is."""

    revision: Revision
    spent: Spent
    unproved: str


def revision_records(part: Part, development: Development, proof: Proof) -> list[RevisionRecord]:
    """The latest first."""
    return [
        RevisionRecord(revision, development.of(revision), proof.unproved(part, revision))
        for revision in reversed(in_order(part.revisions.all()))
    ]


@dataclass(frozen=True)
class PartRecord:
    """A part with its revisions, the latest first, and why the latest is not proved."""

    part: Part
    revisions: list[RevisionRecord]
    unproved: str
    ready_made: bool


def part_records(development: Development) -> list[PartRecord]:
    """Every part of the design."""
    proof = Proof(development.design)
    return [
        PartRecord(
            part,
            revision_records(part, development, proof),
            proof.unproved(part, current_revision(part)),
            part.pk in proof.ready_made,
        )
        for part in development.design.parts.prefetch_related("revisions", "checks")
    ]
