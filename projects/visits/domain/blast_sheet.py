"""The blast sheet: the pieces of a visit in the order of their blasting, each with when its coat may follow.

First those on which the coat may follow soonest, large ones together.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cached_property
from uuid import UUID

import numpy as np

from finishing.science.windows import Gates
from projects.record.models.stages import read_log
from projects.record.models.steps import Step
from projects.record.models.visits import Visit, VisitPiece
from projects.work.domain.blasting import BlastSheet, Left, Line, estimate
from projects.work.domain.outlook import Outlook, outlooks
from projects.work.domain.own_figures import own_figures

LAST_DAY = 24  # hours before the end of what is known in which a blasting is no longer thought through


@dataclass(frozen=True, eq=False)
class Following:
    """A piece as if it were blasted from `begins` to `ends`: whether it may be, and when its first coat follows."""

    before: Outlook  # as it stands now
    begins: datetime
    ends: datetime
    wet: bool = False

    @cached_property
    def after(self) -> Outlook:
        """The outlook at the end of the blasting, where it stands."""
        piece = self.before.piece
        blasted = {"piece": piece, "happened_at": self.ends, "entered_at": self.ends}
        entries = [Step(kind=Step.Kind.BLASTED, wet_work=self.wet, **blasted)]
        if self.wet:  # taken as blown dry at once, with as much flash rust as the sheet allows
            entries.append(Step(kind=Step.Kind.DRIED, **blasted | {"entered_at": self.ends + timedelta(seconds=1)}))
        layers = piece.part.system.layers.all() if piece.part.system else ()
        state = read_log([*piece.steps.all(), *entries], layers, piece.part.has_letters, piece.part.stays_bare)
        return Outlook(piece, state, self.before.path, self.ends, self.before.working, self.before.air)

    @property
    def known(self) -> bool:
        """Whether its air is known while it is blasted; beyond the forecast nothing is said."""
        hours = range(*self._hours)
        within = self._hours[1] < len(self.before.path.metal) - LAST_DAY
        return within and not np.isnan(self.before.path.margin[hours]).any()

    @property
    def _hours(self) -> tuple[int, int]:
        first, last = (float(self.before.path.hours.position(when)) for when in (self.begins, self.ends))
        return max(0, int(first)), max(0, int(last)) + 1

    @cached_property
    def cold_until(self) -> datetime | None:
        """Until when its metal lies within 3 °C of the dew point, where it does when its turn comes."""
        first = self._hours[0]
        fine = self.before.path.margin[first:] >= Gates().margin
        if fine[0]:
            return None
        ahead = int(np.argmax(fine)) if fine.any() else len(fine)
        return self.before.moment(first + ahead)

    @property
    def coat_from(self) -> datetime | None:
        """When its first coat may begin; None where no hour before it rusts allows one."""
        return self.after.next_span[0] if self.after.next_coating and self.after.next_span else None

    @property
    def coat_before(self) -> datetime | None:
        return self.after.coat_before_at


def in_order(rows: Iterable[VisitPiece], ahead: Mapping[UUID, Following]) -> list[VisitPiece]:
    """Rows of a visit in the order of their blasting; `ahead` has each piece that waits, as if it came first.

    A place in the order that somebody typed stands; the others follow: by the hour in which the coat may come, and
    within one hour the largest first.
    """

    def place(row: VisitPiece) -> tuple[bool, int, float, float, str]:
        following, area = ahead.get(row.piece_id), row.piece.part.area
        coat_from = following.coat_from if following is not None and following.known else None
        hour = float("inf") if coat_from is None else coat_from.timestamp() // 3600
        return row.position is None, row.position or 0, hour, -area.magnitude if area else 0.0, row.piece.mark

    return sorted(rows, key=place)


@dataclass(frozen=True, eq=False)
class LineAhead(Line):
    """A line of the sheet with what follows its blasting; None where nothing is known of that."""

    following: Following | None = None


@dataclass(eq=False)
class SheetAhead(BlastSheet):
    """A sheet in the order of the day, each piece with what follows its blasting."""

    lines: Sequence[LineAhead]
    left: list[Left] = field(default_factory=list)


def blast_sheet(visit: Visit, now: datetime) -> SheetAhead:
    """The sheet of a visit, in order, each piece with when its coat may follow."""
    rows = list(visit.pieces.in_full())
    sheet = estimate(visit, rows, own_figures(visit.workshop, visit.starts_at))
    lines = {line.row.pk: line for line in sheet.lines}
    ahead = _as_if_first(visit, rows, {line.row.piece_id: line.minutes for line in sheet.lines}, now)
    clock, in_turn = None, []
    for line in (lines[row.pk] for row in in_order(rows, ahead) if row.pk in lines):
        following = ahead.get(line.row.piece_id)
        if following:
            begins = clock or following.begins
            clock = begins + timedelta(minutes=line.minutes)
            following = replace(following, begins=begins, ends=clock)
        in_turn.append(LineAhead(line.row, line.job, line.done, following))
    return SheetAhead(visit, in_turn, sheet.left)


def _as_if_first(
    visit: Visit, rows: Iterable[VisitPiece], minutes: Mapping[UUID, int], now: datetime
) -> dict[UUID, Following]:
    """Each piece that waits, as if it came first; none of a visit that is over."""
    if not visit.open or visit.ends_at < now:
        return {}
    begins = max(visit.starts_at, now)
    waiting = [row.piece for row in rows if row.state == VisitPiece.State.WAITING]
    return {
        view.piece.pk: Following(view, begins, begins + timedelta(minutes=minutes.get(view.piece.pk, 0)), visit.wet)
        for view in outlooks(visit.workshop, waiting, now)
    }
