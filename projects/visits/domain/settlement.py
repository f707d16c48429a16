"""A visit when it is over: what it took and cost beside what was reckoned, and what each piece bears."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from uuid import UUID

from django.db.models import Prefetch

from finishing.media.models import Medium
from projects.money.rounding import shared_out
from projects.record.domain.kept_plans import KeptPlans
from projects.record.models.pieces import Piece
from projects.record.models.steps import Step
from projects.record.models.visits import Visit, VisitPiece, may_be_blasted
from projects.work.domain.blasting import BlastSheet, estimate
from projects.work.domain.own_figures import OwnFigures, own_figures, own_figures_before

from .blast_sheet import Turnout


@dataclass(frozen=True)
class Compared:
    """A figure beside its estimate; None where one of them is not known."""

    reckoned: float | Decimal | None
    real: float | Decimal | None

    @property
    def more(self) -> int | None:
        """By how many per cent it was more, or less."""
        if not self.reckoned or self.real is None:
            return None
        return round(100 * (float(self.real) / float(self.reckoned) - 1))


@dataclass(eq=False)
class Settlement:
    """`rows` are those of the visit in full, `sheet` the estimate of those that are blasted on it."""

    visit: Visit
    rows: list[VisitPiece]
    sheet: BlastSheet

    @cached_property
    def blasted(self) -> list[VisitPiece]:
        return [row for row in self.rows if row.state == VisitPiece.State.BLASTED]

    @cached_property
    def refused(self) -> list[VisitPiece]:
        return [row for row in self.rows if row.state == VisitPiece.State.REFUSED]

    @cached_property
    def waiting(self) -> list[VisitPiece]:
        return [row for row in self.rows if row.state == VisitPiece.State.WAITING]

    @cached_property
    def reckoned(self) -> dict[UUID, int]:
        """Minutes by VisitPiece; a piece that could not be reckoned counts as the middle of the others."""
        known = {line.row.pk: line.minutes for line in self.sheet.lines}
        usual = round(sum(known.values()) / len(known)) if known else 1
        return {row.pk: known.get(row.pk, usual) for row in self.rows}

    @cached_property
    def minutes(self) -> dict[UUID, int]:
        """Minutes by VisitPiece of what was blasted: as timed; the rest of the hours by what was reckoned."""
        timed = {row.pk: round(row.timed.magnitude) for row in self.blasted if row.timed is not None}
        others = [row.pk for row in self.blasted if row.pk not in timed]
        reckoned = {pk: self.reckoned[pk] for pk in others}
        rest = round(self.visit.hours.magnitude * 60) - sum(timed.values()) if self.visit.hours is not None else 0
        scale = rest / sum(reckoned.values()) if others and rest > 0 else 1
        return timed | {pk: max(1, round(minutes * scale)) for pk, minutes in reckoned.items()}

    @cached_property
    def shares(self) -> dict[UUID, Decimal]:
        """What each piece bears, by VisitPiece: of what was paid, or of the estimate as long as nothing was."""
        if self.visit.paid is None:
            return self.sheet.shares
        weights = [self.minutes[row.pk] for row in self.blasted]
        shares = shared_out(self.visit.paid, weights)
        return {row.pk: share for row, share in zip(self.blasted, shares, strict=True)}

    @property
    def borne(self) -> list[tuple[VisitPiece, int, Decimal]]:
        return [(row, self.minutes[row.pk], self.shares[row.pk]) for row in self.blasted]

    @cached_property
    def as_reckoned(self) -> BlastSheet:
        """The estimate of what was blasted in the end."""
        here = {row.pk for row in self.blasted}
        return BlastSheet(self.visit, [line for line in self.sheet.lines if line.row.pk in here])

    @property
    def hours(self) -> Compared:
        real = None if self.visit.hours is None else self.visit.hours.magnitude
        return Compared(self.as_reckoned.hours, real)

    @property
    def money(self) -> Compared:
        return Compared(self.as_reckoned.cost, self.visit.paid)

    @property
    def media(self) -> list[tuple[Medium, Compared]]:
        """Kilograms of each medium."""
        reckoned = {need.medium: need.bought.likely.to("kg").magnitude for need in self.as_reckoned.needs}
        return [(medium, Compared(reckoned.get(medium), _used(rows))) for medium, rows in pots(self.blasted)]


def pots(rows: Iterable[VisitPiece]) -> list[tuple[Medium, list[VisitPiece]]]:
    """The rows by what was in the pot."""
    pots: dict[UUID, tuple[Medium, list[VisitPiece]]] = {}
    for row in rows:
        if row.medium:
            pots.setdefault(row.medium.pk, (row.medium, []))[1].append(row)
    return sorted(pots.values(), key=lambda pot: pot[0].name)


def _used(rows: list[VisitPiece]) -> float | None:
    weighed = [row.used.to("kg").magnitude for row in rows if row.used is not None]
    return sum(weighed) if weighed else None


def settlement(visit: Visit) -> Settlement:
    return _settled(visit, visit.rows(), None, own_figures(visit.workshop, visit.starts_at))


def settlements(visits: Sequence[Visit]) -> list[Settlement]:
    """Of visits of one workshop, read together; of a piece there is no more than its settlement asks for."""
    if not visits:
        return []
    workshop = visits[0].workshop
    rows = _rows_of(visits)
    open_ones = [visit for visit in visits if visit.open]
    waiting = Piece.objects.filter(visits__visit__in=open_ones)
    kept = KeptPlans.in_short(workshop, waiting) if open_ones else None
    figures = own_figures_before(workshop, {visit.date for visit in visits})
    return [_settled(visit, rows[visit.pk], kept, figures[visit.date]) for visit in visits]


def _rows_of(visits: Sequence[Visit]) -> dict[UUID, list[VisitPiece]]:
    """The `rows()` of each visit, by the next step that is kept of their pieces; those with the log in short."""
    entries = Step.objects.only("piece", "kind", "happened_at", "minutes", "voids", "coating")
    named = "mark", "part", "project", "workshop", "old_paint"
    pieces = (
        Piece.objects.select_related("kept")
        .only(*named, "kept__piece", "kept__next")
        .prefetch_related("part", Prefetch("steps", entries.prefetch_related("coating")))
    )
    read = VisitPiece.objects.filter(visit__in=visits)
    rows: dict[UUID, list[VisitPiece]] = {visit.pk: [] for visit in visits}
    shown = {visit.pk: visit for visit in visits}
    for row in read.prefetch_related("medium", "timed_by__voided_by", Prefetch("piece", pieces)):
        row.visit = shown[row.visit_id]
        kept = getattr(row.piece, "kept", None)
        if row.state != VisitPiece.State.WAITING or may_be_blasted(kept and kept.next):
            rows[row.visit_id].append(row)
    return rows


def _settled(visit: Visit, rows: list[VisitPiece], kept: KeptPlans | None, own: OwnFigures) -> Settlement:
    turnout = Turnout.of(visit, kept)
    here = [row for row in rows if not turnout.beside(row)]
    return Settlement(visit, rows, estimate(visit, here, own))


@dataclass(frozen=True)
class Share:
    """A piece's part in a visit."""

    row: VisitPiece
    money: Decimal | None

    @property
    def paid(self) -> bool:
        return self.row.visit.paid is not None


def shares_of(piece: Piece) -> list[Share]:
    """What a piece bears of each visit that it is on, the newest first; None where it bears nothing."""
    visits = Visit.objects.filter(pieces__piece=piece, cancelled_at=None).select_related("workshop")
    wholes = settlements(list(visits))
    return [Share(row, whole.shares.get(row.pk)) for whole in wholes for row in whole.rows if row.piece_id == piece.pk]
