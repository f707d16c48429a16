"""Which medium is meant: a generic one of the starting library, for anybody, or one of the workshop's own bags."""

from typing import Any

from django import forms

from finishing.library.actions import media
from finishing.media.models import Medium
from finishing.workshops.models import Workshop


class MediumField(forms.ChoiceField):
    """Gives a Medium. An address that names another workshop's bag names nothing."""

    def __init__(self, **kwargs: Any) -> None:
        self.workshop: Workshop | None = None
        super().__init__(choices=self._offered, **kwargs)

    def of(self, workshop: Workshop | None) -> None:
        self.workshop = workshop
        self.choices = self._offered  # asked again now that it is known whose bags may be offered

    def clean(self, value: Any) -> Medium | None:
        chosen = super().clean(value)
        if not chosen:
            return None
        generic = next((medium for medium in media() if medium.library_key == chosen), None)
        return generic or self._own().get(pk=chosen)

    def _offered(self) -> list[Any]:
        generic = [(medium.library_key, medium.name) for medium in media()]
        own = [(str(medium.pk), medium.name) for medium in self._own()]
        return [*([("Our bags", own)] if own else []), ("Generic media", generic)]

    def _own(self) -> Any:
        if self.workshop is None:
            return Medium.objects.none()
        return Medium.objects.of(self.workshop).filter(from_library=False, retired=False)
