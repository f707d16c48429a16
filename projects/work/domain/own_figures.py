"""The workshop's own figures: how fast pieces came clean here, and what that took, out of the log of its visits.

Only work alike is put together: one medium, one thing to come off, one grade and shape. A piece counts where somebody
timed it; medium counts by visits, where all that was blasted with it was alike.
"""

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db.models import Prefetch, QuerySet

from finishing.media.models import Medium
from finishing.science import blasting
from finishing.science.blasting import ENOUGH_LOGS, Own
from finishing.science.units import Quantity
from finishing.site.fields import number
from finishing.workshops.models import Workshop
from projects.record.models.pieces import Piece
from projects.record.models.steps import Step
from projects.record.models.visits import VisitPiece

LATEST = 400  # pieces looked back upon
TIMED = Quantity(0.1, "minute")  # less is a slip of the finger
ONE = Quantity(1, "m**2")

Pairs = list[tuple[Quantity, Quantity]]


@dataclass(frozen=True)
class Alike:
    """What makes two pieces the same work."""

    medium: Medium
    surface: str
    grade: str
    shape: str

    @classmethod
    def of(cls, row: VisitPiece) -> "Alike":
        assert row.medium is not None  # nothing is reckoned of work without one
        return cls(row.medium, row.surface, row.grade, row.shape)


@dataclass(frozen=True, eq=False)
class OwnFigures:
    """Pairs as science.blasting wants them: area and time the nozzle was open; medium and area."""

    timed: dict[Alike, Pairs]
    thrown: dict[Alike, Pairs]

    def rate(self, alike: Alike) -> Own | None:
        return blasting.own_rate(self.timed.get(alike, []))

    def use(self, alike: Alike) -> Own | None:
        return blasting.own_use(self.thrown.get(alike, []))

    def lacking(self, alike: Alike) -> int:
        """How many more pieces must be timed until the workshop's own rate stands in for the books'."""
        return max(0, ENOUGH_LOGS - len(self.timed.get(alike, [])))


NO_FIGURES = OwnFigures({}, {})


def own_figures(workshop: Workshop, before: datetime) -> OwnFigures:
    """From the visits of days before that moment, so that a day's estimate never rests on its own outcome."""
    day = workshop.day_of(before)
    return own_figures_before(workshop, {day})[day]


def own_figures_before(workshop: Workshop, days: Collection[date]) -> dict[date, OwnFigures]:
    """The same for each of these days, read together."""
    if not days:
        return {}
    rows = VisitPiece.objects.of(workshop).filter(visit__date__lt=max(days), visit__cancelled_at=None)
    rows = rows.exclude(medium=None).exclude(piece__part__area=None).order_by("-visit__date", "pk")
    between = rows.filter(visit__date__gte=min(days)).count() if len(days) > 1 else 0
    latest = _read(workshop, rows[: LATEST + between])
    return {day: _of([row for row in latest if row.visit.date < day][:LATEST]) for day in days}


def _read(workshop: Workshop, rows: "QuerySet[VisitPiece]") -> list[VisitPiece]:
    """With what is asked of a row that was blasted; visits, media and parts are shared by many, and read once."""
    steps = Step.objects.filter(kind__in=[Step.Kind.BLASTED, Step.Kind.VOIDED])
    steps = steps.only("piece", "kind", "happened_at", "minutes", "voids")
    pieces = Piece.objects.only("part").prefetch_related("part", Prefetch("steps", steps))
    read = list(rows.prefetch_related("visit", "medium", "timed_by__voided_by", Prefetch("piece", pieces)))
    for row in read:
        row.visit.workshop = workshop
    return read


def _of(rows: list[VisitPiece]) -> OwnFigures:
    stands: dict[Hashable, bool] = {}  # whether something stands against it: the same for pieces that get the same
    blasted = []
    for row in rows:
        if row.blasted:
            alike = row.visit_id, row.medium_id, number(row, "pressure_most")
            if alike not in stands:
                stands[alike] = bool(row.refusals)
            blasted += [] if stands[alike] else [row]
    return OwnFigures(_timed(blasted), _thrown(blasted))


def _timed(rows: Iterable[VisitPiece]) -> dict[Alike, Pairs]:
    found, shares = defaultdict(list), {}
    for row in rows:
        if row.timed is None or row.timed < TIMED:
            continue
        rig = (row.visit_id, row.likely_pressure.magnitude)
        if rig not in shares:
            shares[rig] = open_share(row)
        found[Alike.of(row)].append((row.piece.part.area, row.timed * shares[rig]))
    return dict(found)


def open_share(row: VisitPiece) -> float:
    """Share of the clock in which this nozzle is open: what is timed by the clock is more than blasting."""
    done = blasting.blast(replace(row.job(), area=ONE))
    return float((done.nozzle_time.likely / done.clock_time.likely).to("").magnitude)


def _thrown(rows: Iterable[VisitPiece]) -> dict[Alike, Pairs]:
    """A visit's medium by the area it cleaned; grit that was gathered was thrown more often than it was weighed."""
    pots = defaultdict(list)
    for row in rows:
        if not row.visit.gathered:
            pots[(row.visit_id, row.medium_id)].append(row)
    found = defaultdict(list)
    for pot in pots.values():
        kinds = {Alike.of(row) for row in pot}
        used = [row.used for row in pot if row.used is not None and row.used.magnitude > 0]
        if len(kinds) == 1 and len(used) == len(pot):
            areas = [row.piece.part.area for row in pot if row.piece.part.area is not None]
            found[kinds.pop()].append((sum(used[1:], used[0]), sum(areas[1:], areas[0])))
    return dict(found)
