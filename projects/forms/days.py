"""Days that a form asks for."""

from datetime import date

from django import forms


def not_to_come(day: date | None, today: date) -> date | None:
    if day and day > today:
        raise forms.ValidationError("That day is still to come.")
    return day
