"""What an order wants before it is placed: a reason where a revision is not proved or a nameplate has no wording, and
what the supplier's least order adds."""

from collections import Counter
from collections.abc import Collection, Iterable
from decimal import Decimal
from uuid import UUID

from projects.record.domain.proved import Proof
from projects.record.models.designs import Design
from projects.record.models.orders import NOTHING, OrderLine
from projects.record.models.suppliers import Supplier

NO_WORDING = "no wording is chosen"


def unproved_lines(design: Design, lines: Collection[OrderLine]) -> list[tuple[OrderLine, str]]:
    """Lines for more than one machine's worth of a revision that is not proved, and what is unproved of it.

    A machine may take several of a part; fewer than these prove nothing, so they count as one.
    """
    proof = Proof(design)
    ordered: Counter[tuple[UUID, UUID | None]] = Counter()
    for line in lines:
        ordered[line.operation_id, line.revision_id] += line.quantity
    return [
        (line, why)
        for line in lines
        if line.operation.part
        and ordered[line.operation_id, line.revision_id] > line.operation.per_machine
        and (why := proof.unproved(line.operation.part, line.revision))
    ]


def lines_to_justify(design: Design, lines: Collection[OrderLine]) -> list[tuple[OrderLine, str]]:
    """Lines that want a reason, and why: unproved ones, and castings of a nameplate of which no wording is chosen."""
    wordless = [line for line in lines if line.operation.nameplate and not line.operation.nameplate.wording_id]
    return [*unproved_lines(design, lines), *((line, NO_WORDING) for line in wordless)]


def up_to_least_order(supplier: Supplier, lines: Iterable[OrderLine]) -> Decimal:
    """What comes on top where an order is for less than the supplier's least; delivery is apart."""
    return max(NOTHING, supplier.minimum_order - sum((line.cost for line in lines), NOTHING))
