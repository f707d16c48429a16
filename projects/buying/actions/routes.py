"""What is done with a part's route: begun, added to, put in order, shortened."""

from collections.abc import Iterable

from django.db import transaction
from django.db.models import ProtectedError

from projects.record.models import Operation, Part

Process = Operation.Process


@transaction.atomic
def begin_usual_route(part: Part) -> None:
    """A casting's, or that of something bought or cut from steel.

    Only where there is no route yet, so that a button pressed twice begins it once.
    """
    if part.operations.exists():
        return
    Operation.objects.bulk_create(_usual_route(part))


def _usual_route(part: Part) -> list[Operation]:
    cast = part.material != Part.Material.STEEL
    made = (Process.PATTERN, Process.CASTING, Process.FETTLING) if cast else (Process.BOUGHT_IN,)
    lettering = (Process.LETTERING,) if part.has_letters else ()
    route = (*made, Process.MACHINING, Process.BLASTING, Process.PAINTING, *lettering)
    return [
        Operation(workshop_id=part.workshop_id, design_id=part.design_id, part=part, process=process, position=position)
        for position, process in enumerate(route, start=1)
    ]


@transaction.atomic
def give_routes(parts: Iterable[Part], like: Part | None) -> None:
    """Another route for each of these parts, in place of what it had: as another part is made, or the usual one.

    On what they had nothing may hang: see `domain.routes_in_bulk`.
    """
    given = list(parts)
    Operation.objects.filter(part__in=given).delete()
    if like is None:
        Operation.objects.bulk_create([operation for part in given for operation in _usual_route(part)])
        return
    route = list(like.operations.order_by("position"))
    for part in given:
        own = {row.pk: row.once_more(part=part, design_id=part.design_id) for row in route}
        for row in own.values():  # with one of its own route; with one of another part's it stays
            row.keep_with = own.get(row.keep_with_id, row.keep_with) if row.keep_with_id else None
        Operation.objects.bulk_create(own.values())


@transaction.atomic
def keep_operation(operation: Operation) -> Operation:
    """A new operation comes last in its route."""
    if operation._state.adding:
        last = operation.siblings.last()
        operation.position = last.position + 1 if last else 1
    operation.save()
    return operation


@transaction.atomic
def move_operation(operation: Operation, *, up: bool) -> None:
    """One place up or down; at the end of the route it stays where it is."""
    route = list(operation.siblings)
    here = route.index(operation)
    there = max(0, here - 1) if up else min(len(route) - 1, here + 1)
    route.insert(there, route.pop(here))
    for position, row in enumerate(route, start=1):
        row.position = position
    Operation.objects.bulk_update(route, ["position"])


@transaction.atomic
def remove_operation(operation: Operation) -> list[str]:
    """Gone if nothing hangs on it; else it stays, and what would be lost with it comes back in words."""
    counts = (
        (operation.quotes.count(), "quote", "quotes"),
        (operation.request_lines.count(), "request", "requests"),
        (operation.order_lines.count(), "order", "orders"),
        (operation.tools.count(), "pattern or jig", "patterns and jigs"),
    )
    hanging = [f"{count} {several if count > 1 else single}" for count, single, several in counts if count]
    if hanging:
        return hanging
    try:
        with transaction.atomic():
            operation.delete()
    except ProtectedError:  # something that was entered a moment ago
        return ["something else"]
    return []
