"""A sensor named by a person, and what the sensor sends."""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError

from finishing.air.models import Reading, Sensor
from finishing.site.fields import METRIC
from finishing.workshops.forms.base import WorkshopForm
from finishing.workshops.forms.fields import MomentField

from .weather import not_to_come

SENT = ("taken_at", "temperature", "humidity", "surface_temperature", "raining")
LATEST_EPOCH = 10**11  # seconds; a number above it counts milliseconds


class SensorForm(WorkshopForm):
    class Meta:
        model = Sensor
        fields = ("name", "place")
        labels = {"place": "Where it hangs"}

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        same = Sensor.objects.of(self.workshop).in_use().filter(name=name).exclude(pk=self.instance.pk)
        if same.exists():
            raise ValidationError("A sensor of this name sends already: close that one, or choose another name.")
        return name


class SentMoment(MomentField):
    """A time as devices write it: ISO 8601, or seconds since 1970."""

    default_error_messages: ClassVar = {"invalid": "Not a time: ISO 8601, as 2026-05-12T09:20:00Z, or Unix seconds."}

    def to_python(self, value: Any) -> datetime | None:
        try:
            count = float(value)
        except (TypeError, ValueError):
            return super().to_python(value)
        try:
            return datetime.fromtimestamp(count / 1000 if count > LATEST_EPOCH else count, UTC)
        except (OverflowError, OSError, ValueError):
            raise ValidationError(self.error_messages["invalid"], code="invalid") from None


class SentForm(WorkshopForm):
    """What a sensor sends. A bare number is in °C or %, whatever units the workshop reads."""

    class Meta:
        model = Reading
        fields = SENT
        field_classes: ClassVar = {"taken_at": SentMoment}

    taken_at = SentMoment(required=False)
    raining = forms.NullBooleanField(required=False)

    def __init__(self, data: Mapping[str, Any], *, now: datetime, **kwargs: Any) -> None:
        self.now = now
        super().__init__({name: data[name] for name in SENT if data.get(name) is not None}, **kwargs)

    def settle(self, workshop: Any) -> None:
        super().settle(workshop)
        for name in ("temperature", "humidity", "surface_temperature"):
            self.fields[name].measures = METRIC  # type: ignore[attr-defined]  # a quantity's box

    def clean_taken_at(self) -> datetime:
        return not_to_come(self.cleaned_data["taken_at"] or self.now)
