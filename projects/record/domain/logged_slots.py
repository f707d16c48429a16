"""Which steps of a plan the log already has."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Set
from datetime import datetime
from uuid import UUID

from django.db.models import Q
from django.db.models.functions import Greatest

from projects.record.models.plans import Slot
from projects.record.models.steps import Step

Entry = tuple[UUID, str, UUID | None]  # a piece, a kind, and the layer; of a move the place it went to


def logged(slots: Iterable[Slot]) -> set[UUID]:
    """The ids of those of one plan that were logged for all their pieces since the plan was made."""
    in_order = sorted(slots, key=lambda slot: slot.begin)
    return logged_wholly(in_order, logged_of_pieces(in_order))


def logged_wholly(slots: Iterable[Slot], of_pieces: Mapping[UUID, Set[UUID]]) -> set[UUID]:
    """The ids of those of one plan that were logged for all their pieces, by what was logged_of_pieces().

    Steps that no entry of the log ends, as masking, count as done once a later step of their rack is.
    """
    in_order = sorted(slots, key=lambda slot: slot.begin)
    done = {slot.pk for slot in in_order if slot.logged_as and len(of_pieces[slot.pk]) == len(slot.piece_ids)}
    last = {slot.rack: slot.begin for slot in in_order if slot.pk in done}
    silent = (slot for slot in in_order if not slot.logged_as and slot.rack in last)
    return done | {slot.pk for slot in silent if slot.begin < last[slot.rack]}


def logged_of_pieces(slots: Iterable[Slot]) -> dict[UUID, set[UUID]]:
    """By slot, for which of its pieces it was logged; what a plan asks for twice, as turning over, once for each."""
    in_order = sorted(slots, key=lambda slot: slot.begin)
    entries = _entries(in_order)
    asked: Counter[tuple[UUID, UUID, str, UUID | None]] = Counter()
    done: dict[UUID, set[UUID]] = defaultdict(set)
    for slot in in_order:
        if not slot.logged_as:
            continue
        kind, what = str(slot.logged_as), slot.place_id if slot.kind == Slot.Kind.MOVE else slot.layer_id
        for piece in slot.piece_ids:
            known = entries.get((piece, kind, what))
            if not known:
                continue
            asked[slot.plan_id, piece, kind, what] += 1
            if sum(at >= slot.plan.made_at for at in known) >= asked[slot.plan_id, piece, kind, what]:
                done[slot.pk].add(piece)
    return done


def _entries(slots: list[Slot]) -> dict[Entry, list[datetime]]:
    """When each happened or was entered, whichever is later, where that is since the oldest of these plans was made."""
    known: dict[Entry, list[datetime]] = defaultdict(list)
    if not slots:
        return known
    made_at = min(slot.plan.made_at for slot in slots)
    rows = Step.objects.filter(
        Q(happened_at__gte=made_at) | Q(entered_at__gte=made_at),
        piece__in={piece for slot in slots for piece in slot.piece_ids},
        kind__in=Slot.LOGGED_AS.values(),
        voided_by=None,
    ).values_list("piece_id", "kind", "layer_id", "place_id", Greatest("happened_at", "entered_at"))
    for piece, kind, layer, place, at in rows:
        known[piece, kind, place if kind == Step.Kind.MOVED else layer].append(at)
    return known
