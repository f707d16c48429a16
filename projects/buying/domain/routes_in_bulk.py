"""Which parts may be given another route at once."""

from collections.abc import Iterable
from uuid import UUID

from django.db.models import Q

from projects.record.models import Operation, Part


def held_routes(parts: Iterable[Part]) -> set[UUID]:
    """Parts on whose route something hangs: a quote, a request, an order, a pattern or jig."""
    hangs = Q()
    for name in ("quotes", "request_lines", "order_lines", "tools"):
        hangs |= Q(**{f"{name}__isnull": False})
    held = Operation.objects.filter(hangs, part__in=parts).order_by()
    return {part for part in held.values_list("part", flat=True).distinct() if part}


def with_route(parts: Iterable[Part]) -> set[UUID]:
    rows = Operation.objects.filter(part__in=parts).order_by()
    return {part for part in rows.values_list("part", flat=True).distinct() if part}
