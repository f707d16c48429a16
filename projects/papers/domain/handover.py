"""What is handed over with a finished machine: how each piece was coated, and how its finish is kept."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property
from uuid import UUID

import numpy as np
from django.db.models import Q

from finishing.coatings.models import Coating, GenericType
from finishing.science.air import dew_point, margin
from finishing.science.cautions import Caution, cautions_for
from finishing.science.drying import DryingStage, hours_at
from finishing.science.overcoating import NEW_TYPES, Verdict, verdict
from finishing.science.units import Quantity
from finishing.workshops.models import Workshop
from projects.photos.domain import StoryChapter, story
from projects.proving.domain.assembly import seats_of
from projects.record.models import FilmReading, Fitting, Machine, Photo, Piece, Step
from projects.record.models.stages import LayerDone, standing_entries
from projects.work.domain.film_map import FilmMap, acceptance_of
from projects.work.domain.outlook import Outlook, outlooks

from .job_cards import JobCard

Kind = Step.Kind
PHOTOS_OF_A_STAGE = 6
AT = 20.0  # °C, for which a sheet's times are told where the weather of that time is gone
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
    film: FilmMap

    @cached_property
    def standing(self) -> list[Step]:
        return sorted(standing_entries(self.piece.steps.all()), key=lambda step: (step.happened_at, step.entered_at))

    @property
    def steps(self) -> list[RecordedStep]:
        return [RecordedStep(step) for step in self.standing if step.kind in TOLD]

    @property
    def photos(self) -> list[Photo]:
        """The first and the last, so that it is seen how it came and how it went."""
        every = [photo for step in self.standing for photo in step.photos.all() if not photo.kept_back]
        return every if len(every) <= PHOTOS_OF_A_PIECE else [every[0], every[-1]]

    @property
    def last_coat(self) -> Coating | None:
        coat = self.piece.state.last_coat
        return coat.coating if coat else None


@dataclass(frozen=True)
class TopCoat:
    """A last coat that pieces share: when it went on, from when it bears another, and until when without rubbing down.

    by_weather: by the air that it has dried in; else as its sheet says for 20 °C. None: not known, or no end to it.
    """

    on: datetime
    bears_from: datetime | None
    bears_until: datetime | None
    by_weather: bool


@dataclass(frozen=True)
class PaintInUse:
    """A paint of the machine, the batches of it, and what may go over it where it lies on top.

    uppermost: the pieces of which it is the last coat, by when that went on
    over: of each type of new paint, inside the recoat window and when the coat has aged.
    """

    coating: Coating
    batches: list[str]
    uppermost: dict[TopCoat, list[Piece]]

    @property
    def uppermost_on(self) -> list[Piece]:
        return [piece for pieces in self.uppermost.values() for piece in pieces]

    @property
    def over(self) -> list[tuple[str, Verdict, Verdict]]:
        old = self.coating.generic_type
        return [
            (str(GenericType(new).label), verdict(new, old, aged=False), verdict(new, old, aged=True))
            for new in NEW_TYPES
        ]


@dataclass(frozen=True)
class HandoverBook:
    """story: its stages, with the words that the workshop shares and some photos of each
    top_coats: by the piece's id its last coat
    """

    machine: Machine
    records: list[PieceRecord]
    story: list[StoryChapter]
    top_coats: dict[UUID, TopCoat]

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
                self._uppermost(paint),
            )
            for paint in paints
        ]

    def _uppermost(self, paint: Coating) -> dict[TopCoat, list[Piece]]:
        pieces: dict[TopCoat, list[Piece]] = defaultdict(list)
        for record in self.records:
            if record.last_coat == paint:
                pieces[self.top_coats[record.piece.pk]].append(record.piece)
        return dict(sorted(pieces.items(), key=lambda row: row[0].on))

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


def handover_book(machine: Machine, now: datetime) -> HandoverBook:
    """What sits in its places now; then what is marked as this machine's and sits in none."""
    seats = [seat for seat in seats_of(machine) if seat.piece]
    seated = {seat.piece.pk: seat for seat in seats if seat.piece}
    own = machine.pieces.filter(set_aside=False).values_list("pk", flat=True)
    pieces = Piece.objects.of(machine.workshop_id).filter(pk__in={*seated, *own}).with_log()
    by_key = {piece.pk: piece for piece in _in_order(pieces)}
    films = _films(machine.workshop, by_key)
    placed = [
        PieceRecord(by_key[pk], seat.name, seat.standing, films[pk]) for pk, seat in seated.items() if pk in by_key
    ]
    others = [PieceRecord(piece, str(piece.part), None, films[pk]) for pk, piece in by_key.items() if pk not in seated]
    coats = _top_coats(machine.workshop, [*by_key.values()], now)
    return HandoverBook(machine, [*placed, *others], _story(machine, [*by_key]), coats)


def _in_order(pieces: Iterable[Piece]) -> list[Piece]:
    return sorted(pieces, key=lambda piece: (piece.part.name, piece.mark))


def _films(workshop: Workshop, pieces: Mapping[UUID, Piece]) -> dict[UUID, FilmMap]:
    rows: dict[UUID, list[FilmReading]] = defaultdict(list)
    for row in FilmReading.objects.standing().filter(piece__in=pieces):
        rows[row.piece_id].append(row)
    return {pk: FilmMap(piece, None, rows[pk], acceptance_of(workshop)) for pk, piece in pieces.items()}


def _story(machine: Machine, pieces: Collection[UUID]) -> list[StoryChapter]:
    """Of the machine, its pieces and the project as a whole: what a customer may see, a few photos of each stage."""
    whole = Q(machine=None, step=None)
    chapters = story(machine.project, whole | Q(machine=machine) | Q(step__piece__in=pieces))
    told = [
        replace(
            chapter,
            page=chapter.page if chapter.page and chapter.page.shared else None,
            photos=some_of(chapter.photos, PHOTOS_OF_A_STAGE),
        )
        for chapter in chapters
    ]
    return [chapter for chapter in told if chapter.photos or chapter.page]


def some_of(photos: list[Photo], most: int) -> list[Photo]:
    """The first, the last and some between them, evenly."""
    if len(photos) <= most:
        return photos
    return [photos[round(place * (len(photos) - 1) / (most - 1))] for place in range(most)]


def _top_coats(workshop: Workshop, pieces: list[Piece], now: datetime) -> dict[UUID, TopCoat]:
    return {
        outlook.piece.pk: _top_coat(outlook, outlook.state.last_coat)
        for outlook in outlooks(workshop, pieces, now)
        if outlook.state.last_coat
    }


def _top_coat(outlook: Outlook, last: LayerDone) -> TopCoat:
    """By the hours of the weather where they reach back to it."""
    coat = outlook.last_on
    if coat is None:
        return TopCoat(last.happened_at, None, None, by_weather=False)
    if last.happened_at >= outlook.instant(0):
        window = coat.window
        ends = [float(end) for end in (window.closed_from, window.closes) if np.isfinite(end)]
        until = outlook.moment(min(ends)) if ends else None
        return TopCoat(last.happened_at, outlook.moment(float(window.opens)), until, by_weather=True)
    hours = float(hours_at(coat.table, DryingStage.RECOAT_FROM, AT))
    closes = (
        float(hours_at(coat.table, DryingStage.RECOAT_UNTIL, AT))
        if coat.table.gives(DryingStage.RECOAT_UNTIL)
        else None
    )
    on = last.happened_at
    until = None if closes is None else on + timedelta(hours=closes)
    return TopCoat(on, on + timedelta(hours=hours), until, by_weather=False)
