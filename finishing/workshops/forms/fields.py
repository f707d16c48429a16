"""Boxes for what people write in more ways than one: places on earth, numbers, sums of money, moments."""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.urls import reverse_lazy
from django.utils import timezone

from finishing.site.numbers import NoNumber, read_money, read_number
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
    """A bare number, or one with the unit that is printed beside the box."""

    widget = forms.TextInput(attrs={"inputmode": "decimal"})
    comma_is_point: bool | None = None

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]  # as FloatField's own
        if not isinstance(value, str) or not value.strip():
            return super().to_python(value)
        return super().to_python(str(_bare(value, getattr(self, "printed", ""), self.comma_is_point)))


class PriceField(forms.DecimalField):
    """A sum of money, with or without the sign of the money that is printed beside the box; or a share, in per cent."""

    widget = forms.TextInput(attrs={"inputmode": "decimal"})
    comma_is_point: bool | None = None

    def to_python(self, value: Any) -> Any:
        if not isinstance(value, str) or not value.strip():
            return super().to_python(value)
        printed = getattr(self, "printed", "")
        if printed == "%":
            return super().to_python(_bare(value, printed, self.comma_is_point))
        currency = printed[:3] if CURRENCY.match(printed) else ""
        try:
            return super().to_python(read_money(value, currency, self.comma_is_point))
        except NoNumber:
            raise ValidationError(
                f"“{value.strip()}” is not understood. Write the sum as a number, for example 12.50."
            ) from None


CURRENCY = re.compile(r"[A-Z]{3}\b")


def _bare(text: str, printed: str, comma_is_point: bool | None) -> Decimal:
    """The number; behind it stands nothing, or the unit that the box has beside it anyway."""
    try:
        number, behind = read_number(text, comma_is_point)
    except NoNumber:
        raise ValidationError(f"“{text.strip()}” is not understood. Write a number, for example 12.5.") from None
    if behind.casefold() not in ("", printed.casefold()):
        instead = f"it in {printed}" if printed else "the number alone"
        raise ValidationError(f"“{behind}” is not understood here; write {instead}.")
    return number


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
