"""Boxes for what people write in more ways than one: degrees, numbers, sums of money, moments."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

FIRST_DAY, LAST_DAY = date(1990, 1, 1), date(2099, 12, 31)


def sensible_day(value: date) -> None:
    """A day that a workshop may speak of: a year typed half, or mistyped, is told at its box."""
    day = value.date() if isinstance(value, datetime) else value
    if not FIRST_DAY <= day <= LAST_DAY:
        raise ValidationError(
            f"The year {day.year} cannot be meant: give one from {FIRST_DAY.year} to {LAST_DAY.year}."
        )


class DegreesField(forms.FloatField):
    """A place on earth as people write it: 52.4, 52,4, or 1.9 W for −1.9."""

    widget = forms.TextInput  # a phone's decimal keypad has neither a minus nor letters

    def __init__(self, most: float, *, letters: str, **kwargs: Any):
        self.letters = letters
        outside = f"Must lie between −{most:g} and {most:g}."
        errors = {"min_value": outside, "max_value": outside, "invalid": "Give degrees, for example 52.4."}
        super().__init__(min_value=-most, max_value=most, error_messages=errors, **kwargs)

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]  # as FloatField's own
        text = str(value or "").strip().upper().replace(",", ".").replace("−", "-").rstrip("° ")
        sign = -1 if text.endswith(self.letters[1]) else 1
        number = super().to_python(text.rstrip(self.letters).rstrip("° "))
        return None if number is None else sign * number


class NumberField(forms.FloatField):
    """A bare number, with a point or a comma."""

    widget = forms.TextInput(attrs={"inputmode": "decimal"})

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]  # as FloatField's own
        return super().to_python(str(value).strip().replace(",", ".") if value is not None else value)


class PriceField(forms.DecimalField):
    """A sum of money, with a point or a comma."""

    widget = forms.TextInput(attrs={"inputmode": "decimal"})

    def to_python(self, value: Any) -> Any:
        amount = super().to_python(str(value).strip().replace(",", ".") if value is not None else value)
        exponent = amount.as_tuple().exponent if isinstance(amount, Decimal) else None
        # 1e3 is written out as 1000; what has more digits than any column is left for the field to refuse
        return Decimal(f"{amount:f}") if isinstance(exponent, int) and 0 < exponent < 20 else amount


class MomentField(forms.DateTimeField):
    """A date and time as the workshop's clock shows it, through the nights in which that clock is moved.

    In the hour that clocks pass twice, the later pass is meant as soon as it has come.
    """

    def to_python(self, value: Any) -> datetime | None:
        try:
            return super().to_python(value)
        except ValidationError as error:
            if error.code != "ambiguous_timezone" or error.params is None:
                raise
            shown: datetime = error.params["datetime"]
            sensible_day(shown)
        first, second = (shown.replace(tzinfo=timezone.get_current_timezone(), fold=fold) for fold in (0, 1))
        if second.astimezone(UTC) < first.astimezone(UTC):
            raise ValidationError(f"There is no {shown:%H:%M} on that day: clocks go forward over it.")
        return second if second <= timezone.now() else first
