"""What every form of a workshop shares: its units, its own rows only, and each error at its field."""

import uuid
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db.models import QuerySet

from finishing.site.fields import QuantityFormField
from finishing.site.models import WorkshopRow
from finishing.workshops.models import Workshop


class DegreesField(forms.FloatField):
    """A place on earth as people write it: 52.4, 52,4, or 1.9 W for −1.9."""

    widget = forms.TextInput  # a phone's decimal keypad has neither a minus nor letters

    def __init__(self, most: float, *, letters: str, **kwargs: Any):
        self.letters = letters
        outside = f"Must lie between −{most:g} and {most:g}."
        told = {"min_value": outside, "max_value": outside, "invalid": "Give degrees, for example 52.4."}
        super().__init__(min_value=-most, max_value=most, error_messages=told, **kwargs)

    def to_python(self, value: Any) -> float | None:
        text = str(value or "").strip().upper().replace(",", ".").replace("−", "-").rstrip("° ")
        sign = -1 if text.endswith(self.letters[1]) else 1
        number = super().to_python(text.rstrip(self.letters).rstrip("° "))
        return None if number is None else sign * number


USUAL = "usual"  # an empty choice keeps the words it has


class OfWorkshop:
    """A form that shows the workshop's units and offers only the workshop's rows."""

    fields: dict[str, forms.Field]

    def settle(self, workshop: Workshop) -> None:
        for field in self.fields.values():
            _pick_from_calendar(field)
            _name_no_choice(field)
            if isinstance(field, QuantityFormField):
                field.us = workshop.us_units
            elif isinstance(field, forms.ModelChoiceField) and issubclass(field.queryset.model, WorkshopRow):
                field.queryset = field.queryset.of(workshop)

    def offer_rows(self, name: str, rows: QuerySet[Any], none: str | None = USUAL) -> None:
        """Let a box choose among `rows`; `none` is what an empty choice means there, None where there is none."""
        box = self.fields[name]
        assert isinstance(box, forms.ModelChoiceField)
        box.queryset = rows
        if none != USUAL:
            box.empty_label = none

    def print_beside(self, name: str, unit: str) -> None:
        """Print a unit beside a box that asks for a bare number."""
        self.fields[name].printed = unit  # type: ignore[attr-defined]  # field.html prints it


DASHES = "---------"  # Django's own

# the browser's own pickers send and want these forms of date and time
PICKERS = {
    forms.DateInput: ("date", "%Y-%m-%d"),
    forms.TimeInput: ("time", "%H:%M"),
    forms.DateTimeInput: ("datetime-local", "%Y-%m-%dT%H:%M"),
}


def _pick_from_calendar(field: forms.Field) -> None:
    if type(field.widget) in PICKERS:
        field.widget.input_type, field.widget.format = PICKERS[type(field.widget)]


def _name_no_choice(field: forms.Field) -> None:
    """Instead of a row of dashes, what an empty choice means."""
    words = "choose" if field.required else "not chosen"
    if isinstance(field, forms.ModelChoiceField):
        field.empty_label = words if field.empty_label == DASHES else field.empty_label
    elif isinstance(field, forms.ChoiceField) and ("", DASHES) in (choices := list(field.choices)):
        field.choices = [("", words) if choice == ("", DASHES) else choice for choice in choices]


class QuestionForm(OfWorkshop, forms.Form):
    """A form that makes no row: a calculator, a query string."""

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.workshop = workshop
        self.settle(workshop)


class WorkshopForm(OfWorkshop, forms.ModelForm):
    """A form for one row. A new row takes its id from the form, so that a form sent twice makes one row:
    the second time `repeated` is the row already made, and the view only redirects to it.

    SECTIONS: the boxes under their headings, where there are many."""

    SECTIONS: ClassVar[tuple[tuple[str, tuple[str, ...]], ...]] = ()
    id = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, data: Any = None, files: Any = None, *, workshop: Workshop, instance: Any = None, **kwargs: Any):
        self.workshop = workshop
        self.repeated = None if instance else self._row_already_made(data, kwargs.get("prefix"))
        super().__init__(data, files, instance=instance or self.repeated, **kwargs)
        if instance and not instance._state.adding:
            del self.fields["id"]
        else:
            self.initial.setdefault("id", uuid.uuid4())
        if self.instance._state.adding:
            self.instance.workshop = workshop
        self.settle(workshop)

    @property
    def sections(self) -> list[tuple[str, list[forms.BoundField]]]:
        """A heading of which no box is left is left out."""
        shown = [(title, [self[name] for name in names if name in self.fields]) for title, names in self.SECTIONS]
        return [(title, boxes) for title, boxes in shown if boxes]

    def _row_already_made(self, data: Any, prefix: str | None) -> Any:
        sent = as_uuid((data or {}).get(f"{prefix}-id" if prefix else "id"))
        return self._meta.model.objects.of(self.workshop).filter(pk=sent).first() if sent else None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        sent = as_uuid(cleaned.pop("id", None))
        # an id that another workshop's row has is not told to anybody: the new row keeps its own
        if self.instance._state.adding and sent and not self._meta.model.objects.filter(pk=sent).exists():
            self.instance.id = sent
        return cleaned

    def _get_validation_exclusions(self) -> set[str]:
        """Owners set by the view count too, else "one place of a name in a workshop" would go unchecked."""
        owners = {
            field.name
            for field in self.instance._meta.fields
            if field.is_relation and getattr(self.instance, field.attname) is not None
        }
        return super()._get_validation_exclusions() - (owners - self.fields.keys())

    def _update_errors(self, errors: ValidationError) -> None:
        """A name taken twice is told at the name; an error at a field not on this form is told above the form."""
        told: dict[str, list[ValidationError]] = {}
        for name, errors_there in _by_field(errors).items():
            for error in errors_there:
                at, error = self._where(name, error)
                told.setdefault(at, []).append(error)
        super()._update_errors(ValidationError(told))

    def _where(self, name: str, error: ValidationError) -> tuple[str, ValidationError]:
        if error.code in {"unique", "unique_together"}:
            boxes = [field for field in error.params["unique_check"] if field in self.fields]
            if boxes:
                label = (self.fields[boxes[-1]].label or boxes[-1]).lower()
                return boxes[-1], ValidationError(f"There is one with this {label} already.")
        return (name if name in self.fields else NON_FIELD_ERRORS), error


def _by_field(errors: ValidationError) -> dict[str, list[ValidationError]]:
    return errors.error_dict if hasattr(errors, "error_dict") else {NON_FIELD_ERRORS: errors.error_list}


def as_uuid(text: Any) -> uuid.UUID | None:
    try:
        return uuid.UUID(str(text))
    except ValueError:
        return None
