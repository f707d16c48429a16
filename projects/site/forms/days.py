"""Days that a form asks for."""

from datetime import date, timedelta

from django import forms

LONGEST_AGO = timedelta(days=36525)  # a hundred years: before that a year was mistyped, as 26 for 2026


def not_to_come(day: date | None, today: date) -> date | None:
    if day and day < today - LONGEST_AGO:
        raise forms.ValidationError("That is more than a hundred years ago; look at the year.")
    if day and day > today:
        raise forms.ValidationError("That day is still to come.")
    return day
