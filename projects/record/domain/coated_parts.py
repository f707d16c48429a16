"""Parts whose pieces have coats of their system in the log."""

from collections.abc import Iterable
from uuid import UUID

from projects.record.models import Part, Step


def coated(parts: Iterable[Part]) -> set[UUID]:
    """Those of which a piece has an entry of a layer that stands: another system would give that coat another sense."""
    entries = Step.objects.filter(piece__part__in=parts, voided_by=None).exclude(layer=None)
    return set(entries.order_by().values_list("piece__part", flat=True).distinct())
