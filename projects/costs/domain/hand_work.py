"""What the log tells of our own hands on the routes: entries of other work, by the operation that they belong to.

An entry belongs to the one operation of that process on its part's route, else on the machine's as a whole; where two
would do, nobody can say which. One time for a lot does not tell set-up and cycle apart.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from projects.money.learning import Reading, hours_for
from projects.record.models.routes import Operation
from projects.record.models.steps import Step
from projects.work.domain.work_log import Rack, racks

NOTHING = Decimal(0)


@dataclass(frozen=True)
class Lot:
    """Entries for the same pieces of one operation, or for the same machines where it is of the machine as a whole."""

    operation: Operation
    units: frozenset[Any]
    minutes: float


def operations_logged(designs: Iterable[Any]) -> list[Operation]:
    """Of these designs, those that an entry may be about."""
    works = [work for work in Step.Work.values if work in Operation.Process.values]
    rows = Operation.objects.filter(design__in=designs, process__in=works)
    return list(rows.select_related("part", "design"))


def lots(steps: Iterable[Step], operations: Iterable[Operation]) -> tuple[list[Lot], list[Step]]:
    """By operation; and the entries that belong to none, or to more than one."""
    belongs = _belonging(operations)
    minutes: dict[Any, float] = defaultdict(float)
    stray: list[Step] = []
    for rack in racks(steps):
        for operation, own in _by_operation(rack, belongs).items():
            units = frozenset(
                step.piece_id if operation and operation.part_id else step.piece.machine_id for step in own
            )
            if operation is None or None in units:
                stray += own
            else:
                minutes[operation, units] += Rack(tuple(own)).minutes
    return [Lot(operation, units, took) for (operation, units), took in minutes.items()], stray


def _belonging(operations: Iterable[Operation]) -> Mapping[Any, list[Operation]]:
    found: dict[Any, list[Operation]] = defaultdict(list)
    for one in operations:
        found[one.design_id, one.part_id, one.process].append(one)
    return found


def _by_operation(rack: Rack, belongs: Mapping[Any, list[Operation]]) -> dict[Operation | None, list[Step]]:
    found = defaultdict(list)
    for step in rack.steps:
        part = step.piece.part
        ways = belongs.get((part.design_id, part.pk, step.work)) or belongs.get((part.design_id, None, step.work)) or []
        found[ways[0] if len(ways) == 1 else None].append(step)
    return dict(found)


def thought_of(told: Iterable[Lot], reading: str) -> float:
    """Minutes by the routes' figures: a set-up for each lot that brings something new, and the new pieces in turn."""
    seen: dict[Operation, set[Any]] = defaultdict(set)
    total = NOTHING
    for lot in told:
        before = seen[lot.operation]
        new = len(lot.units - before)
        if new:
            total += _minutes(lot.operation.setup_minutes) + _each(lot.operation, new, len(before), reading)
        before |= lot.units
    return float(total)


def _each(operation: Operation, count: int, before: int, reading: str) -> Decimal:
    first = _minutes(operation.each_minutes)
    if operation.learning is None:
        return first * count
    return hours_for(first, operation.learning, count, Reading(reading), before)


def minutes_each(lot: Lot) -> float:
    """Of one piece in the lot, with the set-up that is reckoned with taken out."""
    return (lot.minutes - float(_minutes(lot.operation.setup_minutes))) / len(lot.units)


def _minutes(time: Any) -> Decimal:
    return Decimal(str(round(time.to("minute").magnitude, 4)))
