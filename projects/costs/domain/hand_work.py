"""What the log tells of our own hands on the routes: entries of other work, by the operation that they belong to.

An entry belongs to the one operation of that process on its part's route, else on the machine's as a whole; where two
would do, nobody can say which. One time for a lot does not tell set-up and cycle apart.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from uuid import UUID

from finishing.science.units import Quantity
from projects.money.learning import LearningModel, hours_for
from projects.record.models.designs import Design
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

    @property
    def minutes_each(self) -> float:
        """Of one of its pieces or machines, with the set-up that is reckoned with taken out."""
        return (self.minutes - float(in_minutes(self.operation.setup_minutes))) / len(self.units)


def operations_logged(designs: Iterable[Design]) -> list[Operation]:
    """Of these designs, those that an entry may be about."""
    works = [work for work in Step.Work.values if work in Operation.Process.values]
    rows = Operation.objects.filter(design__in=designs, process__in=works)
    return list(rows.select_related("part", "design"))


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


def estimated_minutes(lots: Iterable[Lot], model: LearningModel) -> float:
    """Minutes by the routes' figures: a set-up for each lot that brings something new, and the new pieces in turn."""
    seen: dict[Operation, set[UUID]] = defaultdict(set)
    total = Decimal(0)
    for lot in lots:
        operation, before = lot.operation, seen[lot.operation]
        new = len(lot.units - before)
        if new:
            first = in_minutes(operation.each_minutes)
            learned = operation.learning is not None
            each = hours_for(first, operation.learning, new, model, len(before)) if learned else first * new
            total += in_minutes(operation.setup_minutes) + each
        before |= lot.units
    return float(total)


def in_minutes(time: Quantity) -> Decimal:
    """A Quantity of time as a number of minutes, to four places."""
    return Decimal(str(round(time.to("minute").magnitude, 4)))
