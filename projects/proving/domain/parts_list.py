"""A list of parts and their pieces as a table: its columns, and what one that came in would make and change."""

import math
from dataclasses import dataclass, field
from typing import Any

from finishing.site.fields import convert, printed_unit, shown_unit, tidy
from finishing.workshops.models import Workshop
from projects.record.models import Machine, Part, Piece

COUNT = "pieces"
MOST_DIGITS = 14


@dataclass(frozen=True)
class ListColumn:
    """name: what the row calls it · also: what others head it · unit: of the row's own column · says: for its page"""

    name: str
    heading: str
    also: tuple[str, ...] = ()
    unit: str = ""
    says: str = ""

    def headed(self, measures: str) -> str:
        """With the unit in which a workshop writes it."""
        return f"{self.heading} ({printed_unit(shown_unit(self.unit, measures))})" if self.unit else self.heading


OF_PARTS = (
    ListColumn(
        "name", "part", ("name", "part name", "description", "item", "component"), says="Its name; every row has it."
    ),
    ListColumn(
        "number",
        "drawing no.",
        ("number", "drawing number", "drawing", "pattern number", "pattern no", "part number", "part no"),
        says="Of drawing or pattern.",
    ),
    ListColumn(
        "quantity",
        "per machine",
        ("quantity", "qty", "no off", "number off", "quantity per machine"),
        says="Empty: one.",
    ),
    ListColumn(
        "material",
        "material",
        ("metal", "made of"),
        says="Grey cast iron, ductile iron, steel, brass, bronze, aluminium.",
    ),
    ListColumn("mass", "weighs", ("weight", "mass", "weight each"), "kg", "One of it."),
    ListColumn("wall", "mean wall", ("wall", "wall thickness", "thickness"), "mm", "Where the weight is not known."),
    ListColumn("area", "painted area", ("area", "surface", "surface area", "paint area"), "m²", "Of one."),
    ListColumn("stays_bare", "stays bare", ("bare", "unpainted", "not painted"), says="Yes or no."),
    ListColumn("system", "system", ("coating system", "paint system", "paint"), says="By its name here."),
    ListColumn(
        "colour",
        "colour",
        ("color", "body colour", "body color"),
        says="By its name among your paints, or as # and six digits.",
    ),
    ListColumn(
        "blasted", "blasted", ("blasting", "blasted by"), says="Contractor, here, or clean where it is bought so."
    ),
    ListColumn("profile", "blast profile", ("profile",), "µm"),
    ListColumn("mask", "faces to mask", ("mask", "masking"), says="Journals, bores, machined faces."),
    ListColumn("lettering", "raised letters", ("letters", "lettering"), says="As cast."),
    ListColumn("letter_height", "height of a capital", ("letter height", "height of letters"), "mm"),
    ListColumn("letter_stroke", "width of a stroke", ("stroke", "width of strokes"), "mm"),
    ListColumn("letter_relief", "relief", ("relief of letters",), "mm"),
    ListColumn(
        "lettering_coating",
        "letters’ paint",
        ("letters' paint", "lettering paint", "letter paint"),
        says="By its name here.",
    ),
    ListColumn(
        "lettering_colour",
        "letters’ colour",
        ("letters' colour", "letters' color", "lettering colour", "lettering color", "letter colour", "letter color"),
        says="As the colour.",
    ),
)
OF_PIECES = (
    ListColumn(
        COUNT,
        "pieces",
        ("count", "castings", "number of pieces", "how many"),
        says="How many of it there are to be, of the machine where one is named. Those that lack are made and marked.",
    ),
    ListColumn("mark", "mark", ("piece mark", "stamp", "tag"), says="Or: one piece a row, by the mark on it."),
    ListColumn(
        "machine",
        "machine",
        ("machine number", "machine no", "serial number", "serial no"),
        says="Its number; one that is not there yet is made.",
    ),
    ListColumn(
        "place",
        "place",
        ("stands in", "stood first in", "where", "location"),
        says="By its name here; empty: as chosen on the form.",
    ),
    ListColumn("old_paint", "old paint", ("has old paint", "painted before"), says="Yes or no."),
    ListColumn(
        "salt", "salt", ("salt on the iron",), says="Clean, not known, coast, too salty; empty: as the workshop says."
    ),
)
CHOICES = {"material": Part.Material, "blasted": Part.Blasted, "salt": Workshop.Salt}
COLUMNS = {column.name: column for column in (*OF_PARTS, *OF_PIECES)}


def in_words(column: ListColumn, value: Any, measures: str) -> str:
    """A value of a part or piece as a cell of the list has it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if column.unit:
        return "" if value is None else shortest(float(value.magnitude), column.unit, shown_unit(column.unit, measures))
    if column.name == "machine":
        return value.number if value else ""
    if value in (None, ""):
        return ""
    return str(CHOICES[column.name](value).label if column.name in CHOICES else value)


def in_few_digits(column: ListColumn, value: Any, measures: str) -> str:
    """As `in_words`, with no more digits than a person takes in."""
    text = in_words(column, value, measures)
    return tidy(float(text)) if column.unit and text else text


def shortest(number: float, unit: str, shown: str) -> str:
    """A number as the least digits in another unit that mean the same number when they are read again.

    >>> shortest(45.359237, "kg", "lb"), shortest(60, "µm", "mil")
    ('100', '2.362204724')
    """
    typed = convert(number, unit, shown)
    written = (tidy(typed, digits) for digits in range(4, MOST_DIGITS))
    return next((text for text in written if same_number(convert(float(text), shown, unit), number)), repr(typed))


def same_number(one: float, other: float) -> bool:
    """To nine digits."""
    return math.isclose(one, other, rel_tol=1e-9)


@dataclass(frozen=True)
class RowChange:
    """A part or piece that is there, with what becomes otherwise: by heading, before and after."""

    row: Part | Piece
    what: dict[str, tuple[str, str]]


@dataclass(frozen=True)
class ListChanges:
    """What a list makes of a design and of a project of it. Nothing of it is saved yet."""

    parts: list[Part] = field(default_factory=list)
    machines: list[Machine] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    changed_parts: list[RowChange] = field(default_factory=list)
    changed_pieces: list[RowChange] = field(default_factory=list)

    @property
    def any(self) -> bool:
        return bool(self.parts or self.machines or self.pieces or self.changed_parts or self.changed_pieces)
