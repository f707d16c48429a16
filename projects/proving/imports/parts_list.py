"""A list of parts and pieces as what it would make and change; every fault with its cell, and nothing saved."""

import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, TypeVar
from uuid import UUID

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model

from finishing.coatings.models import Coating, System
from finishing.site.fields import SPELLINGS, QuantityFormField
from finishing.site.models import LibraryRow
from finishing.workshops.models import Place, Workshop
from projects.proving.domain.parts_list import (
    COLUMNS,
    COUNT,
    OF_PARTS,
    OF_PIECES,
    ListChanges,
    ListColumn,
    RowChange,
    in_few_digits,
    same_number,
)
from projects.proving.forms.parts import PartForm, SizeForm
from projects.record.domain.coated_parts import coated
from projects.record.domain.marks import propose_marks
from projects.record.domain.proved import current_revision
from projects.record.models import Design, Machine, Part, Piece, Project, Step
from projects.site.imports.cells import CellError
from projects.site.imports.tables import Table, TableRow, read_table

MOST_NEW_PIECES = 5000
MOST_NAMED = 8  # of the values that may stand in a cell
YES, NO = {"yes", "y", "true", "x", "1", "✓"}, {"no", "n", "false", "0", "-", "–"}
MATERIALS = {  # what people write, in small letters, beside the names here
    "cast iron": Part.Material.GREY_IRON, "gray iron": Part.Material.GREY_IRON,
    "gray cast iron": Part.Material.GREY_IRON, "iron": Part.Material.GREY_IRON,
    "ductile": Part.Material.DUCTILE_IRON, "ductile cast iron": Part.Material.DUCTILE_IRON,
    "nodular iron": Part.Material.DUCTILE_IRON, "spheroidal graphite iron": Part.Material.DUCTILE_IRON,
    "sg iron": Part.Material.DUCTILE_IRON, "mild steel": Part.Material.STEEL, "steel plate": Part.Material.STEEL,
    "aluminum": Part.Material.ALUMINIUM, "gunmetal": Part.Material.BRONZE,
}  # fmt: skip
IN_BRACKETS = re.compile(r"(.*?)\s*[(\[]\s*([^)\]]*?)\s*[)\]]\s*\.?")
BARE_NUMBER = re.compile(r"[^A-Za-zµμ°\"″”]+")
Meant = TypeVar("Meant")


@dataclass(frozen=True)
class CheckedList:
    """A list with what it would do and what is wrong in it; with any error nothing of it is taken in."""

    table: Table
    changes: ListChanges
    errors: tuple[CellError, ...]
    same: int  # parts that stay as they are
    passed_over: list[str]  # headings that say nothing here


def check_list(data: bytes, design: Design, project: Project | None, place: Place | None) -> CheckedList:
    """place: where pieces stand whose rows do not say so. Raises NotATable where the file cannot be read."""
    table = read_table(data)
    return _List(table, design, project, place).checked()


@dataclass
class _PartLines:
    """A part, and the cells that told of it so far: by column, the row and the value."""

    part: Part
    told: dict[str, tuple[int, Any]] = field(default_factory=dict)
    change: RowChange | None = None


