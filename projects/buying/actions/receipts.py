"""What comes from suppliers: received good and rejected, received by mistake, found bad later."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from finishing.workshops.models import Place, User
from projects.buying.domain.arrivals import given_back, used_pieces
from projects.record.actions.log import log_step
from projects.record.models import Operation, Piece, Receipt, Step


@transaction.atomic
def receive(
    receipt: Receipt, *, marks: Sequence[str] = (), place: Place | None = None, rejected: Iterable[Piece] = ()
) -> Receipt:
    """What came; a piece for each mark, which stands in `place`, and the pieces that were there and came back bad."""
    receipt.save()
    if marks:
        assert place is not None, "a piece stands somewhere"
        _make_pieces(receipt, marks, place)
    for piece in rejected:
        piece.set_aside, piece.rejected_for, piece.rejected_in = True, receipt.why, receipt
        piece.save(update_fields=["set_aside", "rejected_for", "rejected_in"])
    return receipt


def _make_pieces(receipt: Receipt, marks: Iterable[str], place: Place) -> None:
    line = receipt.line
    again = given_back(line)
    for mark in marks:
        piece = again.get(mark) or Piece(
            workshop_id=receipt.workshop_id, project=line.order.project, part=line.operation.part, mark=mark
        )
        piece.receipt, piece.revision, piece.place, piece.set_aside = receipt, line.revision, place, False
        piece.save()


class StillUsed(ValueError):
    """A receipt whose pieces have been worked on."""

    def __init__(self, pieces: Sequence[Piece]) -> None:
        marks = ", ".join(piece.mark for piece in pieces)
        super().__init__(
            f"It stays: something was done with {marks} since it came. Reject a piece by itself, if it is bad."
        )
        self.pieces = pieces


@transaction.atomic
def void_receipt(receipt: Receipt, *, by: User, reason: str, day: date) -> Receipt:
    """Taken back by an entry of its own. Its pieces are set aside; what it counted as rejected is taken up again.

    Raises StillUsed where its pieces have been logged, fitted or put on a visit.
    """
    voided = Receipt.objects.filter(voids=receipt).first()
    if voided:
        return voided
    used = used_pieces(receipt)
    if used:
        raise StillUsed(used)
    receipt.pieces.update(set_aside=True)
    receipt.pieces_rejected.update(set_aside=False, rejected_for="", rejected_in=None)
    return Receipt.objects.create(
        workshop_id=receipt.workshop_id, line=receipt.line, voids=receipt, received_on=day, note=reason, by=by
    )


@transaction.atomic
def reject_piece(
    piece: Piece, *, by: User, key: UUID, why: str, note: str, counts_against: Operation | None, now: datetime
) -> Piece:
    """Found bad after it came: it is set aside, its log says why, and the operation's share of good ones falls."""
    piece.set_aside, piece.rejected_for, piece.counts_against = True, why, counts_against
    piece.save(update_fields=["set_aside", "rejected_for", "counts_against"])
    reason = f"Rejected: {Receipt.Why(why).label}{f', {note}' if note else ''}"
    log_step(by=by, key=key, kind=Step.Kind.NOTED, happened_at=now, pieces=[piece], of_each={}, note=reason)
    return piece
