"""One question asked of the science: its boxes, and its answer as values. Nobody need sign in to ask."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar

from django import forms

from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity
from finishing.science.working import true_minus
from finishing.site.fields import METRIC, QuantityFormField, convert, printed_unit, shown_unit, tidy
from finishing.workshops.models import Workshop

from .choices import LibraryOrOwnField

Answer = dict[str, object]  # by name, for the page to put into words


def one_of(label: str, names: Iterable[str], **kwargs: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=[(name, name) for name in names], **kwargs)


@dataclass(frozen=True)
class Asker:
    """Who asks, and in which units they read; a visitor has no workshop."""

    workshop: Workshop | None = None
    measures: str = METRIC


class Question(forms.Form):
    """A form that opens with an example beside its boxes, never in them: what nobody typed enters no answer.

    A subclass says its name in the address, its title, what it is for, its group, and how it is worked out.
    An `initial` is the example's value, unless the box is among those that begin with what usually holds.
    """

    name: ClassVar[str]
    title: ClassVar[str]
    about: ClassVar[str]
    group: ClassVar[str]
    begins_with: ClassVar[frozenset[str]] = frozenset()
    boxes: ClassVar[dict[str, str]] = {}  # what science calls an input → the box it was typed in

    def __init__(self, data: Mapping[str, Any] | None = None, *, asker: Asker | None = None) -> None:
        super().__init__(data)
        self.asker = asker or Asker()
        self.arrange()
        for box in self.fields.values():
            if isinstance(box, QuantityFormField):
                box.measures = self.asker.measures
            elif isinstance(box, LibraryOrOwnField):
                box.of(self.asker.workshop)
        example = {name: self._first(name, box) for name, box in self.fields.items()}
        self.example = {name: str(text) for name, text in example.items() if text}
        self._show_beside(example)
        self.untouched = not any(box.name in self.data for box in self.visible_fields())
        if self.untouched:
            self.is_bound = False

    def _show_beside(self, example: Mapping[str, Any]) -> None:
        for name, box in self.fields.items():
            if isinstance(box.widget, forms.TextInput | forms.Textarea) and name not in self.begins_with:
                box.initial = None
                if example[name]:
                    box.widget.attrs["placeholder"] = f"e.g. {example[name]}"

    def arrange(self) -> None:
        """Boxes that depend on who asks or on another box."""

    def clean(self) -> dict[str, Any]:
        super().clean()
        return self.cleaned_data

    def work_out(self, *args: Any, **given: Any) -> Answer:
        """The answer to what the boxes hold; each question names its own."""
        raise NotImplementedError

    @cached_property
    def answer(self) -> Answer | None:
        """None where a box is wrong; the error then stands at the box."""
        if not self.is_valid():
            return None
        try:
            return self.work_out(**self.cleaned_data)
        except OutsideValidity as outside:
            self.add_error(self._box_of(outside.name), self._in_words(outside))
            return None

    def in_units(self, measures: str) -> dict[str, str]:
        """What the boxes hold, written in this system of units; what is not understood stays as typed."""
        if self.untouched:
            return {box.name: box.value() for box in self.hidden_fields()}
        self.is_valid()
        typed = {name: self.data.get(name, "") for name in self.fields}
        return typed | {
            name: _written(self.cleaned_data[name], box.unit, measures)
            for name, box in self.fields.items()
            if isinstance(box, QuantityFormField) and self.cleaned_data.get(name) is not None
        }

    def _first(self, name: str, box: forms.Field) -> Any:
        value = self.get_initial_for_field(box, name)
        if isinstance(box, QuantityFormField) and value is not None:
            return _written(value, box.unit, self.asker.measures)
        if value is None and box.required and isinstance(box.widget, forms.Select):
            return next(iter(box.widget.choices))[0]
        return value

    def _box_of(self, name: str) -> str | None:
        box = self.boxes.get(name, name.replace(" ", "_"))
        return box if box in self.fields else None

    def _in_words(self, outside: OutsideValidity) -> str:
        low, high, value = (self._shown(number, outside.unit) for number in (outside.low, outside.high, outside.value))
        return f"{outside.name.capitalize()} comes to {value}; this holds between {low} and {high}."

    def _shown(self, number: float, unit: str) -> str:
        shown = shown_unit(unit, self.asker.measures)
        value = number if shown == unit else convert(number, unit, shown)
        return true_minus(f"{tidy(value)} {printed_unit(shown)}".strip())


def _written(value: Quantity, unit: str, measures: str) -> str:
    shown = shown_unit(unit, measures)
    number = float(value.magnitude)
    return tidy(convert(number, unit, shown) if unit else number)
