"""The blast sheet: the pieces of a visit in the order of their blasting, each with when its coat may follow."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from projects.record.models.visits import Visit, VisitPiece
from projects.work.domain.blasting import BlastSheet, Line, estimate
from projects.work.domain.outlook import outlooks
from projects.work.domain.own_figures import own_figures

from .blast_order import Following, in_order, moved


@dataclass(frozen=True, eq=False)
class LineAhead(Line):
    """A line of the sheet with what follows its blasting; None where nothing is known of that."""

    following: Following | None = None


def blast_sheet(visit: Visit, now: datetime) -> BlastSheet:
    """The sheet of a visit, in order, each piece with when its coat may follow."""
    rows = list(visit.pieces.in_full())
    sheet = estimate(visit, rows, own_figures(visit.workshop, visit.starts_at))
    waiting = [row for row in rows if row.state == VisitPiece.State.WAITING]
    ahead = _ahead(visit, waiting, {line.row.piece_id: line.minutes for line in sheet.lines}, now)
    lines = {line.row.pk: line for line in sheet.lines}
    ordered = [lines[row.pk] for row in in_order(rows, ahead) if row.pk in lines]
    return BlastSheet(visit, _in_turn(ordered, ahead), sheet.left)


def _ahead(visit: Visit, waiting: list[VisitPiece], minutes: dict[Any, int], now: datetime) -> dict[Any, Following]:
    """Each piece that waits, as if it came first."""
    if not visit.open or visit.ends_at < now:
        return {}
    begins = max(visit.starts_at, now)
    views = outlooks(visit.workshop, [row.piece for row in waiting], now)
    lasts = {row.piece_id: timedelta(minutes=minutes.get(row.piece_id, 0)) for row in waiting}
    return {view.piece.pk: Following(view, begins, begins + lasts[view.piece.pk], visit.wet) for view in views}


def _in_turn(lines: list[Line], ahead: dict[Any, Following]) -> list[Line]:
    """The lines one after the other, each when its turn comes."""
    clock, found = None, []
    for line in lines:
        following = ahead.get(line.row.piece_id)
        if following:
            following = moved(following, clock or following.begins, line.minutes)
            clock = following.ends
        found.append(LineAhead(line.row, line.job, line.done, following))
    return found
