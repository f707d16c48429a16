"""What the log tells of our own hands on the routes: entries of other work, by the operation that they belong to.

An entry belongs to the one operation of that process on its part's route, else on the machine's as a whole; where two
would do, nobody can say which. One time for a lot does not tell set-up and cycle apart.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db.models import Min, QuerySet

from finishing.science.units import Quantity
from projects.money.learning import LearningModel, hours_for
from projects.record.models.cost_terms import CostTerms
from projects.record.models.designs import Design
from projects.record.models.projects import Machine, Project
from projects.record.models.routes import Operation
from projects.record.models.steps import Step
from projects.work.domain.work_log import Rack, racks


@dataclass(frozen=True)
class Lot:
    """Entries for the same pieces of one operation, or for the same machines where it is of the machine as a whole.

    `units` are the keys of those pieces or machines, `minutes` what all entries took together.
    """

    operation: Operation
    units: frozenset[UUID]
    minutes: float

    def minutes_of_first(self, new: int, before: int, model: LearningModel) -> float:
        """Of one piece or machine, with the set-up that is reckoned with taken out; on a learning curve as the first
        ever would have taken it, where so many were new in it and so many made before."""
        cycles, curve = self.minutes - float(in_minutes(self.operation.setup_minutes)), self.operation.learning
        if curve is None or not new:
            return cycles / len(self.units)
        return cycles / float(hours_for(Decimal(1), curve, new, model, before))


def may_be_logged(operations: Iterable[Operation]) -> list[Operation]:
    """Those of them that an entry may be about."""
    return [row for row in operations if row.process in Step.Work.values]


def logged_lots(steps: Iterable[Step], operations: Iterable[Operation]) -> tuple[list[Lot], list[Step]]:
    """Timed entries as lots; and the entries that belong to no operation, or to more than one."""
    candidates: dict[tuple[UUID, UUID | None, str], list[Operation]] = defaultdict(list)
    for operation in operations:
        candidates[operation.design_id, operation.part_id, operation.process].append(operation)
    minutes: dict[tuple[Operation, frozenset[UUID]], float] = defaultdict(float)
    stray: list[Step] = []
    for rack in racks(steps):
        by_operation: dict[Operation | None, list[Step]] = defaultdict(list)
        for step in rack.steps:
            part = step.piece.part
            of_part = candidates.get((part.design_id, part.pk, step.work), [])
            ways = of_part or candidates.get((part.design_id, None, step.work), [])
            by_operation[ways[0] if len(ways) == 1 else None].append(step)
        for at, own in by_operation.items():
            units = {step.piece_id if at and at.part_id else step.piece.machine_id for step in own}
            if at is None or None in units:
                stray += own
            else:
                minutes[at, frozenset(key for key in units if key)] += Rack(tuple(own)).minutes
    return [Lot(operation, units, took) for (operation, units), took in minutes.items()], stray


def machines_made(terms: CostTerms, project: Project | None = None) -> int:
    """Machines of the terms' design that were made before: what the terms say, and those of its finished projects.

    project: one whose own machines do not count, nor those of one that is finished and was begun later than it
    """
    finished = terms.design.projects.filter(closed=True)
    if project is not None:
        begun = project.pieces.aggregate(first=Min("made_at"))["first"] if project.closed else None
        finished = finished.exclude(pk=project.pk)
        finished = finished.filter(pk__in=_begun_before(terms.design, begun)) if begun else finished
    return terms.made_before + Machine.objects.filter(project__in=finished).count()


def _begun_before(design: Design, begun: datetime) -> QuerySet[Project]:
    return design.projects.annotate(begun=Min("pieces__made_at")).filter(begun__lt=begun)


def in_turn(lots: Iterable[Lot], machines: int) -> Iterator[tuple[Lot, int, int]]:
    """Each lot, how many of its pieces are done for the first time, and how many had been done before them.

    machines: made before the first of these lots
    """
    seen: dict[Operation, set[UUID]] = defaultdict(set)
    for lot in lots:
        before = seen[lot.operation]
        yield lot, len(lot.units - before), machines * lot.operation.per_machine + len(before)
        before |= lot.units


def estimated_minutes(lots: Iterable[Lot], model: LearningModel, machines: int = 0) -> float:
    """Minutes by the routes' figures: a set-up for each lot that brings something new, and the new pieces in turn."""
    total = Decimal(0)
    for lot, new, before in in_turn(lots, machines):
        if new:
            operation, first = lot.operation, in_minutes(lot.operation.each_minutes)
            learned = operation.learning is not None
            each = hours_for(first, operation.learning, new, model, before) if learned else first * new
            total += in_minutes(operation.setup_minutes) + each
    return float(total)


def in_minutes(time: Quantity) -> Decimal:
    """A Quantity of time as a number of minutes, to four places."""
    return Decimal(str(round(time.to("minute").magnitude, 4)))
