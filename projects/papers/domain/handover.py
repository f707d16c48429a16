"""What is handed over with a finished machine: how each piece was coated, and how its finish is kept."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from finishing.coatings.models import Coating, GenericType
from finishing.science.air import dew_point, margin
from finishing.science.cautions import Caution, cautions_for
from finishing.science.overcoating import NEW_TYPES, Verdict, verdict
from finishing.science.units import Quantity
from projects.proving.domain.assembly import seats_of
from projects.record.models import Fitting, Machine, Photo, Piece, Step
from projects.record.models.stages import standing_entries

from .job_cards import JobCard

Kind = Step.Kind
TOLD = {Kind.BLASTED, Kind.CAME_CLEAN, Kind.PREPARED, Kind.COATED, Kind.LETTERED, Kind.TOUCHED_UP}
PHOTOS_OF_A_PIECE = 2  # its first and its last


@dataclass(frozen=True)
class RecordedStep:
    """An entry of the coating record."""

    step: Step

    @property
    def above_dew_point(self) -> Quantity | None:
        """How far the metal was above the dew point of its air; None where not all three were measured."""
        step = self.step
        if step.air_temperature is None or step.humidity is None or step.surface_temperature is None:
            return None
        return margin(step.surface_temperature, dew_point(step.air_temperature, step.humidity))


@dataclass(frozen=True)
class PieceRecord:
    """A piece of the machine with what was done to it, as it happened."""

    piece: Piece
    where: str
    fitting: Fitting | None

    @cached_property
    def standing(self) -> list[Step]:
        return sorted(standing_entries(self.piece.steps.all()), key=lambda step: (step.happened_at, step.entered_at))

    @property
    def steps(self) -> list[RecordedStep]:
        return [RecordedStep(step) for step in self.standing if step.kind in TOLD]

    @property
    def photos(self) -> list[Photo]:
        """The first and the last, so that it is seen how it came and how it went."""
        every = [photo for step in self.standing for photo in step.photos.all()]
        return every if len(every) <= PHOTOS_OF_A_PIECE else [every[0], every[-1]]

    @property
    def last_coat(self) -> Coating | None:
        coat = self.piece.state.last_coat
        return coat.coating if coat else None


@dataclass(frozen=True)
class PaintInUse:
    """A paint of the machine, the batches of it, and what may go over it where it lies on top.

    over: of each type of new paint, inside the recoat window and when the coat has aged.
    """

    coating: Coating
    batches: list[str]
    uppermost_on: list[Piece]

    @property
    def over(self) -> list[tuple[str, Verdict, Verdict]]:
        old = self.coating.generic_type
        return [
            (str(GenericType(new).label), verdict(new, old, aged=False), verdict(new, old, aged=True))
            for new in NEW_TYPES
        ]


@dataclass(frozen=True)
class HandoverBook:
    machine: Machine
    records: list[PieceRecord]

    @cached_property
    def paints(self) -> list[PaintInUse]:
        """In the order in which they first went on."""
        coats = [(record, step.step) for record in self.records for step in record.steps if step.step.coating]
        coats.sort(key=lambda coat: coat[1].happened_at)
        paints = list(dict.fromkeys(step.coating for _, step in coats if step.coating))
        return [
            PaintInUse(
                paint,
                list(dict.fromkeys(step.batch for _, step in coats if step.coating == paint and step.batch)),
                [record.piece for record in self.records if record.last_coat == paint],
            )
            for paint in paints
        ]

    @property
    def unfinished(self) -> list[Piece]:
        return [record.piece for record in self.records if not record.piece.state.finished]

    @property
    def cautions(self) -> list[Caution]:
        """Of what is on it and of its weight; what holds pressure or guards a hand is named on every machine."""
        asked = {"pressure parts and guards", "old paint"} if self._old_paint else {"pressure parts and guards"}
        asked |= {trigger for paint in self.paints for trigger in paint.coating.triggers}
        asked |= {"heavy"} if any(JobCard(record.piece, None, None).heavy for record in self.records) else set()
        return cautions_for(asked)

    @property
    def _old_paint(self) -> bool:
        return any(record.piece.old_paint for record in self.records)


def handover_book(machine: Machine) -> HandoverBook:
    """What sits in its places now; then what is marked as this machine's and sits in none."""
    seats = [seat for seat in seats_of(machine) if seat.piece]
    seated = {seat.piece.pk: seat for seat in seats if seat.piece}
    own = machine.pieces.filter(set_aside=False).values_list("pk", flat=True)
    pieces = Piece.objects.of(machine.workshop_id).filter(pk__in={*seated, *own}).with_log()
    by_key = {piece.pk: piece for piece in _in_order(pieces)}
    placed = [PieceRecord(by_key[pk], seat.name, seat.standing) for pk, seat in seated.items() if pk in by_key]
    others = [PieceRecord(piece, str(piece.part), None) for pk, piece in by_key.items() if pk not in seated]
    return HandoverBook(machine, [*placed, *others])


def _in_order(pieces: Iterable[Piece]) -> list[Piece]:
    return sorted(pieces, key=lambda piece: (piece.part.name, piece.mark))
