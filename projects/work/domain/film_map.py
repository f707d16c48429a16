"""A piece's film as a gauge found it, spot by spot, against what its coats should have left."""

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from finishing.coatings.models import known
from finishing.science.film import Acceptance, FilmSurvey
from finishing.workshops.models import Workshop
from projects.record.models import FilmReading, Photo, Piece

PIN = 40  # of these across a photo's longer side


@dataclass(frozen=True)
class Pin:
    """A reading with its number on the piece; it is "thin" below what is asked, "too thin" below the floor.

    x, y: px of the photo; None where it is not pinned on the photo that is shown.
    """

    number: int
    row: FilmReading
    word: str
    x: float | None
    y: float | None

    @property
    def name(self) -> str:
        return self.row.spot or f"number {self.number}"


@dataclass(frozen=True)
class FilmMap:
    piece: Piece
    photo: Photo | None
    rows: list[FilmReading]
    acceptance: Acceptance

    @property
    def asked(self) -> float:
        """As it was when the last reading was taken."""
        return known(self.rows[-1], "asked")

    @cached_property
    def counted(self) -> list[FilmReading]:
        """Those under the same coats as the last one: earlier ones tell of a thinner film."""
        return [row for row in self.rows if known(row, "asked") == self.asked]

    @cached_property
    def survey(self) -> FilmSurvey | None:
        if not self.rows:
            return None
        return FilmSurvey(tuple(row.film for row in self.counted), self.asked, self.acceptance)

    @property
    def thinnest(self) -> Pin | None:
        return min((pin for pin in self.pins if pin.row in self.counted), key=lambda pin: pin.row.film, default=None)

    @cached_property
    def pins(self) -> list[Pin]:
        return [self._pin(number, row) for number, row in enumerate(self.rows, start=1)]

    @property
    def on_photo(self) -> list[Pin]:
        return [pin for pin in self.pins if pin.x is not None]

    @property
    def radius(self) -> float:
        return max(self.photo.width, self.photo.height) / PIN if self.photo else 0.0

    def _pin(self, number: int, row: FilmReading) -> Pin:
        asked = known(row, "asked")
        word = "too thin" if row.film < self.acceptance.floor * asked else "thin" if row.film < asked else "enough"
        here = self.photo is not None and row.photo_id == self.photo.pk and row.across is not None
        x = row.across * self.photo.width / 100 if here and self.photo and row.across is not None else None
        y = row.down * self.photo.height / 100 if here and self.photo and row.down is not None else None
        return Pin(number, row, word, x, y)


def film_map(piece: Piece, photo: Photo | None = None) -> FilmMap:
    rows = list(FilmReading.objects.standing().filter(piece=piece).select_related("by"))
    return FilmMap(piece, photo, rows, acceptance_of(piece.workshop))


def acceptance_of(workshop: Workshop) -> Acceptance:
    return Acceptance(known(workshop, "film_floor") / 100, known(workshop, "film_thin_share") / 100)


def film_asked(piece: Piece, moment: datetime) -> float | None:
    """µm that the coats which were on should have left together, once each; None where no coat of a system was on.

    A piece whose sides are coated one after the other has no more on a spot than one of them.
    """
    coats = [coat.layer for coat in piece.state_at(moment).coats if coat.layer]
    if not coats:
        return None
    sides = [side for side in {coat.side for coat in coats} if side != "all"] or ["all"]
    films = {coat.pk: 0.0 if coat.dry_film_used is None else coat.dry_film_used.to("µm").magnitude for coat in coats}
    return min(sum(films[coat.pk] for coat in coats if coat.lies_on(side)) for side in sides)
