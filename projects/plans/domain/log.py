"""Which steps of a plan the log already has."""

from collections.abc import Iterable
from typing import Any

from projects.record.models.plans import Slot
from projects.record.models.steps import Step


def logged(slots: Iterable[Slot]) -> set[Any]:
    """The ids of those that were logged for all their pieces since the plan was made.

    Steps that no entry of the log ends, as masking, count as done once a later step of their rack is.
    """
    slots = sorted(slots, key=lambda slot: slot.begin)
    told = _entries(slots)
    done = {
        slot.pk for slot in slots if slot.logged_as and all(_said(slot, piece, told) for piece in slot.pieces.all())
    }
    last = {slot.rack: slot.begin for slot in slots if slot.pk in done}
    silent = (slot for slot in slots if not slot.logged_as and slot.rack in last)
    return done | {slot.pk for slot in silent if slot.begin < last[slot.rack]}


def _said(slot: Slot, piece: Any, told: set[Any]) -> bool:
    what = slot.place_id if slot.kind == Slot.Kind.MOVE else slot.layer_id
    return (piece.pk, str(slot.logged_as), what) in told


def _entries(slots: list[Slot]) -> set[Any]:
    """(piece, kind, layer, or for a move its place) of every entry since the oldest of these plans was made."""
    if not slots:
        return set()
    rows = Step.objects.filter(
        piece__in={piece.pk for slot in slots for piece in slot.pieces.all()},
        happened_at__gte=min(slot.plan.made_at for slot in slots),
        voided_by=None,
    ).values_list("piece_id", "kind", "layer_id", "place_id")
    return {(piece, kind, place if kind == Step.Kind.MOVED else layer) for piece, kind, layer, place in rows}