class _List:
    def __init__(self, table: Table, design: Design, project: Project | None, place: Place | None) -> None:
        self.table, self.design, self.project, self.place = table, design, project, place
        self.workshop: Workshop = design.workshop
        self.errors: list[CellError] = []
        self.columns, self.passed_over = self._matched()
        self.read = _cells(self.workshop)
        self.meant: dict[tuple[str, str, str | None], Any] = {}
        known = design.parts.select_related("system", "lettering_coating", "design", "workshop")
        self.lines = {part.name.casefold(): _PartLines(part) for part in known.prefetch_related("revisions")}
        self.coated = coated(line.part for line in self.lines.values())
        self.changes = ListChanges()
        self._know_pieces()

    def _know_pieces(self) -> None:
        rows = self.project.pieces.select_related("part", "machine", "place") if self.project else ()
        self.pieces: dict[str, Piece] = {piece.mark: piece for piece in rows}
        self.marked: dict[str, int] = {}  # marks of this list, each with its row
        machines = self.project.machines.all() if self.project else ()
        self.machines = {machine.number.casefold(): machine for machine in machines}
        of_project = Step.objects.filter(piece__project=self.project) if self.project else Step.objects.none()
        self.logged: set[UUID] = set(of_project.order_by().values_list("piece", flat=True).distinct())
        self.have: Counter[tuple[UUID, UUID | None]] = Counter()  # pieces of a part, and of it in one machine
        self.counted: list[tuple[TableRow, Part, Machine | None, int, dict[str, Any]]] = []

    def _matched(self) -> tuple[dict[str, tuple[ListColumn, str]], list[str]]:
        """By heading, the column that it means and the unit that it says; and the headings that mean none."""
        known = {_plain(name): column for column in COLUMNS.values() for name in (column.heading, *column.also)}
        matched: dict[str, tuple[ListColumn, str]] = {}
        passed_over: list[str] = []
        for heading in self.table.columns:
            column, unit = _meant_by(heading, known)
            if column is None:
                passed_over.append(heading)
            elif column in [other for other, _ in matched.values()]:
                says = f"another column is headed as {column.heading} too."
                self.errors.append(CellError(self.table.heading, heading, says))
            elif unit and (not column.unit or unit not in SPELLINGS):
                says = f"“{unit}” is not a unit in which {column.heading} is told."
                self.errors.append(CellError(self.table.heading, heading, says))
            else:
                matched[heading] = (column, unit)
        if not any(column.name == "name" for column, _ in matched.values()):
            self.errors.append(CellError(self.table.heading, "", "no column is headed “part”: which part is meant?"))
        return matched, passed_over

    def checked(self) -> CheckedList:
        for row in self.table.rows:
            self._take(row)
        for piece in (*self.pieces.values(), *self.changes.pieces):
            self.have.update([(piece.part_id, None), (piece.part_id, piece.machine_id or piece.pk)])
        for row, part, machine, count, shared in self.counted:
            self._count(row, part, machine, count, shared)
        self._mark()
        for line in self.lines.values():
            self._check(line)
        if len(self.changes.pieces) > MOST_NEW_PIECES:
            says = f"these are {len(self.changes.pieces)} new pieces; {MOST_NEW_PIECES} at once is the most."
            self.errors.append(CellError(self.table.heading, self._heading(COUNT), says))
        self.errors.sort(key=lambda error: (error.row, self._place_of(error.column)))
        touched = len(self.changes.parts) + len(self.changes.changed_parts)
        same = sum(1 for line in self.lines.values() if line.told) - touched
        return CheckedList(self.table, self.changes, tuple(self.errors), same, self.passed_over)

    def _heading(self, name: str) -> str:
        """Under which the table has a column."""
        return next((heading for heading, (column, _) in self.columns.items() if column.name == name), "")

    def _place_of(self, heading: str) -> int:
        return self.table.columns.index(heading) if heading in self.table.columns else -1

    # one row

    def _take(self, row: TableRow) -> None:
        before = len(self.errors)
        values = self._values(row)
        if "name" not in values:
            if len(self.errors) == before:
                self._wrong(row, "name", "every row names its part.")
            return
        readable = len(self.errors) == before
        line = self._tell(row, values)
        of_piece = {column.name for column in OF_PIECES} & values.keys()
        if readable and of_piece:
            self._tell_pieces(row, line.part, values)

    def _values(self, row: TableRow) -> dict[str, Any]:
        """What its cells mean, by column; an empty cell says nothing."""
        values: dict[str, Any] = {}
        for heading, (column, unit) in self.columns.items():
            text = row.text(heading)
            if not text:
                continue
            key = (heading, text, row.decimal_mark)
            try:
                if key not in self.meant:
                    with_unit = f"{text} {unit}" if unit and BARE_NUMBER.fullmatch(text) else text
                    self.meant[key] = self.read[column.name](with_unit, row.decimal_mark)
                values[column.name] = self.meant[key]
            except ValidationError as error:
                self._wrong(row, column.name, " ".join(error.messages))
        return values

    def _wrong(self, row: TableRow | int, name: str, says: str) -> None:
        number = row if isinstance(row, int) else row.number
        self.errors.append(CellError(number, self._heading(name), says))

    def _tell(self, row: TableRow, values: dict[str, Any]) -> _PartLines:
        """What the row says of its part: a new one, or what becomes otherwise of one that is there."""
        key = values["name"].casefold()
        if key not in self.lines:
            self.lines[key] = _PartLines(Part(workshop=self.workshop, design=self.design, name=values["name"]))
            self.changes.parts.append(self.lines[key].part)
        line = self.lines[key]
        line.told.setdefault("name", (row.number, line.part.name))
        for column in OF_PARTS:
            if column.name not in values or column.name == "name":
                continue
            value = values[column.name]
            told_in, told = line.told.setdefault(column.name, (row.number, value))
            if told_in != row.number and not _alike(column, told, value):
                self._wrong(row, column.name, f"row {told_in} says otherwise of {line.part}.")
            elif told_in == row.number:
                self._set(line, column, value, row)
        return line

    def _set(self, line: _PartLines, column: ListColumn, value: Any, row: TableRow) -> None:
        part = line.part
        before = getattr(part, column.name)
        if _alike(column, before, value):
            return
        if column.name in ("system", "stays_bare") and part.pk in self.coated:
            says = f"coats of {part} are in the log already; change this at the part itself."
            self._wrong(row, column.name, says)
            return
        setattr(part, column.name, value)
        if column.name == "area":
            part.area_basis = "typed in a list"
        if not part._state.adding:
            if line.change is None:
                line.change = RowChange(part, {})
                self.changes.changed_parts.append(line.change)
            line.change.what[column.headed(self.workshop.units)] = (
                self._words(column, before),
                self._words(column, value),
            )

    def _words(self, column: ListColumn, value: Any) -> str:
        return in_few_digits(column, value, self.workshop.units)

    def _check(self, line: _PartLines) -> None:
        """What one cell alone does not show."""
        if not line.told or not (line.part._state.adding or line.change):
            return
        try:
            line.part.clean()
        except ValidationError as error:
            for name, messages in error.message_dict.items():
                self._wrong(line.told.get(name, line.told["name"])[0], name, " ".join(messages))

    # its pieces

    def _tell_pieces(self, row: TableRow, part: Part, values: dict[str, Any]) -> None:
        if self.project is None:
            name = next(column.name for column in OF_PIECES if column.name in values)
            self._wrong(row, name, "choose the project into which the pieces go, or leave this column out.")
            return
        shared: dict[str, Any] = {name: values[name] for name in ("place", "old_paint", "salt") if name in values}
        machine = self._machine(values["machine"]) if "machine" in values else None
        if "mark" in values and values.get(COUNT, 1) != 1:
            self._wrong(row, COUNT, "a row with a mark is one piece; leave the number out.")
        elif "mark" in values:
            self._tell_piece(row, values["mark"], part, machine, shared)
        elif COUNT in values:
            self.counted.append((row, part, machine, values[COUNT], shared))
        else:
            self._wrong(row, COUNT, "say how many pieces, or the mark of one.")

    def _machine(self, number: str) -> Machine:
        key = number.casefold()
        if key not in self.machines:
            assert self.project is not None
            self.machines[key] = Machine(workshop=self.workshop, project=self.project, number=number)
            self.changes.machines.append(self.machines[key])
        return self.machines[key]

    def _tell_piece(
        self, row: TableRow, mark: str, part: Part, machine: Machine | None, shared: dict[str, Any]
    ) -> None:
        if mark in self.marked:
            self._wrong(row, "mark", f"{mark} is the piece of row {self.marked[mark]} already.")
            return
        self.marked[mark] = row.number
        there = self.pieces.get(mark)
        if there is None:
            self._make(row, part, machine, mark, shared)
        elif there.part_id != part.pk:
            self._wrong(row, "mark", f"{mark} is there already, a piece of {there.part}.")
        else:
            told = shared | ({"machine": machine} if machine else {})
            self._change_piece(row, there, told)

    def _change_piece(self, row: TableRow, piece: Piece, told: dict[str, Any]) -> None:
        change = RowChange(piece, {})
        for name, value in told.items():
            before = getattr(piece, name)
            if before == value:
                continue
            if name == "place" and piece.pk in self.logged:
                self._wrong(row, name, f"{piece.mark} has entries in its log; log a move instead.")
                continue
            setattr(piece, name, value)
            column = COLUMNS[name]
            change.what[column.heading] = (self._words(column, before), self._words(column, value))
        if change.what:
            self.changes.changed_pieces.append(change)

    def _count(self, row: TableRow, part: Part, machine: Machine | None, count: int, shared: dict[str, Any]) -> None:
        """Those that lack."""
        lacking = max(0, count - self.have[part.pk, machine.pk if machine else None])
        for _ in range(lacking):
            self._make(row, part, machine, "", shared)
        self.have.update({(part.pk, None): lacking, (part.pk, machine.pk if machine else part.pk): lacking})

    def _make(self, row: TableRow, part: Part, machine: Machine | None, mark: str, shared: dict[str, Any]) -> None:
        told = {"place": self.place, "old_paint": self.design.hidden, **shared}
        if told["place"] is None:
            self._wrong(row, COUNT, "say in which place the pieces stand.")
            return
        revision = None if part._state.adding else current_revision(part)
        assert self.project is not None
        piece = Piece(workshop=self.workshop, project=self.project, part=part, mark=mark, revision=revision, **told)
        piece.machine = machine
        self.changes.pieces.append(piece)

    def _mark(self) -> None:
        """Marks for those that were only counted."""
        without = [piece for piece in self.changes.pieces if not piece.mark]
        if not without:
            return
        marks: dict[str, list[str]] = {line.part.name: [] for line in self.lines.values()}
        for piece in (*self.pieces.values(), *self.changes.pieces):
            if piece.mark:
                marks[piece.part.name].append(piece.mark)
        for piece, mark in zip(without, propose_marks([piece.part.name for piece in without], marks), strict=True):
            piece.mark = mark


