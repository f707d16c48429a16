"""Small tables typed below a form: a row left empty is left out, and a row emptied is taken out."""

from decimal import Decimal
from typing import Any

from django import forms

from finishing.workshops.models import Workshop

from .base import OfWorkshop

MOST_ROWS = 40


class NumberField(forms.FloatField):
    """A bare number, with a point or a comma."""

    widget = forms.TextInput(attrs={"inputmode": "decimal"})

    def to_python(self, value: Any) -> float | None:
        return super().to_python(str(value).strip().replace(",", ".") if value is not None else value)


class PriceField(forms.DecimalField):
    """A sum of money, with a point or a comma."""

    widget = forms.TextInput(attrs={"inputmode": "decimal"})

    def to_python(self, value: Any) -> Any:
        amount = super().to_python(str(value).strip().replace(",", ".") if value is not None else value)
        return _written_out(amount) if isinstance(amount, Decimal) else amount


def _written_out(amount: Decimal) -> Decimal:
    """1e3 as 1000; what has more digits than any column is left for the field to refuse."""
    exponent = amount.as_tuple().exponent
    return Decimal(f"{amount:f}") if isinstance(exponent, int) and 0 < exponent < 20 else amount


class Row(OfWorkshop):
    """One row. `telling`: the boxes of which at least one is filled where somebody meant it.
    `seldom`: boxes that are folded away until one of them is wrong or not as usual."""

    telling: tuple[str, ...] = ()
    seldom: tuple[str, ...] = ()

    def has_changed(self) -> bool:
        boxes = self.telling or tuple(self.fields)
        return any(str(self.data.get(self.add_prefix(name), "")).strip() for name in boxes)

    @property
    def shown(self) -> list[Any]:
        return [box for box in self.visible_fields() if box.name not in self.seldom]

    @property
    def folded(self) -> list[Any]:
        return [self[name] for name in self.seldom]

    @property
    def opened(self) -> bool:
        return any(box.errors or _text(box.value()) != _text(box.field.initial) for box in self.folded)


def _text(value: Any) -> str:
    number = getattr(value, "magnitude", value)
    return "" if number is None else f"{number:g}" if isinstance(number, float) else str(number)


class ModelRow(Row, forms.ModelForm):
    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.workshop = workshop
        self.settle(workshop)


class PlainRow(Row, forms.Form):
    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.settle(workshop)


class Rows(forms.BaseFormSet):
    """All rows of one kind. Sent back they are all alike: which of them stood there before does not matter."""

    def __init__(self, data: Any = None, *, workshop: Workshop, begin: Any = (), **kwargs: Any) -> None:
        told = {"missing_management_form": "These rows did not come whole. Load the page again and type them anew."}
        super().__init__(data, initial=list(begin), form_kwargs={"workshop": workshop}, error_messages=told, **kwargs)

    def initial_form_count(self) -> int:
        return 0 if self.is_bound else super().initial_form_count()

    @property
    def filled(self) -> list[Any]:
        return [row for row in self.forms if row.has_changed()]

    @property
    def all_right(self) -> bool:
        return not any(row.errors for row in self.filled)


def rows_of(form: type, rows: type = Rows, extra: int = 3) -> Any:
    return forms.formset_factory(form, formset=rows, extra=extra, max_num=MOST_ROWS, absolute_max=MOST_ROWS)
