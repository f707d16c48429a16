"""What blasting takes: each piece with what it gets and how long that lasts, and what a day of them comes to.

Pieces of which something is missing are left out and named; so are those that are refused, each with its reason.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from uuid import UUID

from finishing.media.models import Medium
from finishing.media.words import refusal_words
from finishing.science import blasting, compressor, grit, nozzle
from finishing.science.blasting import Blast, Job
from finishing.science.cautions import HEAVY_FROM, Caution, cautions_for
from finishing.science.surface import Range
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity
from finishing.science.working import Working
from projects.money import contractor
from projects.money.rounding import shared_out
from projects.record.models.visits import Visit, VisitPiece

from .own_figures import Alike, OwnFigures

OLD_PAINT = "thick old paint"


@dataclass(frozen=True, eq=False)
class Line:
    """One piece on the sheet, as reckoned at the pressure where its work will likely run."""

    row: VisitPiece
    job: Job
    done: Blast

    @property
    def medium(self) -> Medium:
        assert self.row.medium is not None  # a piece without one is left out
        return self.row.medium

    @property
    def minutes(self) -> int:
        """Whole minutes on the clock: as somebody typed them, else as reckoned."""
        typed = self.row.minutes
        return max(1, round((typed if typed is not None else self.done.clock_time.likely).to("minute").magnitude))

    @property
    def spread(self) -> Range:
        """The same as far as it is known."""
        return self.done.clock_time if self.row.minutes is None else Range.of(self.row.minutes.to("hour"))

    @property
    def pot(self) -> Quantity:
        """What the pot's gauge may show at most."""
        return self.row.pressures(self.row.pressure_most).pot

    @property
    def workings(self) -> list[Working]:
        bore, pressures = self.job.rig.bore, self.job.rig.pressures
        return [
            blasting.rate_working(self.job, self.done),
            blasting.time_working(self.job, self.done),
            blasting.medium_working(self.job, self.done),
            nozzle.nozzle_air_working(bore, pressures.nozzle),
            nozzle.pot_working(self.row.pressures(self.row.pressure_most)),
        ]


@dataclass(frozen=True)
class Left:
    """A piece left out of the sheet: what is missing or what stands against it, and where that is mended."""

    row: VisitPiece
    why: str
    mend: str  # "area", "medium" or "refused"


@dataclass(frozen=True, eq=False)
class MediumNeed:
    """All that a day takes of one medium."""

    medium: Medium
    thrown: Range
    bought: Range

    @property
    def bags(self) -> Range | None:
        return blasting.bags(self.bought, self.medium.bag)