# What a heading and a cell mean


def _plain(heading: str) -> str:
    """Without points, dashes and apostrophes, and with single spaces."""
    return " ".join(re.sub(r"[.:#’'′]", "", re.sub(r"[-_/]", " ", heading.casefold())).split())


def _meant_by(heading: str, known: dict[str, ListColumn]) -> tuple[ListColumn | None, str]:
    """The column, and the unit that stands in brackets or last in its heading."""
    if _plain(heading) in known:
        return known[_plain(heading)], ""
    if bracketed := IN_BRACKETS.fullmatch(heading):
        return known.get(_plain(bracketed[1])), _spelled(bracketed[2])
    name, _, last = heading.rpartition(" ")
    return (known.get(_plain(name)), _spelled(last)) if _spelled(last) in SPELLINGS else (None, "")


def _spelled(unit: str) -> str:
    """As the list of units has it; a heading is read in small letters."""
    return next((known for known in SPELLINGS if known.casefold() == unit.casefold()), unit)


def _alike(column: ListColumn, one: Any, other: Any) -> bool:
    if not column.unit or one is None or other is None:
        return bool(one == other)
    return same_number(float(one.magnitude), float(other.magnitude))


def _cells(workshop: Workshop) -> dict[str, Callable[[str, str | None], Any]]:
    """How the cell of each column is read: by the box in which a person would type it."""
    form, size_form = PartForm(workshop=workshop), SizeForm(workshop=workshop)
    boxes: dict[str, forms.Field] = {**form.fields, **size_form.fields}
    boxes |= {
        "mark": forms.CharField(max_length=40),
        "machine": forms.CharField(max_length=40),
        COUNT: forms.IntegerField(min_value=0, max_value=MOST_NEW_PIECES),
    }
    boxes["quantity"] = forms.IntegerField(min_value=1, max_value=32767)
    systems, coatings = System.objects.of(workshop), Coating.objects.of(workshop)
    chosen = {
        "material": _one_of("material", _by_label(Part.Material.choices) | MATERIALS),
        "blasted": _one_of("way to blast", _by_label(Part.Blasted.choices)),
        "salt": _one_of("salt", _by_label(Workshop.Salt.choices)),
        "system": _one_of("coating system", _by_name(systems.filter(retired=False))),
        "lettering_coating": _one_of("paint", _by_name(coatings.filter(retired=False))),
        "place": _one_of("place", {place.name.casefold(): place for place in Place.objects.of(workshop)}),
    }
    readers: dict[str, Callable[[str, str | None], Any]] = {name: _typed(boxes[name], workshop) for name in boxes}
    for name, choose in chosen.items():
        readers[name] = choose
    for name in ("stays_bare", "old_paint"):
        readers[name] = _yes_or_no
    return readers


