"""What every form of a workshop shares: its units, its own rows only, and each error at its field."""

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet
from django.utils.datastructures import MultiValueDict

from finishing.site.fields import QuantityFormField
from finishing.site.models import WorkshopQuerySet, WorkshopRow
from finishing.workshops.models import Workshop

from .fields import NumberField, PriceField, sensible_day
from .meanwhile import MeanwhileForm

USUAL = "usual"  # an empty choice keeps the words it has
DASHES = "---------"  # Django's own words for an empty choice

# the browser's own pickers send and want these forms of date and time
PICKERS = {
    forms.DateInput: ("date", "%Y-%m-%d"),
    forms.TimeInput: ("time", "%H:%M"),
    forms.DateTimeInput: ("datetime-local", "%Y-%m-%dT%H:%M"),
}


@dataclass(frozen=True)
class Section:
    """Boxes under one heading; `folded` where few ask for them and none is wrong."""

    title: str
    boxes: list[forms.BoundField]
    folded: bool

    @property
    def filled(self) -> bool:
        """Something stands in them: the heading says so while it is folded."""
        return any(box.value() not in (None, "", False) for box in self.boxes)


class OfWorkshop(forms.BaseForm):
    """A form that shows the workshop's units and offers only the workshop's rows."""

    quiet: bool | tuple[str, ...] = ()  # see Box in finishing/site/rendering.py

    def settle(self, workshop: Workshop) -> None:
        """Make the boxes the workshop's; to be called again for boxes that come later."""
        for field in self.fields.values():
            if type(field.widget) in PICKERS:
                field.widget.input_type, field.widget.format = PICKERS[type(field.widget)]
            if isinstance(field, forms.DateField | forms.DateTimeField) and sensible_day not in field.validators:
                field.validators.append(sensible_day)
            _name_no_choice(field)
            if isinstance(field, QuantityFormField | NumberField | PriceField):
                field.comma_is_point = workshop.comma_is_point
            if isinstance(field, QuantityFormField):
                field.measures = workshop.units
            elif isinstance(field, forms.ModelChoiceField) and isinstance(field.queryset, WorkshopQuerySet):
                field.queryset = field.queryset.of(workshop)

    def clean(self) -> dict[str, Any]:
        super().clean()
        return self.cleaned_data

    def offer_rows(self, name: str, rows: QuerySet[Any], none: str | None = USUAL) -> None:
        """Let a box choose among `rows`; `none` is what an empty choice means there, None where there is none."""
        box = self.fields[name]
        assert isinstance(box, forms.ModelChoiceField)
        box.queryset = rows
        if none != USUAL:
            box.empty_label = none

    def offer_choices(self, name: str, choices: Iterable[tuple[str, str]]) -> None:
        """Let a box choose among words, each with the value it sends."""
        box = self.fields[name]
        assert isinstance(box, forms.ChoiceField)
        box.choices = choices

    def print_beside(self, name: str, unit: str) -> None:
        """Print a unit beside a box that asks for a bare number."""
        self.fields[name].printed = unit  # type: ignore[attr-defined]  # field.html prints it


def _name_no_choice(field: forms.Field) -> None:
    """Instead of a row of dashes, what an empty choice means."""
    words = "choose" if field.required else "not chosen"
    if isinstance(field, forms.ModelChoiceField):
        field.empty_label = words if field.empty_label == DASHES else field.empty_label
    elif isinstance(field, forms.ChoiceField) and isinstance(field.widget, forms.widgets.ChoiceWidget):
        choices = list(field.widget.choices)
        if ("", DASHES) in choices:
            field.choices = [("", words) if choice == ("", DASHES) else choice for choice in choices]


class QuestionForm(OfWorkshop, forms.Form):
    """A form that makes no row: a calculator, a query string."""

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.workshop = workshop
        self.settle(workshop)


class FilterForm(QuestionForm):
    """Boxes by which a long list is narrowed; asked by the address, and what cannot be meant narrows nothing."""

    quiet = True

    @property
    def asked(self) -> dict[str, Any]:
        """What was typed or chosen, by box."""
        self.is_valid()
        return {name: value for name, value in self.cleaned_data.items() if value not in (None, "", False)}

    @property
    def narrows(self) -> bool:
        return bool(self.asked)


class WorkshopForm(OfWorkshop, MeanwhileForm):
    """A form for one row. A new row takes its id from the form, so that a form sent twice makes one row:
    the second time `repeated` is the row already made, and the view only redirects to it.
    One that somebody else changed meanwhile is not written over unasked.

    SECTIONS: the boxes under their headings, where there are many; SELDOM: the headings that are folded away until
    one of their boxes is wrong."""

    SECTIONS: ClassVar[tuple[tuple[str, tuple[str, ...]], ...]] = ()
    SELDOM: ClassVar[frozenset[str]] = frozenset()
    id = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        files: MultiValueDict[str, UploadedFile] | None = None,
        *,
        workshop: Workshop,
        instance: WorkshopRow | None = None,
        prefix: str | None = None,
        **kwargs: Any,
    ):
        self.workshop = workshop
        sent = as_uuid((data or {}).get(f"{prefix}-id" if prefix else "id")) if instance is None else None
        self.repeated = self._meta.model.objects.of(workshop).filter(pk=sent).first() if sent else None
        super().__init__(data, files, instance=instance or self.repeated, prefix=prefix, **kwargs)
        if instance and not instance._state.adding:
            del self.fields["id"]
        else:
            self.initial.setdefault("id", uuid.uuid4())
        if self.instance._state.adding:
            self.instance.workshop = workshop
        self.settle(workshop)
        if instance is not None:
            self.watch()

    @property
    def sections(self) -> list[Section]:
        """A heading of which no box is left is left out."""
        shown = [(title, [self[name] for name in names if name in self.fields]) for title, names in self.SECTIONS]
        return [
            Section(title, boxes, title in self.SELDOM and not any(box.errors for box in boxes))
            for title, boxes in shown
            if boxes
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.tell_what_changed()
        sent = as_uuid(cleaned.pop("id", None))
        # an id that another workshop's row has is not told to anybody: the new row keeps its own
        if self.instance._state.adding and sent and not self._meta.model.objects.filter(pk=sent).exists():
            self.instance.id = sent
        return cleaned

    def validate_unique(self) -> None:
        """Constraints over an owner that the view has set too, as "one place of a name in a workshop"."""
        super().validate_unique()
        try:
            self.instance.validate_constraints(exclude=set(self.errors))
        except ValidationError as error:
            self.add_error(None, error)

    def add_error(self, field: str | None, error: Any) -> None:
        """A name taken twice is told at the name; an error at a field not on this form is told above the form."""
        error = error if isinstance(error, ValidationError) else ValidationError(error)
        by_field = error.error_dict if hasattr(error, "error_dict") else {field or "": error.error_list}
        for name, wrong in by_field.items():
            for problem in wrong:
                unique = [box for box in (problem.params or {}).get("unique_check", ()) if box in self.fields]
                if unique:
                    label = (self.fields[unique[-1]].label or unique[-1]).lower()
                    super().add_error(unique[-1], f"There is one with this {label} already.")
                else:
                    super().add_error(name if name in self.fields else None, problem)


class DataSheetForm(WorkshopForm):
    """The data sheet of a tin or of a bag: its values, and where those that are changed were taken from.

    NO_VALUES: the boxes whose change needs no source."""

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


def as_uuid(text: object) -> uuid.UUID | None:
    try:
        return uuid.UUID(str(text))
    except ValueError:
        return None
