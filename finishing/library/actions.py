"""The starting library, generic coatings, systems and blasting media, and the workshop that begins with it."""

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from django.conf import settings
from django.db import transaction

from finishing.coatings.actions.coatings import TABLES
from finishing.coatings.models import Coating, DryingPoint, Layer, System
from finishing.media.models import Medium
from finishing.site.models import WorkshopRow
from finishing.workshops.actions.workshops import spend
from finishing.workshops.models import Invitation, Membership, Place, User, Workshop

Row = TypeVar("Row", bound=WorkshopRow)


@dataclass(frozen=True)
class LibraryCoating:
    """A generic type as the library tells it: not a row of any workshop until it is loaded."""

    key: str
    values: dict[str, Any]
    tables: dict[str, list[dict[str, Any]]]

    def coating(self) -> Coating:
        return _filled(Coating, {"library_key": self.key, "from_library": True, **self.values})

    def drying_points(self) -> list[DryingPoint]:
        return [_filled(DryingPoint, point) for point in self.tables["drying_points"]]


def _filled(model: type[Row], values: dict[str, Any]) -> Row:
    """A row not yet saved, its numbers already quantities as they would come from the database."""
    columns = {column.name: column for column in model._meta.concrete_fields}
    return model(**{name: columns[name].to_python(value) for name, value in values.items()})


@cache
def read_library() -> dict[str, Any]:
    path = Path(settings.SHIPPED) / "fixtures" / "library.json"
    return json.loads(path.read_text(encoding="utf-8"))


def sheets() -> list[LibraryCoating]:
    """The generic coatings, for anybody: no rows of any workshop."""
    apart = {"library_key", *TABLES}
    return [
        LibraryCoating(
            entry["library_key"],
            {name: value for name, value in entry.items() if name not in apart},
            {name: entry.get(name, []) for name in TABLES},
        )
        for entry in read_library()["coatings"]
    ]


def media() -> list[Medium]:
    """The generic media, for anybody: no rows of any workshop."""
    return [_filled(Medium, {"from_library": True, **entry}) for entry in read_library()["media"]]


@transaction.atomic
def load_library(workshop: Workshop) -> None:
    """Give a workshop each generic coating, system and medium it has not got yet; what it has stays as it is."""
    coatings = {sheet.key: _load_coating(workshop, sheet) for sheet in sheets()}
    for entry in read_library()["systems"]:
        _load_system(workshop, dict(entry), coatings)
    for entry in read_library()["media"]:
        values = {name: value for name, value in entry.items() if name != "library_key"}
        Medium.objects.get_or_create(
            workshop=workshop, library_key=entry["library_key"], from_library=True, defaults=values
        )


def _load_coating(workshop: Workshop, sheet: LibraryCoating) -> Coating:
    known = Coating.objects.of(workshop).filter(library_key=sheet.key, from_library=True).first()
    if known:
        return known
    coating = sheet.coating()
    coating.workshop = workshop
    coating.save()
    for name, model in TABLES.items():
        for row in sheet.tables[name]:
            model.objects.create(workshop=workshop, coating=coating, **row)
    return coating


def _load_system(workshop: Workshop, entry: dict[str, Any], coatings: dict[str, Coating]) -> None:
    layers = entry.pop("layers")
    system, new = System.objects.get_or_create(
        workshop=workshop, library_key=entry.pop("library_key"), from_library=True, defaults=entry
    )
    if not new:
        return
    for position, values in enumerate(layers, start=1):
        layer = {**values, "coating": coatings.get(values.get("coating"))}
        Layer.objects.create(workshop=workshop, system=system, position=position, **layer)


@transaction.atomic
def begin_workshop(*, invitation: Invitation, owner: User, workshop: Workshop) -> Membership:
    """The owner's workshop with the usual three places and the starting library."""
    spend(invitation)
    owner.save()  # a new account is made here, so that it stays only together with its workshop
    workshop.save()
    for name, kind in (("Yard", Place.Kind.YARD), ("Lean-to", Place.Kind.ROOF), ("Shop", Place.Kind.SHOP)):
        Place.objects.create(workshop=workshop, name=name, kind=kind)
    load_library(workshop)
    return Membership.objects.create(workshop=workshop, user=owner, role=Membership.Role.OWNER)
