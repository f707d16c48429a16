"""What of some projects can be planned now, and what cannot: each with what is missing and where that is filled in."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from finishing.coatings.models import Coating, System
from finishing.science.drying import DryingStage
from finishing.workshops.models import Workshop
from projects.record.domain.states import read_states
from projects.record.models.designs import Part
from projects.record.models.pieces import Piece
from projects.record.models.projects import Project
from projects.record.models.stages import Next
from projects.work.domain.outlook import Outlook, outlooks

from .ground import day_ends
from .terms import Terms


@dataclass(frozen=True)
class Missing:
    """Something that keeps a thing out of the plan: what it is about, why, and the page that mends it."""

    about: str
    why: str
    page: str = ""  # the name of an address
    pk: str = ""  # and what it takes

    def as_json(self) -> dict[str, str]:
        return {"about": self.about, "why": self.why, "page": self.page, "pk": self.pk}


@dataclass(eq=False)
class Scope:
    """The pieces to be planned, by their outlooks; `missing` names all that was left out."""

    terms: Terms
    projects: list[Project]
    now: datetime
    outlooks: list[Outlook] = field(default_factory=list)
    missing: list[Missing] = field(default_factory=list)
    left_out: dict[UUID, str] = field(default_factory=dict)  # why a piece is not planned at all

    @property
    def workshop(self) -> Workshop:
        return self.terms.workshop


def scope_of(terms: Terms, projects: Iterable[Project], now: datetime) -> Scope:
    scope = Scope(terms, list(projects), now)
    rows = terms.wanted(Piece.objects.of(terms.workshop).at_work().filter(project__in=scope.projects))
    for outlook in outlooks(terms.workshop, read_states(rows.in_order()), now, member=terms.member):
        if outlook.state.finished:
            continue
        whys = list(_lacks(outlook.piece, outlook, terms.holding))
        scope.missing += whys
        if whys:
            scope.left_out[outlook.piece.pk] = whys[0].why
        else:
            scope.outlooks.append(outlook)
    scope.missing += [*_letters(scope), *_promises(scope), *_air(scope), *_hands(scope), *_visits(scope)]
    return scope


def area_of(piece: Piece) -> float:
    """Square metres of a piece in a plan's scope: without an area it would have been left out."""
    assert piece.part.square_metres is not None
    return piece.part.square_metres


def system_of(piece: Piece) -> System:
    """The system of a piece in a plan's scope: without one it would have been left out."""
    assert piece.part.system is not None
    return piece.part.system


def _lacks(piece: Piece, outlook: Outlook, holding: Coating | None) -> Iterator[Missing]:
    part, about = piece.part, str(piece)
    if part.area is None:
        yield Missing(about, "its part has no painted area, so nobody can say how long it takes", "part", str(part.pk))
    if part.system is None:
        yield Missing(about, "its part has no coating system", "part", str(part.pk))
        return
    layers = outlook.state.coming or tuple(part.system.layers.all())
    if not layers and outlook.state.next not in (Next.LETTER,):
        yield Missing(about, f"its system, {part.system}, has no layers", "system", str(part.system.pk))
    coatings = {holding, *(layer.coating for layer in layers if layer.is_coat)}
    for coating in (coating for coating in coatings if coating is not None):
        table = coating.drying_table()
        if table is None or not table.gives(DryingStage.RECOAT_FROM):
            yield Missing(about, f"{coating} has no drying times", "coating", str(coating.pk))
    if outlook.state.next == Next.BLAST and piece.blasted_by(cabinet=False) == Part.Blasted.CLEAN:
        yield Missing(about, "it is bought clean: log that it came clean, and it is planned", "piece", str(piece.pk))
    if outlook.overdue:
        yield Missing(about, "its coat-before has passed: look at it, and log bloom, or that it came clean",
                      "piece", str(piece.pk))  # fmt: skip
    if outlook.state.wet_until_dry:
        yield Missing(
            about, "it is wet from blasting: log it dry, with the flash rust that shows", "piece", str(piece.pk)
        )
    if outlook.flash_rust_refused:
        yield Missing(about, "it has more flash rust than its first coat's sheet allows", "piece", str(piece.pk))
    if outlook.in_doubt:
        yield Missing(about, "nobody knows how its bare iron fares: look, and log that", "piece", str(piece.pk))
    if outlook.too_late:
        yield Missing(about, "its recoat window has closed: rub it down and log that", "piece", str(piece.pk))


def _letters(scope: Scope) -> Iterator[Missing]:
    parts = {o.piece.part for o in scope.outlooks if o.state.letters_to_do and o.piece.part.lettering_coating is None}
    for part in sorted(parts, key=str):
        yield Missing(str(part), "its raised letters have no paint, so they are left out", "part", str(part.pk))


def _promises(scope: Scope) -> Iterator[Missing]:
    for project in scope.projects:
        if project.promised_on and day_ends(scope.workshop, project.promised_on) < scope.now:
            day = f"{project.promised_on.day} {project.promised_on:%B}"
            yield Missing(str(project), f"it was promised for {day}, which is over; it is planned as early as can be",
                          "project-edit", str(project.pk))  # fmt: skip


def _air(scope: Scope) -> Iterator[Missing]:
    for outlook in scope.outlooks[:1]:
        if outlook.forecast is None:
            yield Missing("The weather", "there is no forecast", "weather")


def _hands(scope: Scope) -> Iterator[Missing]:
    if not scope.terms.people_who_work():
        yield Missing("People", "nobody is there who works", "members")
    if not scope.terms.places():
        yield Missing("Places", "no place is entered", "places")


def _visits(scope: Scope) -> Iterator[Missing]:
    for visit in scope.terms.visits():
        if visit.minutes <= 0:
            yield Missing(str(visit), "it has no hours", "visit-edit", str(visit.pk))
