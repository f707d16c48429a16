"""A date and time as the workshop's clock shows it, through the nights in which that clock is moved."""

from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone


class MomentField(forms.DateTimeField):
    """In the hour that clocks pass twice, the later pass is meant as soon as it has come."""

    def to_python(self, value: Any) -> datetime | None:
        try:
            return super().to_python(value)
        except ValidationError as error:
            if error.code != "ambiguous_timezone":
                raise
            return _settle(error.params["datetime"])


def _settle(shown: datetime) -> datetime:
    first, second = (shown.replace(tzinfo=timezone.get_current_timezone(), fold=fold) for fold in (0, 1))
    if second.utcoffset() > first.utcoffset():
        raise ValidationError(f"There is no {shown:%H:%M} on that day: clocks go forward over it.")
    return second if second <= timezone.now() else first
