"""Which steps of a plan the log already has."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from uuid import UUID

from django.db.models import Q

from projects.record.models.pieces import Piece
from projects.record.models.plans import Slot
from projects.record.models.steps import Step

Entry = tuple[UUID, str, UUID | None]  # a piece, a kind, and the layer; of a move the place it went to


def logged(slots: Iterable[Slot]) -> set[UUID]:
    """The ids of those that were logged for all their pieces since the plan was made.

    Steps that no entry of the log ends, as masking, count as done once a later step of their rack is.
    """
    in_order = sorted(slots, key=lambda slot: slot.begin)
    of_pieces = logged_of_pieces(in_order)
    done = {slot.pk for slot in in_order if slot.logged_as and len(of_pieces[slot.pk]) == len(slot.pieces.all())}
    last = {slot.rack: slot.begin for slot in in_order if slot.pk in done}
    silent = (slot for slot in in_order if not slot.logged_as and slot.rack in last)
    return done | {slot.pk for slot in silent if slot.begin < last[slot.rack]}


def logged_of_pieces(slots: Iterable[Slot]) -> dict[UUID, set[UUID]]:
    """By slot, for which of its pieces it was logged; what a plan asks for twice, as turning over, once for each."""
    in_order = sorted(slots, key=lambda slot: slot.begin)
    entries = _entries(in_order)
    asked: Counter[tuple[UUID, Entry]] = Counter()
    done: dict[UUID, set[UUID]] = defaultdict(set)
    for slot in in_order:
        for piece in slot.pieces.all():
            entry = _entry(slot, piece)
            asked[slot.plan_id, entry] += 1
            if slot.logged_as and entries[entry] >= asked[slot.plan_id, entry]:
                done[slot.pk].add(piece.pk)
    return done


def _entry(slot: Slot, piece: Piece) -> Entry:
    return piece.pk, str(slot.logged_as), slot.place_id if slot.kind == Slot.Kind.MOVE else slot.layer_id


def _entries(slots: list[Slot]) -> Counter[Entry]:
    """How often each was made, or entered, since the oldest of these plans was made."""
    if not slots:
        return Counter()
    made_at = min(slot.plan.made_at for slot in slots)
    rows = Step.objects.filter(
        Q(happened_at__gte=made_at) | Q(entered_at__gte=made_at),
        piece__in={piece.pk for slot in slots for piece in slot.pieces.all()},
        voided_by=None,
    ).values_list("piece_id", "kind", "layer_id", "place_id")
    return Counter((piece, kind, place if kind == Step.Kind.MOVED else layer) for piece, kind, layer, place in rows)
