"""Boxes in which nothing typed is nothing asked."""

from decimal import Decimal
from typing import Any

from finishing.science.units import Quantity
from finishing.site.fields import QuantityFormField, pint_unit
from finishing.workshops.forms.fields import PriceField


class SumField(PriceField):
    """Money; an empty box is none."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{**kwargs, "required": False})

    def clean(self, value: Any) -> Decimal:
        return super().clean(value) or Decimal(0)


class TimeField(QuantityFormField):
    """Time of one's own hands; an empty box is none."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{**kwargs, "required": False})

    def clean(self, value: Any) -> Quantity:
        time = super().clean(value)
        return Quantity(0, pint_unit(self.unit)) if time is None else time