@dataclass(eq=False)
class BlastSheet:
    visit: Visit
    lines: Sequence[Line]
    left: list[Left] = field(default_factory=list)

    @cached_property
    def minutes(self) -> int:
        return sum(line.minutes for line in self.lines)

    @property
    def hours(self) -> float:
        return self.minutes / 60

    @property
    def spread(self) -> Range | None:
        """Hours as far as they are known; None of an empty sheet, as waste and air."""
        return _added(line.spread for line in self.lines) if self.lines else None

    @property
    def too_long(self) -> bool:
        """More than the contractor's day holds."""
        return self.minutes > self.visit.minutes

    @property
    def over(self) -> float:
        """Hours by which it is."""
        return (self.minutes - self.visit.minutes) / 60

    @cached_property
    def cost(self) -> Decimal:
        return self.visit.asks.cost(self.minutes)

    @cached_property
    def shares(self) -> dict[UUID, Decimal]:
        """What each piece bears of the cost, by VisitPiece."""
        shares = shared_out(self.cost, [line.minutes for line in self.lines])
        return {line.row.pk: share for line, share in zip(self.lines, shares, strict=True)}

    @property
    def priced(self) -> list[tuple[Line, Decimal]]:
        return [(line, self.shares[line.row.pk]) for line in self.lines]

    @property
    def cancelled_late(self) -> Decimal:
        """What is owed where he is told too late."""
        return contractor.cancellation(self.cost, Decimal(self.visit.cancel_share))

    @cached_property
    def needs(self) -> list[MediumNeed]:
        by_medium: dict[Medium, list[Blast]] = defaultdict(list)
        for line in self.lines:
            by_medium[line.medium].append(line.done)
        return [
            MediumNeed(medium, _added(done.thrown for done in own), _added(done.bought for done in own))
            for medium, own in sorted(by_medium.items(), key=lambda pair: pair[0].name)
        ]

    @property
    def waste(self) -> Range | None:
        """Spent grit, without what it took off."""
        return _added(need.bought for need in self.needs) if self.lines else None

    @property
    def air(self) -> Range | None:
        return _added(line.done.air for line in self.lines) if self.lines else None

    @property
    def compressor(self) -> Quantity:
        """What a compressor should give for the hungriest piece."""
        return max(line.done.compressor for line in self.lines)

    @property
    def duty(self) -> Quantity | None:
        """Share of the time in which the one that comes can feed the nozzle, at its worst; None where not known."""
        known = [line.done.duty for line in self.lines if line.done.duty is not None]
        return min(known) if known else None

    @property
    def fed(self) -> bool:
        return self.duty is None or self.duty.magnitude >= 100

    @property
    def hose_too_narrow(self) -> bool:
        return any(blasting.hose_too_narrow(line.job.rig) for line in self.lines[:1])

    @property
    def rinse(self) -> str:
        return grit.RINSE if any(line.medium.kind == "bicarbonate" for line in self.lines) else ""

    @property
    def leaded(self) -> bool:
        """Old paint comes off that nobody found free of lead."""
        return self.visit.lead != Visit.Lead.NONE and any(has_old_paint(line.row) for line in self.lines)

    @property
    def cautions(self) -> list[Caution]:
        asked = {trigger for line in self.lines for trigger in blasting.triggers(line.job)} - {"old paint"}
        asked |= {"old paint"} if self.leaded else set()
        asked |= {"chromate"} if any(may_hold_chromate(line.row) for line in self.lines) else set()
        asked |= {"heavy"} if any(is_heavy(line.row) for line in self.lines) else set()
        return cautions_for(asked)

    @property
    def cost_working(self) -> Working:
        return self.visit.asks.working(self.minutes, self.visit.workshop.currency)

    @property
    def workings(self) -> list[Working]:
        """How the sums came about, without money; those of each piece stand with it."""
        if not self.lines:
            return []
        hungriest = max(self.lines, key=lambda line: line.done.air_rate).done
        found = [compressor.compressor_working(hungriest.air_rate, Quantity(0, "m**3/minute"))]
        if self.visit.free_air is not None:
            found.append(compressor.duty_working(self.visit.free_air, hungriest.air_rate))
        return found


def _added(ranges: Iterable[Range]) -> Range:
    """Their sum; there is one at least."""
    first, *others = ranges
    return sum(others, first)


def has_old_paint(row: VisitPiece) -> bool:
    return row.piece.old_paint or row.surface == OLD_PAINT


def may_hold_chromate(row: VisitPiece) -> bool:
    """Old paint does, until somebody knows better; so does a coat of a paint whose sheet says it."""
    coats = (step.coating for step in row.piece.steps.all() if step.coating)
    return has_old_paint(row) or any(coating.poisonous_pigment for coating in coats)


def is_heavy(row: VisitPiece) -> bool:
    """What nobody weighed is lifted as if it were heavy."""
    mass = row.piece.part.mass
    return mass is None or mass.to("kg").magnitude > HEAVY_FROM


def estimate(visit: Visit, rows: list[VisitPiece], own: OwnFigures) -> BlastSheet:
    """The sheet without order and weather: what each piece takes, and what it costs."""
    for row in rows:
        row.visit = visit
    told = [_line(row, own) for row in rows]
    lines = [line for line in told if isinstance(line, Line)]
    return BlastSheet(visit, lines, [line for line in told if isinstance(line, Left)])


def _line(row: VisitPiece, own: OwnFigures) -> Line | Left:
    if row.piece.part.area is None:
        return Left(row, "its part has no painted area, so neither time nor medium can be reckoned", "area")
    if row.medium is None:
        return Left(row, "no medium is chosen", "medium")
    refused = [refusal_words(each, row.visit.workshop.units) for each in row.refusals]
    if refused:
        return Left(row, " ".join(refused), "refused")
    alike = Alike.of(row)
    job = row.job(own.rate(alike), own.use(alike))
    try:
        return Line(row, job, blasting.blast(job))
    except OutsideValidity as outside:
        return Left(row, str(outside), "refused")
