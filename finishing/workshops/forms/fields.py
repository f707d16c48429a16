"""Boxes for what people write in more ways than one: places on earth, numbers, sums of money, moments."""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.urls import reverse_lazy
from django.utils import timezone

from finishing.workshops.domain.positions import NotAnAngle, read_position
from finishing.workshops.domain.towns import Town, find_towns, label_of, nearest_town

MOST_NAMED = 6  # towns of one name that an error tells apart
FIRST_DAY, LAST_DAY = date(1990, 1, 1), date(2099, 12, 31)


def sensible_day(value: date) -> None:
    """A day that a workshop may speak of: a year typed half, or mistyped, is told at its box."""
    day = value.date() if isinstance(value, datetime) else value
    if not FIRST_DAY <= day <= LAST_DAY:
        raise ValidationError(
            f"The year {day.year} cannot be meant: give one from {FIRST_DAY.year} to {LAST_DAY.year}."
        )


@dataclass(frozen=True)
class Somewhere:
    """Degrees north and east, and the town that was named, or the nearest one."""

    latitude: float
    longitude: float
    town: Town


class WhereField(forms.CharField):
    """A place on earth: a town by its name, or coordinates in any usual way of writing.

    The page has _place_on_earth.html beside it, into which the towns come that begin as what is typed.
    """

    widget = forms.TextInput(
        attrs={
            "list": "towns",
            "autocomplete": "off",
            "hx-get": reverse_lazy("towns"),
            "hx-params": "where",
            "hx-trigger": "input changed delay:250ms",
            "hx-target": "#towns",
        }
    )

    def __init__(self, **kwargs: Any):
        help_text = "The nearest town, or coordinates as 52.4, −1.9 or 52°24′ N 1°54′ W."
        super().__init__(**{"label": "Where it stands", "max_length": 120, "help_text": help_text, **kwargs})

    def clean(self, value: Any) -> Somewhere | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            position = read_position(text)
        except NotAnAngle:
            raise ValidationError(
                "These are no coordinates on earth: degrees north lie between −90 and 90, degrees east between −180 and"
                " 180, minutes and seconds below 60."
            ) from None
        if position:
            return Somewhere(*position, nearest_town(*position))
        return self._town(text)

    def _town(self, text: str) -> Somewhere:
        towns = find_towns(text)
        if not towns:
            raise ValidationError("No town of this name is known here. Take a larger one near it, or coordinates.")
        if len(towns) > 1:
            named = "; ".join(label_of(town) for town in towns[:MOST_NAMED])
            further = f"; and {len(towns) - MOST_NAMED} more" if len(towns) > MOST_NAMED else ""
            raise ValidationError(f"{len(towns)} towns are called so. Write it as one of: {named}{further}.")
        return Somewhere(towns[0].latitude, towns[0].longitude, towns[0])


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
