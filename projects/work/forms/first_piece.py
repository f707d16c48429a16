"""One piece, just blasted, and what was measured: enough to say by when its first coat has to be on."""

import uuid
from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone

from finishing.site.calendar import CLOCKS_DIFFER
from finishing.workshops.forms.base import QuestionForm
from finishing.workshops.forms.fields import MomentField
from finishing.workshops.models import Place, Workshop
from projects.record.forms.pieces import SALT
from projects.record.models import Step
from projects.work.domain.verdicts import Conditions

from .log import SEEN, conditions, quantity_box


class FirstPieceForm(QuestionForm):
    """`key` is what was typed and when: sent twice it is one piece, and a page that is kept may show the form."""

    quiet = ("surface_temperature", "happened_at")
    name = forms.CharField(max_length=100, label="Piece", help_text="As you call it: flywheel, frame, handle.")
    place = forms.ModelChoiceField(Place.objects.all(), label="It stands in", empty_label=None, required=False)
    happened_at = MomentField(label="Blasted at", required=False, help_text="Empty: just now.")
    air_temperature = quantity_box("air_temperature")
    humidity = quantity_box("humidity")
    surface_temperature = quantity_box("surface_temperature", "Metal, if measured")
    salt = forms.ChoiceField(choices=SALT, required=False, widget=forms.HiddenInput)
    wet_work = forms.BooleanField(required=False, widget=forms.HiddenInput)
    trial = forms.BooleanField(
        required=False, label="Only trying out", help_text="It can be thrown away later, log and all."
    )

    def __init__(self, data: Any = None, *, now: datetime, workshop: Workshop):
        self.now = now
        first = {
            "place": _usual_place(workshop),
            "happened_at": timezone.localtime(now).replace(second=0, microsecond=0, tzinfo=None),
        }
        super().__init__(data, initial=first, workshop=workshop)
        for name in ("air_temperature", "humidity"):
            self.fields[name].required = True

    def clean_happened_at(self) -> datetime:
        when = self.cleaned_data["happened_at"] or self.now.replace(second=0, microsecond=0)
        if when > self.now + CLOCKS_DIFFER:
            raise forms.ValidationError("That lies ahead. Check date and clock.")
        return when

    def clean_place(self) -> Place:
        place = self.cleaned_data["place"] or self.initial["place"]
        if place is None:
            raise forms.ValidationError("There is no place yet: enter one in the settings.")
        return place

    @property
    def measured(self) -> list[forms.BoundField]:
        return [self[name] for name in SEEN]

    @property
    def folded(self) -> list[forms.BoundField]:
        """What is as a rule right as it stands."""
        return [self[name] for name in ("place", "happened_at", "trial")]

    @property
    def place_name(self) -> str:
        """Of what stands in the box, for the words above it."""
        chosen = self["place"].value()
        names = {str(place.pk): place.name for place in Place.objects.of(self.workshop)}
        return chosen.name if isinstance(chosen, Place) else names.get(str(chosen), "")

    @property
    def seen(self) -> Conditions:
        return conditions(self.cleaned_data.get)

    @property
    def key(self) -> uuid.UUID:
        typed = sorted((name, str(value)) for name, value in self.cleaned_data.items())
        return uuid.uuid5(self.workshop.pk, repr(typed))

    @property
    def facts(self) -> dict[str, Any]:
        """What the entry keeps as it was typed."""
        own = {name: self.cleaned_data[name] for name in (*SEEN, "wet_work")}
        return {name: value for name, value in own.items() if value not in (None, "")}


def _usual_place(workshop: Workshop) -> Place | None:
    """Where the last entry was made; at first indoors, where no rain has to be foretold."""
    last = Step.objects.of(workshop).filter(place__isnull=False).select_related("place").last()
    places = list(Place.objects.of(workshop))
    indoors = next((place for place in places if not place.outdoors), next(iter(places), None))
    return last.place if last else indoors
