"""Which paint is meant: a generic type of the starting library, for anybody, or one of the workshop's own tins."""

from dataclasses import dataclass
from typing import Any

from django import forms

from finishing.coatings.models import Coating, DryingPoint
from finishing.library.actions import sheets
from finishing.workshops.models import Workshop


@dataclass(frozen=True)
class Paint:
    """A coating and the rows of its drying table, whether or not it stands in the database."""

    coating: Coating
    points: list[DryingPoint]
    slower: float = 1.0

    @property
    def table(self) -> Any:
        return self.coating.drying_table(self.points)


class PaintField(forms.ChoiceField):
    """Gives a Paint, or None where none is chosen. An address that names another workshop's tin names nothing."""

    def __init__(self, *, none: str, two_pack: bool = False, **kwargs: Any) -> None:
        self.none, self.two_pack, self.workshop = none, two_pack, None
        super().__init__(choices=self._offered, **kwargs)

    def of(self, workshop: Workshop | None) -> None:
        self.workshop = workshop
        self.choices = self._offered  # asked again now that it is known whose tins may be offered

    def clean(self, value: Any) -> Paint | None:
        chosen = super().clean(value)
        if not chosen:
            return None
        sheet = next((sheet for sheet in sheets() if sheet.key == chosen), None)
        if sheet:
            return Paint(sheet.coating(), sheet.drying_points())
        coating = self._own().get(pk=chosen)
        return Paint(coating, list(coating.drying_points.all()), coating.slower())

    def _offered(self) -> list[Any]:
        generic = [(sheet.key, sheet.values["name"]) for sheet in sheets() if self._wanted(sheet.values)]
        own = [(str(coating.pk), coating.name) for coating in self._own()]
        return [("", self.none), *([("Our tins", own)] if own else []), ("Generic types", generic)]

    def _wanted(self, values: dict[str, Any]) -> bool:
        return not self.two_pack or bool(values.get("two_pack"))

    def _own(self) -> Any:
        if self.workshop is None:
            return Coating.objects.none()
        own = Coating.objects.of(self.workshop).filter(from_library=False, retired=False)
        return own.filter(two_pack=True) if self.two_pack else own

    @property
    def first(self) -> str:
        """The first generic type, as an example."""
        return next((sheet.key for sheet in sheets() if self._wanted(sheet.values)), "")
