"""Facts that somebody else changed while a form stood open: the form says so once, shows both, keeps what was typed."""

import hashlib
from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.db import models
from django.utils.datastructures import MultiValueDict

CHANGED = (
    "Somebody changed this while you had it open, and nothing of yours is kept yet. What is kept now stands at each"
    " such box: take it over, or keep once more to put yours in its place."
)
TABLES_CHANGED = "The table below was changed too. It stood at: {}"


class SeenField(forms.CharField):
    """What the form showed, in short; nobody types in it."""

    def __init__(self) -> None:
        super().__init__(required=False, widget=forms.HiddenInput)

    def has_changed(self, initial: Any, data: Any) -> bool:
        return False


class MeanwhileForm(forms.ModelForm):
    """A form that changes a row. Its page renders the hidden box `seen`."""

    def watch(self) -> None:
        """To be called once the row is known."""
        if not self.instance._state.adding:
            self.fields["seen"] = SeenField()
            self.initial["seen"] = self._facts

    def small_tables(self) -> Iterable[forms.BaseFormSet[Any]]:
        """Those below the boxes, that are kept with them."""
        return ()

    def tell_what_changed(self) -> None:
        """To be called while the row is as the database has it and the boxes are read."""
        if "seen" not in self.fields:  # a new row: nobody else can have changed it
            return
        seen = dict(part.split("=") for part in self.cleaned_data.pop("seen", "").split() if part.count("=") == 1)
        now = dict(part.split("=") for part in self._facts().split())
        others = {name for name, was in seen.items() if now.get(name, was) != was}
        boxes = [name for name in others if name in self.fields and name in self.changed_data]
        tables = [rows for rows in self.small_tables() if rows.prefix in others and _typed(rows) != _kept(rows)]
        if boxes or tables:
            for name in boxes:
                self.add_error(name, f"Meanwhile it was made: {self._in_words(name)}")
            self.add_error(None, CHANGED)
            for rows in tables:
                told = "; ".join(
                    ", ".join(str(value) for value in row if value not in (None, "")) for row in _kept(rows)
                )
                self.add_error(None, TABLES_CHANGED.format(told or "nothing"))
            self.data = MultiValueDict(
                {**_lists(self.data), self.add_prefix("seen"): [self._facts()]}
            )  # next it is meant

    def _facts(self) -> str:
        columns = [name for name in self.fields if name in {f.name for f in _columns(self.instance)}]
        told = {name: _plain(getattr(self.instance, name)) for name in columns}
        told |= {str(rows.prefix): _kept(rows) for rows in self.small_tables()}
        return " ".join(f"{name}={_short(value)}" for name, value in told.items())

    def _in_words(self, name: str) -> str:
        box, value = self.fields[name], getattr(self.instance, name)
        if isinstance(value, bool):
            return "ticked" if value else "not ticked"
        if isinstance(value, models.Manager):
            return ", ".join(str(row) for row in value.all()) or "nothing"
        if isinstance(box, forms.ChoiceField) and not isinstance(value, models.Model):
            value = dict(list(box.widget.choices)).get(value, value)
        shown = box.prepare_value(value) if not isinstance(value, models.Model | models.Field) else value
        text = f"{shown} {getattr(box, 'printed', '')}".strip()
        return text if shown not in (None, "") else "nothing"


def _lists(data: Mapping[str, Any]) -> dict[str, list[Any]]:
    return dict(data.lists()) if isinstance(data, MultiValueDict) else {name: [value] for name, value in data.items()}


def _columns(row: models.Model) -> list[Any]:
    return [*row._meta.concrete_fields, *row._meta.many_to_many]


def _plain(value: Any) -> object:
    if isinstance(value, models.Manager):
        return sorted(str(row.pk) for row in value.all())
    return value.pk if isinstance(value, models.Model) else getattr(value, "magnitude", value)


def _short(value: object) -> str:
    return hashlib.blake2b(repr(value).encode(), digest_size=6).hexdigest()


def _kept(rows: forms.BaseFormSet[Any]) -> list[list[str]]:
    """What the table showed when it was opened, as text."""
    return [[_text(row.get(name)) for name in rows.empty_form.fields if name != "DELETE"] for row in rows.initial or []]


def _typed(rows: forms.BaseFormSet[Any]) -> list[list[str]]:
    filled = [row for row in rows.forms if row.has_changed()]
    return [[_text(row[name].value()) for name in row.fields if name != "DELETE"] for row in filled]


def _text(value: Any) -> str:
    number = getattr(value, "magnitude", value)
    if isinstance(number, float):
        return f"{number:g}"
    return "" if number in (None, [], ()) else str(number)
