"""What is still missing before a part's route can be reckoned with."""

from collections.abc import Iterable

from django.db.models import Prefetch, QuerySet

from projects.record.models.designs import Design, Part
from projects.record.models.quotes import Quote
from projects.record.models.routes import Operation

FIGURES = ("setup", "each", "per_kilogram")
HANDS = ("setup_minutes", "each_minutes")
Process = Operation.Process
NO_ROUTE = "no route"


def parts_with_routes(design: Design) -> QuerySet[Part]:
    """With all that `gaps` reads, in a fixed number of queries."""
    route = Prefetch("operations", queryset=in_order(Operation.objects.all()))
    return design.parts.select_related("system").prefetch_related(route, "revisions")


def in_order(operations: QuerySet[Operation]) -> QuerySet[Operation]:
    """As a route, with all that `bare` reads; a quote that was withdrawn is none."""
    quotes = Prefetch("quotes", queryset=Quote.objects.filter(withdrawn=False))
    return operations.order_by("position").prefetch_related("tools", quotes)


def gaps(part: Part) -> list[str]:
    route = list(part.operations.all())
    return [*_of_part(part, route), *_of_operations(route)] if route else [NO_ROUTE]


def _of_part(part: Part, route: Iterable[Operation]) -> list[str]:
    processes = {operation.process for operation in route}
    finished = processes & set(Operation.FINISHING)
    needs = (
        (finished and part.area is None, "no painted area"),
        (Process.PAINTING in processes and part.system_id is None, "no coating system"),
        (Process.LETTERING in processes and not part.has_letters, "no letters named"),
        (Process.CASTING in processes and part.mass is None, "no weight"),
        (part.has_letters and Process.LETTERING not in processes, "letters, and no lettering"),
    )
    return [words for missing, words in needs if missing]


def _of_operations(route: list[Operation]) -> list[str]:
    names = [operation.label for operation in bare(route)]
    return [f"no figure or quote for {', '.join(names)}"] if names else []


def bare(route: list[Operation]) -> list[Operation]:
    """With neither figures nor a quote an operation costs what nobody knows; making a pattern may be told at the
    pattern instead."""
    tooled = any(operation.tools.all() for operation in route)
    return [one for one in route if not (_known(one) or (tooled and one.process == Process.PATTERN))]


def _known(operation: Operation) -> bool:
    return (
        operation.worked_out
        or any(getattr(operation, name) for name in FIGURES)
        or any(getattr(operation, name).magnitude for name in HANDS)
        or any(not quote.withdrawn for quote in operation.quotes.all())
    )
