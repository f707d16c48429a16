"""A piece that was just blasted is there, with what was measured, before anybody has entered a project."""

from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from finishing.workshops.models import Place, User
from projects.record.actions.log import log_step, rows_and_files
from projects.record.actions.pieces import make_single_piece
from projects.record.models import Piece, Step
from projects.work.domain.outlook import outlooks
from projects.work.domain.verdicts import Conditions, judge


@rows_and_files()
def begin_with_blasting(
    *,
    by: User,
    key: UUID,
    name: str,
    place: Place,
    blasted_at: datetime,
    now: datetime,
    seen: Conditions,
    trial: bool = False,
    salt: str = "",
    **facts: Any,
) -> Step:
    """The entry of its blasting; the same `key` again is the same piece and the same entry.

    seen, facts: what was measured, as numbers for the verdict and as the entry keeps it.
    """
    piece = make_single_piece(pk=uuid5(key, "piece"), place=place, name=name, trial=trial, salt=salt)
    rack = list(Piece.objects.with_log().filter(pk=piece.pk))
    (outlook,) = outlooks(place.workshop, rack, now, at=blasted_at)
    verdict = judge(outlook, Step.Kind.BLASTED, blasted_at, seen)
    (step,) = log_step(
        by=by,
        key=key,
        kind=Step.Kind.BLASTED,
        happened_at=blasted_at,
        pieces=[verdict.piece],
        of_each={piece.pk: verdict.facts},
        forecast=verdict.forecast,
        place=place,
        **facts,
    )
    return step
