"""What is still missing before a part's route can be reckoned with."""

from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from projects.record.domain.proved import Proof, current_revision
from projects.record.models.designs import Design, Part, Revision
from projects.record.models.quotes import Quote
from projects.record.models.routes import Operation

Process = Operation.Process
NO_ROUTE = "no route"


@dataclass(frozen=True)
class RoutedPart:
    """A part in the list of routes: its current revision, why that is not proved, and what is still missing."""

    part: Part
    revision: Revision | None
    unproved: str
    ready_made: bool
    gaps: list[str]


def routed_parts(design: Design) -> list[RoutedPart]:
    proof = Proof(design)
    return [
        RoutedPart(
            part,
            revision := current_revision(part),
            proof.unproved(part, revision),
            part.pk in proof.ready_made,
            gaps(part),
        )
        for part in parts_with_routes(design)
    ]


def parts_with_routes(design: Design) -> QuerySet[Part]:
    """With all that `gaps` reads, in a fixed number of queries."""
    route = Prefetch("operations", queryset=in_order(Operation.objects.all()))
    return design.parts.select_related("system").prefetch_related(route, "revisions")


def in_order(operations: QuerySet[Operation]) -> QuerySet[Operation]:
    """As a route, with all that `unpriced` reads; a quote that was withdrawn is none."""
    quotes = Prefetch("quotes", queryset=Quote.objects.filter(withdrawn=False))
    return operations.order_by("position").prefetch_related("tools", quotes)


def gaps(part: Part) -> list[str]:
    """What the part and its route still lack, in words."""
    route = list(part.operations.all())
    if not route:
        return [NO_ROUTE]
    processes = {operation.process for operation in route}
    finished = processes & set(Operation.FINISHING)
    needs = (
        (finished and part.area is None, "no painted area"),
        (Process.PAINTING in processes and part.system_id is None, "no coating system"),
        (Process.LETTERING in processes and not part.has_letters, "no letters named"),
        (Process.CASTING in processes and part.mass is None, "no weight"),
        (part.has_letters and Process.LETTERING not in processes, "letters, and no lettering"),
    )
    lacking = [words for missing, words in needs if missing]
    names = [operation.label for operation in unpriced(route)]
    return [*lacking, f"no figure or quote for {', '.join(names)}"] if names else lacking


def unpriced(route: list[Operation]) -> list[Operation]:
    """Operations of which nobody knows what they cost: with neither figures nor a quote. Making a pattern may be
    priced at the pattern instead."""
    tooled = any(operation.tools.all() for operation in route)
    return [
        row
        for row in route
        if not row.worked_out
        and not row.has_figures
        and not any(not quote.withdrawn for quote in row.quotes.all())
        and not (tooled and row.process == Process.PATTERN)
    ]
