"""What is found by words, kind by kind: which columns of its rows are looked in, and where a row is read."""

from collections.abc import Callable, Container
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.urls import reverse

from finishing.coatings.models import Coating, System
from finishing.media.models import Medium
from finishing.site.searching import containing
from finishing.workshops.models import Place, Workshop
from projects.record.models import Buyer, Design, Machine, Order, Part, Piece, Project, Step, Supplier

MOST_SHOWN = 6  # of a kind, where all kinds are shown


@dataclass(frozen=True)
class FoundKind:
    """A kind of row. rows: all of a workshop, in order · columns: looked in · page: the name of a row's own page ·
    key: of the row that this page shows · beside: what is told behind its name · right: who may read them"""

    name: str
    word: str
    rows: Callable[[Workshop], "models.QuerySet[Any]"]
    columns: tuple[str, ...]
    page: str
    beside: Callable[[Any], object]
    key: Callable[[Any], object] = lambda row: row.pk
    right: str = "look"

    def found(self, workshop: Workshop, text: str) -> "models.QuerySet[Any]":
        return self.rows(workshop).filter(containing(text, *self.columns))


@dataclass(frozen=True)
class FoundRow:
    address: str
    name: str
    beside: str

    @classmethod
    def of(cls, kind: FoundKind, row: models.Model) -> "FoundRow":
        return cls(reverse(kind.page, args=[kind.key(row)]), str(row), str(kind.beside(row) or ""))


@dataclass(frozen=True)
class FoundGroup:
    """The first rows of a kind, and whether there are more."""

    kind: FoundKind
    rows: list[FoundRow]
    more: bool


def _entries(workshop: Workshop) -> "models.QuerySet[Step]":
    """Those that stand, the newest first."""
    rows = Step.objects.of(workshop).filter(voided_by=None).exclude(kind=Step.Kind.VOIDED)
    return rows.select_related("piece__part").order_by("-happened_at", "-entered_at", "-id")


def _told(step: Step) -> str:
    return f"{step.piece}{': ' if step.note or step.reason else ''}{step.note or step.reason}"


KINDS = (
    FoundKind(
        "projects", "Projects", lambda workshop: Project.objects.of(workshop).order_by("closed", "name"),
        ("name", "customer", "note"), "project", lambda row: row.customer,
    ),
    FoundKind(
        "designs", "Designs", lambda workshop: Design.objects.of(workshop).filter(hidden=False).order_by("name"),
        ("name", "note"), "design", lambda row: "",
    ),
    FoundKind(
        "machines", "Machines",
        lambda workshop: Machine.objects.of(workshop).select_related("project").order_by("number"),
        ("number", "project__name"), "machine", lambda row: row.project,
    ),
    FoundKind(
        "parts", "Parts", lambda workshop: Part.objects.of(workshop).select_related("design").order_by("name"),
        ("name", "number", "lettering", "mask"), "part", lambda row: f"{row.number} {row.design}".strip(),
    ),
    FoundKind(
        "pieces", "Pieces",
        lambda workshop: Piece.objects.of(workshop).select_related("part", "project").order_by(
            "project__closed", "project__name", "mark"
        ),
        ("mark", "part__name", "project__name", "machine__number"), "piece", lambda row: row.project,
    ),
    FoundKind(
        "entries", "Log", _entries,
        ("note", "reason", "outside", "batch"), "piece", _told, key=lambda row: row.piece_id,
    ),
    FoundKind(
        "coatings", "Coatings",
        lambda workshop: Coating.objects.of(workshop).order_by("retired", "from_library", "name"),
        ("name", "colour_name", "note"), "coating", lambda row: row.colour_name,
    ),
    FoundKind(
        "systems", "Coating systems",
        lambda workshop: System.objects.of(workshop).order_by("retired", "from_library", "name"),
        ("name", "note"), "system", lambda row: "",
    ),
    FoundKind(
        "media", "Blasting media",
        lambda workshop: Medium.objects.of(workshop).order_by("retired", "from_library", "name"),
        ("name",), "medium", lambda row: "",
    ),
    FoundKind(
        "places", "Places", lambda workshop: Place.objects.of(workshop).order_by("name"),
        ("name",), "place", lambda row: row.get_kind_display(),
    ),
    FoundKind(
        "suppliers", "Suppliers", lambda workshop: Supplier.objects.of(workshop).order_by("retired", "name"),
        ("name", "makes", "note"), "supplier", lambda row: row.makes, right="plan",
    ),
    FoundKind(
        "orders", "Orders", lambda workshop: Order.objects.of(workshop).select_related("supplier", "design"),
        ("number", "note", "supplier__name", "design__name", "lines__operation__part__name"), "order",
        lambda row: row.design, right="plan",
    ),
    FoundKind(
        "buyers", "Buyers", lambda workshop: Buyer.objects.of(workshop).select_related("design").order_by("name"),
        ("name", "contact", "note"), "buyer", lambda row: row.design, right="plan",
    ),
)  # fmt: skip


def kinds_for(may: Container[str]) -> list[FoundKind]:
    """Those that a person with these rights may read."""
    return [kind for kind in KINDS if kind.right in may]


def find(workshop: Workshop, text: str, may: Container[str]) -> list[FoundGroup]:
    """One question to the database for each kind, however much there is."""
    groups = []
    for kind in kinds_for(may):
        rows = list(kind.found(workshop, text).distinct()[: MOST_SHOWN + 1])
        found = [FoundRow.of(kind, row) for row in rows[:MOST_SHOWN]]
        groups += [FoundGroup(kind, found, len(rows) > MOST_SHOWN)] if found else []
    return groups
