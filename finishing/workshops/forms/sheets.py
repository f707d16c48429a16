"""A data sheet as a form, of a tin or of a bag: boxes under headings, and where a changed value was taken from."""

from typing import Any, ClassVar

from django import forms

from .base import WorkshopForm


class SheetForm(WorkshopForm):
    """NO_VALUES: the boxes whose change needs no source."""

    NO_VALUES: ClassVar[frozenset[str]] = frozenset({"id", "source", "retired", "note", "name"})

    source = forms.CharField(
        label="Values taken from", max_length=120, help_text="Written beside each value that you change here."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance._state.adding:
            del self.fields["retired"]

    @property
    def changed_values(self) -> list[str]:
        return [name for name in self.changed_data if name not in self.NO_VALUES]
