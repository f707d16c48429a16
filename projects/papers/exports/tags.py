"""Tags to be wired to castings, on sheets of labels."""

from collections.abc import Mapping, Sequence
from uuid import UUID

from django.template import Context

from finishing.site.templatetags.quantities import quantity
from finishing.workshops.models import Workshop
from projects.papers.domain.label_sheets import LabelSheet
from projects.record.models import Piece
from projects.site.paper import PALE, RULE, Paper

QUIET = 2.5  # mm from a label's edge


def tags_pdf(
    pieces: Sequence[Piece],
    workshop: Workshop,
    addresses: Mapping[UUID, str],
    codes: Mapping[UUID, str],
    sheet: LabelSheet,
    first: int = 1,
    outlines: bool = True,
) -> bytes:
    """addresses, codes: by the piece's id, what is scanned and what is typed.

    first: the label that is still on a sheet used before, counted from 1.
    """
    paper = Paper(None)
    for number, piece in enumerate(pieces, start=first - 1):
        if number == first - 1 or number % sheet.many == 0:
            paper.add_page()
        said = addresses[piece.pk], codes[piece.pk]
        _tag(paper, piece, workshop, *said, sheet, sheet.corner(number % sheet.many), outlines)
    return bytes(paper.output())


def _tag(
    paper: Paper,
    piece: Piece,
    workshop: Workshop,
    address: str,
    code: str,
    sheet: LabelSheet,
    corner: tuple[float, float],
    outlines: bool,
) -> None:
    """The code at the left, a mark to be read from afar beside it, and a ring where the wire goes."""
    x, y = corner
    width, height = sheet.width, sheet.height
    paper.set_draw_color(*RULE)
    if outlines:
        paper.rect(x, y, width, height)
    side = min(height - 2 * QUIET, width * 0.42)
    paper.code(address, x + QUIET, y + (height - side) / 2, side)
    left, right = x + QUIET + side + 2, x + width - QUIET
    paper.ellipse(right - 5, y + QUIET, 5, 5)
    mass = "" if piece.part.mass is None else quantity(Context({"measures": workshop.units}), piece.part.mass)
    large = max(9.0, min(20.0, height * 0.5))
    top = y + QUIET
    for text, size, bold, room in (
        (piece.mark, large, True, right - left - 6),
        (str(piece.part), large * 0.5, False, right - left),
        (code, large * 0.45, True, right - left),
        (" · ".join(filter(None, (str(piece.machine or ""), mass))), large * 0.42, False, right - left),
        (str(piece.project), large * 0.42, False, right - left),
        (str(workshop), large * 0.36, False, right - left),
    ):
        tall = max(size, 5.0) * 0.44
        if not text or top + tall > y + height - 1:
            continue
        paper.set_font("text", "B" if bold else "", max(size, 5.0))
        paper.set_text_color(*((0, 0, 0) if bold or size > large * 0.4 else PALE))
        paper.set_xy(left - 1, top)
        paper.cell(room + 1, tall, paper.fitted(text, room))
        top += tall + 0.4
