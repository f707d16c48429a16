"""What the repairs take that pieces wait for before they are blasted."""

from collections import defaultdict
from collections.abc import Iterable
from uuid import UUID

from finishing.site.fields import number
from projects.record.models.pieces import Piece
from projects.record.models.routes import Operation


def repair_minutes(pieces: Iterable[Piece]) -> dict[UUID, float]:
    """By the piece's id the minutes of our own hands that its part's route has for the repairs chosen and not done."""
    waiting = {piece.pk: piece for piece in pieces if piece.state.to_repair}
    if not waiting:
        return {}
    parts: dict[UUID, list[UUID]] = defaultdict(list)
    for piece in waiting.values():
        parts[piece.part_id].append(piece.pk)
    minutes = dict.fromkeys(waiting, 0.0)
    for row in Operation.objects.filter(part__in=parts, process=Operation.Process.REPAIR):
        own = parts[row.part_id] if row.part_id else []
        for pk in own:
            minutes[pk] += ((number(row, "setup_minutes") or 0.0) + (number(row, "each_minutes") or 0.0)) / len(own)
    return minutes
