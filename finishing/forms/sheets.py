"""A data sheet as a form, of a tin or of a bag: boxes under headings, and where a changed value was taken from."""

from typing import Any, ClassVar

from django import forms

from .base import WorkshopForm


class SheetForm(WorkshopForm):
    """SECTIONS name the boxes under their headings, NO_VALUES those whose change needs no source."""

    SECTIONS: ClassVar[tuple[tuple[str, tuple[str, ...]], ...]] = ()
    NO_VALUES: ClassVar[frozenset[str]] = frozenset({"id", "source", "retired", "note", "name"})

    source = forms.CharField(
        label="Values taken from", max_length=120, help_text="Written beside each value that you change here."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance._state.adding:
            del self.fields["retired"]

    @property
    def sections(self) -> list[tuple[str, list[Any]]]:
        return [(title, [self[name] for name in names if name in self.fields]) for title, names in self.SECTIONS]

    @property
    def changed_values(self) -> list[str]:
        return [name for name in self.changed_data if name not in self.NO_VALUES]
