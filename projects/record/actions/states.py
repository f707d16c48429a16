"""What a log means is kept beside the piece, in the transaction of whatever changed it."""

from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from projects.record.domain.states import derived
from projects.record.models import KeptState, Part, Piece
from projects.record.models.kept_states import rests_on
from projects.record.models.pieces import PieceQuerySet

AT_ONCE = 200  # pieces whose logs are held in memory together
FACTS = ("stage", "next", "holds_from", "counts_from", "rests_on", "said")


def lock(rows: PieceQuerySet) -> list[UUID]:
    """Nobody else logs or keeps a state of these pieces before this transaction is over; their ids."""
    return list(rows.order_by("pk").select_for_update(of=("self",)).values_list("pk", flat=True))


@transaction.atomic
def keep_states(rows: PieceQuerySet) -> None:
    """Keep what the logs of these pieces mean now.

    They are locked first, so that of two entries made at the same moment the second is read with the first.
    """
    chosen = lock(rows)
    for begin in range(0, len(chosen), AT_ONCE):
        pieces = Piece.objects.filter(pk__in=chosen[begin : begin + AT_ONCE]).with_entries()
        states = [derived(piece) for piece in pieces]
        KeptState.objects.bulk_create(states, update_conflicts=True, unique_fields=["piece"], update_fields=FACTS)


def keep_states_of(parts: QuerySet[Part]) -> int:
    """Keep the states of these parts' pieces that are not kept, or rest on something else by now; how many those were.

    A part's system or letters may have changed, or a new version may read a log otherwise than the one before.
    """
    count = 0
    for part in parts.select_related("system").prefetch_related("system__layers__coating"):
        others = part.pieces.exclude(kept__rests_on=rests_on(part))
        if many := others.count():
            keep_states(others)
            count += many
    return count
