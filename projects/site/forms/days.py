"""Days that a form asks for."""

from datetime import date, timedelta
from typing import TypeVar

from django import forms

LONGEST_AGO = timedelta(days=36525)  # a hundred years: before that a year was mistyped, as 26 for 2026
Day = TypeVar("Day", bound=date | None)


def not_to_come(day: Day, today: date) -> Day:
    """The day, or none as it was; refused where it lies ahead."""
    if day is not None and day < today - LONGEST_AGO:
        raise forms.ValidationError("That is more than a hundred years ago; look at the year.")
    if day is not None and day > today:
        raise forms.ValidationError("That day is still to come.")
    return day
