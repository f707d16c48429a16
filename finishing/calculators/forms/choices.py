"""Which paint or medium is meant: a generic one of the starting library, for anybody, or one of the workshop's own."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.db.models import QuerySet

from finishing.coatings.models import Coating, DryingPoint
from finishing.library.actions import media, sheets
from finishing.media.models import Medium
from finishing.science.drying import ADDITIVE, DryingTable
from finishing.workshops.models import Workshop


class LibraryOrOwnField(forms.ChoiceField):
    """An address that names another workshop's row names nothing."""

    model: type[Coating] | type[Medium]
    own_words: str
    generic_words: str

    def __init__(self, *, none: str = "", **kwargs: Any) -> None:
        self.none = none
        self.workshop: Workshop | None = None
        super().__init__(choices=self._offered, **kwargs)

    def of(self, workshop: Workshop | None) -> None:
        self.workshop = workshop
        self.choices = self._offered  # asked again now that it is known whose rows may be offered

    def generic(self) -> Iterable[tuple[str, str]]:
        """Keys of the starting library, with their names."""
        raise NotImplementedError

    def own(self) -> QuerySet[Any]:
        if self.workshop is None:
            return self.model.objects.none()
        return self.model.objects.of(self.workshop).own_in_use()

    def _offered(self) -> list[tuple[str, Any]]:
        own = [(str(row.pk), row.name) for row in self.own()]
        offered = [(self.own_words, own), (self.generic_words, list(self.generic()))]
        return [*([("", self.none)] if self.none else []), *offered[not own :]]


class MediumField(LibraryOrOwnField):
    """Gives a Medium."""

    model, own_words, generic_words = Medium, "Our bags", "Generic media"

    def generic(self) -> Iterable[tuple[str, str]]:
        return ((medium.library_key, medium.name) for medium in media())

    def clean(self, value: Any) -> Medium | None:
        chosen = super().clean(value)
        if not chosen:
            return None
        generic = next((medium for medium in media() if medium.library_key == chosen), None)
        return generic or self.own().get(pk=chosen)


@dataclass(frozen=True)
class ChosenPaint:
    """A coating and the rows of its drying table, whether or not it stands in the database.

    `stirred`: how much an additive of its own lengthens drying
    """

    coating: Coating
    points: list[DryingPoint]
    stirred: float = ADDITIVE.value

    @property
    def table(self) -> DryingTable | None:
        return self.coating.drying_table(self.points)


class PaintField(LibraryOrOwnField):
    """Gives a ChosenPaint, or None where none is chosen."""

    model, own_words, generic_words = Coating, "Our tins", "Generic types"

    def generic(self) -> Iterable[tuple[str, str]]:
        return ((sheet.key, sheet.values["name"]) for sheet in sheets())

    def clean(self, value: Any) -> ChosenPaint | None:
        chosen = super().clean(value)
        if not chosen:
            return None
        sheet = next((sheet for sheet in sheets() if sheet.key == chosen), None)
        if sheet:
            return ChosenPaint(sheet.coating(), sheet.drying_points())
        coating = self.own().get(pk=chosen)
        stirred = max((additive.slower for additive in coating.additives.all()), default=ADDITIVE.value)
        return ChosenPaint(coating, list(coating.drying_points.all()), stirred)


def first_generic_paint() -> str:
    """As an example."""
    return sheets()[0].key
