"""The blast sheet: the pieces of a visit in the order of their blasting, each with when its coat may follow.

A kept plan says who is blasted, when, and when the coat follows. Where there is none, first come those on which the
coat may follow soonest where they stand, large ones together.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from itertools import pairwise
from uuid import UUID

import numpy as np

from finishing.media.models import Medium
from finishing.science.windows import Gates
from projects.record.domain.kept_plans import KeptPlans, PlannedBlasting
from projects.record.models.pieces import Piece
from projects.record.models.stages import read_log
from projects.record.models.steps import Step
from projects.record.models.visits import Visit, VisitPiece
from projects.work.domain.blast_advice import proposed
from projects.work.domain.blasting import BlastSheet, Left, Line, estimate
from projects.work.domain.outlook import Outlook, outlooks
from projects.work.domain.own_figures import own_figures

LONG_WAIT = timedelta(minutes=30)  # between two pieces, from which somebody asks who pays for it
LAST_DAY = 24  # hours before the end of what is known in which a blasting is no longer thought through
NOT_BLASTED = "the kept plan did not blast it here"
TAKEN_OFF = "it was taken off the visit, but the kept plan blasts it here: put it back, or plan again"


@dataclass(frozen=True, eq=False)
class Following:
    """A piece as if it were blasted from `begins` to `ends` where it stands, and when its first coat follows."""

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
    def place(self) -> str:
        """Where it is blasted."""
        return str(self.before.path.place)

    @property
    def coat_from(self) -> datetime | None:
        """When its first coat may begin; None where no hour before it rusts allows one."""
        return self.after.next_span[0] if self.after.next_coating and self.after.next_span else None

    @property
    def coat_before(self) -> datetime | None:
        return self.after.coat_before_at

    @property
    def in_vain(self) -> bool:
        """Its air is known, and between its blasting and its rusting no hour lets the first coat on."""
        if not self.known:
            return False
        coat, before = self.coat_from, self.coat_before
        return coat is None or (before is not None and coat >= before)

    @property
    def why_not(self) -> str:
        """Why it had better not be blasted then, beside that it would rust."""
        return ""


@dataclass(frozen=True, eq=False)
class ByPlan(Following):
    """A piece as a kept plan has it: blasted in its place and time, and coated in time there or elsewhere."""

    blasting: PlannedBlasting = field(kw_only=True)

    known = True  # a plan is made of foretold hours
    cold_until = None  # and blasts no metal near its dew point

    @property
    def place(self) -> str:
        return str(self.blasting.slot.place)

    @property
    def coat_from(self) -> datetime | None:
        return self.blasting.coat.begin if self.blasting.coat else None

    @property
    def carried(self) -> bool:
        """It is carried from where it stands before it is blasted."""
        return self.blasting.slot.place != self.before.path.place

    @property
    def coat_place(self) -> str:
        return str(self.blasting.coat.place) if self.blasting.coat else ""

    @property
    def coat_before(self) -> datetime | None:
        return self.blasting.coat_before

    @property
    def in_vain(self) -> bool:
        return bool(self.why_not)

    @property
    def why_not(self) -> str:
        return f"the plan no longer holds for it: {self.blasting.broken}" if self.blasting.broken else ""


@dataclass(frozen=True, eq=False)
class BesidePlan(Following):
    """A piece that waits on a visit, and that the kept plan of its project does not blast there."""

    blasting: PlannedBlasting | None = None

    known = True
    in_vain = True

    @property
    def why_not(self) -> str:
        if self.blasting is None:
            return "the kept plan finds no time for it"
        visit = self.blasting.slot.visit
        return f"the kept plan blasts it {f'on the visit of {visit}' if visit else 'by hand'}"


@dataclass(frozen=True, eq=False)
class LineAhead(Line):
    """A line of the sheet with what follows its blasting; None where nothing is known of that."""

    following: Following | None = None

    @property
    def in_vain(self) -> bool:
        return self.following is not None and self.following.in_vain


@dataclass(eq=False)
class SheetAhead(BlastSheet):
    """A sheet in the order of the day, each piece with what follows its blasting.

    beside: lines of pieces on the visit that a kept plan does not blast there; they are in none of the sheet's sums.
    """

    lines: Sequence[LineAhead]
    left: list[Left] = field(default_factory=list)
    beside: list[LineAhead] = field(default_factory=list)

    @property
    def waiting(self) -> list[LineAhead]:
        return [line for line in self.lines if line.row.state == VisitPiece.State.WAITING]

    @property
    def waits(self) -> timedelta:
        """How long the blaster stands between the pieces of the sheet, where a plan spreads them over his day."""
        turns = [(line.following.begins, line.following.ends) for line in self.lines if line.following]
        gaps = (begins - ends for (_, ends), (begins, _) in pairwise(sorted(turns)))
        return sum((max(gap, timedelta(0)) for gap in gaps), timedelta(0))

    @property
    def waits_long(self) -> bool:
        return self.waits >= LONG_WAIT

    @property
    def rows_there(self) -> list[VisitPiece]:
        """All that is on the visit, in the sheet or left out of it."""
        rows = [line.row for line in [*self.lines, *self.beside]] + [left.row for left in self.left]
        return [row for row in rows if not row._state.adding]

    @property
    def planned(self) -> bool:
        """It follows a kept plan."""
        return any(isinstance(line.following, ByPlan) for line in self.lines) or bool(self.beside)


@dataclass(frozen=True, eq=False)
class Turnout:
    """Who of a visit is blasted on it, by the kept plans."""

    kept: KeptPlans
    blastings: Mapping[UUID, PlannedBlasting]  # by piece, those that a kept plan blasts on this visit

    @classmethod
    def of(cls, visit: Visit, kept: KeptPlans | None = None) -> "Turnout":
        """Of a visit that is cancelled or settled no plan speaks any more. kept: plans that were read already."""
        kept = (kept or KeptPlans.of(visit.workshop)) if visit.open else KeptPlans([])
        return cls(kept, kept.blastings_on(visit))

    def beside(self, row: VisitPiece) -> bool:
        """It waits on the visit, and the kept plan of its project does not blast it there."""
        waits = row.state == VisitPiece.State.WAITING and row.piece_id not in self.blastings
        return waits and self.kept.plan_for(row.piece) is not None


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


def blast_sheet(visit: Visit, now: datetime) -> SheetAhead:
    """The sheet of a visit, in order, each piece with when its coat may follow."""
    rows = visit.rows()
    sheet = estimate(visit, rows, own_figures(visit.workshop, visit.starts_at))
    return _Day(visit, now, rows, {line.row.pk: line for line in sheet.lines}, sheet.left).sheet()


@dataclass(frozen=True, eq=False)
class _Day:
    """A visit on its way from what each piece takes to who comes when."""

    visit: Visit
    now: datetime
    rows: list[VisitPiece]
    lines: dict[UUID, Line]  # by VisitPiece
    left: list[Left]

    @cached_property
    def standing(self) -> dict[UUID, Outlook]:
        """Each piece that waits, as it stands now; none of a visit that is over."""
        if not self.visit.open or self.visit.ends_at < self.now:
            return {}
        waiting = [row.piece for row in self.rows if row.state == VisitPiece.State.WAITING]
        return {view.piece.pk: view for view in outlooks(self.visit.workshop, waiting, self.now)}

    @cached_property
    def turnout(self) -> "Turnout":
        return Turnout.of(self.visit)

    @property
    def kept(self) -> KeptPlans:
        return self.turnout.kept

    @property
    def blastings(self) -> Mapping[UUID, PlannedBlasting]:
        return self.turnout.blastings

    def sheet(self) -> SheetAhead:
        """What was blasted comes first, then the kept plan's, then what no plan speaks of."""
        rows = [row for row in self.rows if row.pk in self.lines]
        planned = [row for row in rows if row.piece_id in self.standing and row.piece_id in self.blastings]
        beside = [row for row in rows if self.turnout.beside(row)]
        free = [row for row in rows if row not in planned and row not in beside]
        by_plan = list(self._by_plan(planned))
        begins = max([self.visit.starts_at, self.now, *(line.following.ends for line in by_plan if line.following)])
        in_turn = list(self._in_turn(free, begins))
        blasted = [line for line in in_turn if line.row.blasted]
        lines = [*blasted, *by_plan, *(line for line in in_turn if line not in blasted)]
        left = [*self.left, *(Left(row, TAKEN_OFF, "pieces") for row in self._taken_off())]
        left += [Left(row, NOT_BLASTED, "pieces") for row in beside if row.piece_id not in self.standing]
        ahead = [self._beside_plan(row) for row in beside if row.piece_id in self.standing]
        return SheetAhead(self.visit, lines, left, ahead)

    def _beside_plan(self, row: VisitPiece) -> LineAhead:
        view, blasting = self.standing[row.piece_id], self.kept.blasting(row.piece)
        return self._line(row, BesidePlan(view, self.visit.starts_at, self.visit.starts_at, blasting=blasting))

    def _by_plan(self, rows: list[VisitPiece]) -> Iterator[LineAhead]:
        """Slot after slot; within one as nobody's coat comes sooner."""
        slots = {self.blastings[row.piece_id].slot for row in rows}
        for slot in sorted(slots, key=lambda slot: (slot.begin, slot.rack)):
            clock = slot.begin
            for row in in_order((row for row in rows if self.blastings[row.piece_id].slot == slot), {}):
                blasting, begins = self.blastings[row.piece_id], clock
                clock += timedelta(minutes=self.lines[row.pk].minutes)
                view = self.standing[row.piece_id]
                yield self._line(row, ByPlan(view, begins, clock, self.visit.wet, blasting=blasting))

    def _in_turn(self, rows: list[VisitPiece], begins: datetime) -> Iterator[LineAhead]:
        """One after another where they stand, from then on."""
        first = {
            row.piece_id: self._as_if(row, begins)
            for row in rows
            if row.piece_id in self.standing and row.pk in self.lines
        }
        clock = begins
        for row in in_order(rows, first):
            if row.piece_id in first:
                following = self._as_if(row, clock)
                clock = following.ends
                yield self._line(row, following)
            else:
                yield self._line(row, None)

    def _as_if(self, row: VisitPiece, begins: datetime) -> Following:
        ends = begins + timedelta(minutes=self.lines[row.pk].minutes)
        return Following(self.standing[row.piece_id], begins, ends, self.visit.wet)

    def _line(self, row: VisitPiece, following: Following | None) -> LineAhead:
        line = self.lines[row.pk]
        return LineAhead(row, line.job, line.done, following)

    def _taken_off(self) -> list[VisitPiece]:
        there = {row.piece_id for row in self.rows}
        gone = [pk for pk in self.blastings if pk not in there]
        media = list(Medium.objects.of(self.visit.workshop).filter(retired=False)) if gone else []
        pieces = Piece.objects.of(self.visit.workshop).filter(pk__in=gone).with_log()
        return [proposed(self.visit, piece, media) for piece in pieces]
