"""A design's parts as a table, with the pieces of one of its projects; read back it is the same."""

from decimal import Decimal

from projects.proving.domain.parts_list import COUNT, OF_PARTS, OF_PIECES, ListColumn, in_words
from projects.record.models import Design, Part, Piece, Project
from projects.site.exports import TableFormat, table_bytes
from projects.site.sheets import Value


def parts_list(design: Design, project: Project | None, form: TableFormat) -> bytes:
    """A row for each part; with a project a row for each of its pieces, and for each part that has none there."""
    measures = design.workshop.units
    of_pieces = [column for column in OF_PIECES if column.name != COUNT] if project else []
    made: dict[object, list[Piece]] = {}
    for piece in project.pieces.select_related("machine", "place").order_by("mark") if project else ():
        made.setdefault(piece.part_id, []).append(piece)
    rows: list[list[Value]] = []
    for part in design.parts.select_related("system", "lettering_coating").order_by("name"):
        told = [_cell(part, column, measures) for column in OF_PARTS]
        own: list[Piece | None] = [*made.get(part.pk, [])] or [None]
        rows += [[*told, *(_cell(piece, column, measures) if piece else None for column in of_pieces)] for piece in own]
    return table_bytes([column.headed(measures) for column in (*OF_PARTS, *of_pieces)], rows, form, title="parts")


def empty_list(measures: str, form: TableFormat) -> bytes:
    """The headings alone, in the workshop's units."""
    return table_bytes([column.headed(measures) for column in (*OF_PARTS, *OF_PIECES)], [], form, title="parts")


def _cell(row: Part | Piece, column: ListColumn, measures: str) -> Value:
    value = getattr(row, column.name)
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    text = in_words(column, value, measures)
    return Decimal(text) if column.unit and text else text
