"""What is done with pieces, beside their log."""

from collections.abc import Iterable

from django.db import transaction

from projects.record.models import Piece

from .states import keep_states


@transaction.atomic
def make_pieces(pieces: Iterable[Piece]) -> list[Piece]:
    """Save new pieces; those that an earlier sending of the same form made stay as they are."""
    wanted = list(pieces)
    known = set(Piece.objects.filter(pk__in=[piece.pk for piece in wanted]).values_list("pk", flat=True))
    made = Piece.objects.bulk_create(piece for piece in wanted if piece.pk not in known)
    keep_states(Piece.objects.filter(pk__in=[piece.pk for piece in made]))
    return made


def set_aside(piece: Piece, aside: bool) -> None:
    """A piece set aside waits outside the day sheet; its log stays. One taken up again is rejected no more."""
    piece.set_aside = aside
    if not aside:
        piece.rejected_for, piece.rejected_in, piece.counts_against = "", None, None
    piece.save(update_fields=["set_aside", "rejected_for", "rejected_in", "counts_against"])
