"""Whether a design's patterns last for the next batch."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import ceil
from uuid import UUID

from django.db.models import Count, Q

from projects.record.models.designs import Design
from projects.record.models.routes import Operation, Tool

from .comparison import sizes_of

USUAL_BATCH = 5


def next_batch(design: Design) -> int:
    """Machines numbered in projects still open; without one, the first batch size that is more than a one-off."""
    machines = design.projects.filter(closed=False).aggregate(count=Count("machines"))["count"]
    return machines or next((size for size in sizes_of(design) if size > 1), USUAL_BATCH)


@dataclass(frozen=True)
class Wear:
    """`wanted`: what the next batch takes from the tool, with what comes out bad."""

    tool: Tool
    wanted: int

    @property
    def warning(self) -> str:
        left = self.tool.left
        if self.tool.state != Tool.State.IN_USE or left is None:
            return ""
        if left == 0:
            return "worn out: none left"
        return f"{left} left, and the next batch takes {self.wanted}" if left < self.wanted else ""


def wear_of(design: Design, tools: Iterable[Tool], machines: int) -> list[Wear]:
    """By a batch of so many machines. Castings that the open projects have already are not wanted again."""
    at_work = Q(pieces__project__closed=False, pieces__project__deleted_at=None)
    there = Count("pieces", filter=at_work & Q(pieces__set_aside=False, pieces__rejected_for=""))
    made = dict(design.parts.annotate(there=there).values_list("pk", "there"))
    return [Wear(tool, _wanted(tool.operation, machines, made)) for tool in tools]


def _wanted(operation: Operation, machines: int, made: Mapping[UUID, int]) -> int:
    """Pieces begun, so that enough of them come out good."""
    owned = made.get(operation.part_id, 0) if operation.part_id else 0
    needed = max(0, machines * operation.per_machine - owned)
    return ceil(Decimal(needed) * 100 / operation.good_percent)
