"""Racks of a kept plan that are bare by now: by when their first coat must be on, by their own log."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db.models import Q

from finishing.workshops.models import Workshop
from projects.record.domain.kept_plans import KeptPlans
from projects.record.domain.states import read_states
from projects.record.models.pieces import Piece
from projects.record.models.plans import Slot
from projects.record.models.stages import Stage
from projects.work.domain.kept_air import Run
from projects.work.domain.outlook import outlooks


def finish_by(
    workshop: Workshop, kept: KeptPlans, now: datetime, run: Run | None = None, read: Sequence[Piece] | None = None
) -> dict[UUID, datetime]:
    """By the slot of a rack's first coat, where all its pieces are bare and are coated where they stand.

    What is carried first is held to the place that it is carried to, which the plan knows. run: the workshop's air,
    where it was asked for already · read: the plans' pieces with their states, where they are read already
    """
    coats = {piece: coat for piece, coming in kept.all_coming.items() if (coat := _next(coming))}
    may_be_bare = Q(kept=None) | Q(kept__stage=Stage.BLASTED)
    if read is None:
        read = read_states(Piece.objects.of(workshop).filter(may_be_bare, pk__in=coats))
    bare = [piece for piece in read if piece.pk in coats and piece.state.is_bare]
    latest: dict[UUID, list[datetime]] = {}
    for outlook in outlooks(workshop, bare, now, run=run):
        if outlook.finish_by is not None:
            latest.setdefault(coats[outlook.piece.pk].pk, []).append(outlook.finish_by)
    slots = {coat.pk: coat for coat in coats.values()}
    return {pk: min(ends) for pk, ends in latest.items() if len(ends) == len(slots[pk].piece_ids)}


def _next(coming: list[Slot]) -> Slot | None:
    """The next coat, where neither a blasting nor a move comes before."""
    for slot in coming:
        if slot.kind == Slot.Kind.COAT:
            return slot
        if slot.kind in (Slot.Kind.BLAST, Slot.Kind.MOVE):
            return None
    return None
