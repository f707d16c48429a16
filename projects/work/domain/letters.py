"""A part's raised letters: how much face they have, and what of their paint one coat takes."""

from finishing.coatings.models import Coating
from finishing.science import film
from finishing.science.letters import LOST, MOST_LETTERS, face_area, face_working
from finishing.science.surface import Range
from finishing.science.units import Quantity
from finishing.science.working import Working
from finishing.site.fields import number
from projects.record.models.designs import Part


def letters_face(part: Part) -> Quantity | None:
    """The faces of all letters of one; None where their height, or the words, are not known."""
    asked = _asked(part)
    return None if asked is None else Quantity(face_area(*asked), "mm**2")


def letters_paint(part: Part, coating: Coating | None) -> Range | None:
    """Litres for one coat on the letters of one; None where their face or their paint is not known."""
    face = letters_face(part)
    if face is None or coating is None:
        return None
    return film.paint_for_area(face, coating.dry_film, coating.volume_solids, LOST)


def letters_workings(part: Part) -> list[Working]:
    asked, face, coating = _asked(part), letters_face(part), part.lettering_coating
    if asked is None or face is None:
        return []
    paint = [film.paint_working(face, coating.dry_film, coating.volume_solids, LOST)] if coating else []
    return [face_working(*asked), *paint]


def _asked(part: Part) -> tuple[int, float, float | None] | None:
    height = number(part, "letter_height")
    if height is None or not 1 <= part.letters <= MOST_LETTERS:
        return None
    return part.letters, height, number(part, "letter_stroke")
