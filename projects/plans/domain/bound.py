"""A kept plan's own way of doing each step: the only one looked at where the plan is held against other hours."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from finishing.workshops.models import Place
from projects.record.models.pieces import Piece
from projects.record.models.plans import Slot

from .tasks import RackTask


@dataclass(frozen=True)
class Bound:
    """Where a step is done, and where and when it is wheeled on to dry."""

    place: Place
    then: Place | None = None
    carried_at: datetime | None = None


def bound(tasks: Iterable[RackTask], piece: Piece, kept: Iterable[Slot], places: Iterable[Place]) -> dict[str, Bound]:
    """By task's name, as the slots of this piece have it; a step done where nothing is done any more is left out."""
    rows = {slot.key: slot for slot in kept if any(p.pk == piece.pk for p in slot.pieces.all())}
    here = {place.pk: place for place in places}
    found = {}
    for task in tasks:
        slot, out = rows.get(task.key), rows.get(task.wheeled_key)
        if slot and {slot.place_id, out.place_id if out else slot.place_id} <= here.keys():
            then = (here[out.place_id], out.begin) if out else (None, None)
            found[task.name] = Bound(here[slot.place_id], *then)
    return found
