"""A reading typed by hand, and a logger's file."""

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from finishing.air.actions.weather import CLOCKS_APART
from finishing.air.models import Reading
from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from finishing.workshops.forms.fields import MomentField
from finishing.workshops.models import Place
from finishing.workshops.models.workshops import known_time_zone

LONGEST_SAID = timedelta(days=14)
LARGEST_FILE = 5_000_000  # bytes
ORDERS = {"find": None, "day": True, "month": False}  # dates: day first?


def not_to_come(taken_at: datetime) -> datetime:
    """The moment of a reading, where that has come by our clock."""
    if taken_at > timezone.now() + CLOCKS_APART:
        clock = timezone.localtime()
        raise forms.ValidationError(f"That is still to come: it is {clock:%H:%M} on {clock.day} {clock:%B} now.")
    return taken_at


class ReadingForm(WorkshopForm):
    class Meta:
        model = Reading
        fields = ("place", "taken_at", "temperature", "humidity", "surface_temperature", "raining", "stays_until")
        field_classes = {"taken_at": MomentField, "stays_until": MomentField}
        labels = {
            "taken_at": "Read at",
            "temperature": "Air",
            "humidity": "Humidity",
            "surface_temperature": "Metal's surface",
            "stays_until": "It stays like this until",
        }
        help_texts = {
            "surface_temperature": "Of iron that stands there: from now on all iron in this place is reckoned from it."
        }

    raining = forms.BooleanField(label="It rains there", required=False)

    def clean_taken_at(self) -> datetime:
        return not_to_come(self.cleaned_data["taken_at"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        taken_at, until = cleaned.get("taken_at"), cleaned.get("stays_until")
        if taken_at and until and not taken_at < until <= taken_at + LONGEST_SAID:
            self.add_error("stays_until", f"Say a time after the reading, at most {LONGEST_SAID.days} days after it.")
        if {"place", "taken_at"} <= cleaned.keys():
            moment = {name: cleaned[name] for name in ("place", "taken_at")}
            same = Reading.objects.of(self.workshop).filter(source=self.instance.source, **moment)
            if same.exclude(pk=self.instance.pk).exists():
                self.add_error("taken_at", "There is a reading of this place at this time already.")
        return cleaned


class LoggerForm(QuestionForm):
    place = forms.ModelChoiceField(Place.objects.all(), label="Where the logger hung")
    file = forms.FileField(label="CSV file", help_text="As the logger's program writes it, up to 5 MB.")
    time_zone = forms.CharField(
        label="Time zone of its clock",
        max_length=60,
        validators=[known_time_zone],
        widget=forms.TextInput(attrs={"list": "time-zones", "autocomplete": "off"}),
        help_text="UTC, or the zone it was set in; not used where the file names its own.",
    )
    dates = forms.ChoiceField(
        label="Its dates are written",
        initial="find",
        choices=[
            ("find", "find out from the file"),
            ("day", "day first: 31/5/2026"),
            ("month", "month first: 5/31/2026"),
        ],
    )

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.initial.setdefault("time_zone", self.workshop.time_zone)

    def clean_file(self) -> UploadedFile:
        file = self.cleaned_data["file"]
        if file.size > LARGEST_FILE:
            raise forms.ValidationError("This file is larger than 5 MB: take a shorter time from the logger.")
        return file

    @property
    def day_first(self) -> bool | None:
        return ORDERS[self.cleaned_data["dates"]]
