"""Small tables typed below a form: a row left empty is left out, and a row emptied is taken out."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms

from finishing.workshops.models import Workshop

from .base import OfWorkshop

MOST_ROWS = 40


class RowForm(OfWorkshop):
    """One row. `telling`: the boxes of which at least one is filled where somebody meant it.
    `seldom`: boxes that are folded away, under `seldom_words`, until one of them is wrong or not as usual.
    `advice`: a word below the row on what stands in it."""

    telling: tuple[str, ...] = ()
    seldom: tuple[str, ...] = ()
    seldom_words = ""
    advice = ""
    quiet = True  # what is said of a whole row need not be said of each box

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.settle(workshop)

    def has_changed(self) -> bool:
        boxes = self.telling or tuple(self.fields)
        return any(str(self.data.get(self.add_prefix(name), "")).strip() for name in boxes)

    @property
    def shown(self) -> list[forms.BoundField]:
        return [box for box in self.visible_fields() if box.name not in self.seldom]

    @property
    def folded(self) -> list[forms.BoundField]:
        return [self[name] for name in self.seldom if name in self.fields]

    @property
    def opened(self) -> bool:
        return any(box.errors or _text(box.value()) != _text(box.field.initial) for box in self.folded)


def _text(value: object) -> str:
    number = getattr(value, "magnitude", value)
    return "" if number in (None, []) else f"{number:g}" if isinstance(number, float) else str(number)


class ModelRow(RowForm, forms.ModelForm):
    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, workshop=workshop, **kwargs)
        self.instance.workshop = workshop


class PlainRow(RowForm, forms.Form):
    """A row that is kept in no table of its own."""


class Rows(forms.BaseFormSet):
    """All rows of one kind. Sent back they are all alike: which of them stood there before does not matter.

    `title`, `about`: what stands above them on the page; `more`: how a person comes by more empty rows.
    `seldom`: folded away until one of them is wrong."""

    title: str
    about: str
    more = "More empty rows come when you save and open this again."
    seldom = False

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        workshop: Workshop,
        begin: Iterable[Mapping[str, Any]] = (),
        **kwargs: Any,
    ) -> None:
        errors = {"missing_management_form": "These rows did not come whole. Load the page again and type them anew."}
        super().__init__(data, initial=list(begin), form_kwargs={"workshop": workshop}, error_messages=errors, **kwargs)

    def initial_form_count(self) -> int:
        return 0 if self.is_bound else super().initial_form_count()

    @property
    def filled(self) -> list[Any]:
        return [row for row in self.forms if row.has_changed()]

    @property
    def begun(self) -> list[Any]:
        """Rows in which something stands; where there is none, all of them."""
        return [row for row in self.forms if row.initial or row.has_changed()] or self.forms

    @property
    def spare(self) -> list[Any]:
        return [row for row in self.forms if row not in self.begun]

    @property
    def folded(self) -> bool:
        return self.seldom and not self.non_form_errors() and self.all_right

    @property
    def all_right(self) -> bool:
        return not any(row.errors for row in self.filled)


def rows_of(form: type[RowForm], rows: type[Rows], extra: int = 3) -> type[Any]:
    return forms.formset_factory(form, formset=rows, extra=extra, max_num=MOST_ROWS, absolute_max=MOST_ROWS)