def _typed(box: forms.Field, workshop: Workshop) -> Callable[[str, str | None], Any]:
    def read(text: str, decimal_mark: str | None) -> Any:
        if isinstance(box, QuantityFormField):
            box.comma_is_point = {",": True, ".": False}.get(decimal_mark or "", workshop.comma_is_point)
        return box.clean(text)

    return read


def _by_label(choices: Iterable[tuple[str, str]]) -> dict[str, Any]:
    return {text.casefold(): value for value, label in choices for text in (value, label)}


def _by_name(rows: Iterable[LibraryRow]) -> dict[str, Any]:
    """Of two of a name the workshop's own."""
    return {str(row).casefold(): row for row in sorted(rows, key=lambda row: not row.from_library)}


def _one_of(what: str, known: dict[str, Any]) -> Callable[[str, str | None], Any]:
    def read(text: str, decimal_mark: str | None) -> Any:
        key = " ".join(text.split()).casefold()
        if key in known:
            return known[key]
        names = list(dict.fromkeys(str(value) if isinstance(value, Model) else name for name, value in known.items()))
        further = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        there = f" There are: {'; '.join(names[:MOST_NAMED])}{further}." if names else " There is none yet."
        raise ValidationError(f"“{text}” is no {what} known here.{there}")

    return read


def _yes_or_no(text: str, decimal_mark: str | None) -> bool:
    if text.casefold() in YES | NO:
        return text.casefold() in YES
    raise ValidationError(f"“{text}” is neither yes nor no.")
