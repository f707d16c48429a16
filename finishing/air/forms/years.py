"""A typical year handed in, and the question which month suits a system."""

from functools import cached_property
from typing import Any
from uuid import UUID

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict

from finishing.air.models import YearOfWeather
from finishing.coatings.models import System
from finishing.site.fields import METRIC, QuantityFormField
from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from finishing.workshops.models import Place, Workshop

LARGEST_FILE = 5_000_000  # bytes; an EPW has some 1.6 MB
PAST = "past"


class TypicalYearForm(WorkshopForm):
    file = forms.FileField(label="Weather file", help_text="EPW, TMY3 or TMY2, up to 5 MB.")

    class Meta:
        model = YearOfWeather
        fields = ("attribution",)
        labels = {"attribution": "Where it is from"}
        help_texts = {"attribution": "Who made it and under which licence; shown wherever it is used."}

    field_order = ("file", "attribution")

    def clean_file(self) -> UploadedFile:
        file = self.cleaned_data["file"]
        if file.size > LARGEST_FILE:
            raise forms.ValidationError("This file is larger than 5 MB: one year by the hour has less than 2.")
        return file


class WhichMonthForm(QuestionForm):
    system = forms.ModelChoiceField(System.objects.filter(retired=False), empty_label=None)
    place = forms.ModelChoiceField(Place.objects.all(), empty_label=None, help_text="Where it is painted and dries.")
    years = forms.ChoiceField(label="Years")
    area = QuantityFormField(label="Area of a piece", unit="m²", minimum=0.01, maximum=100)
    wall = QuantityFormField(
        label="Wall thickness", unit="mm", minimum=1, maximum=200, help_text="Thick iron lags behind the air."
    )

    def __init__(self, asked: QueryDict, *, workshop: Workshop):
        super().__init__(_first_values(workshop) | asked.dict(), workshop=workshop)
        self.offer_choices("years", [(key, label) for key, label, _ in self._sets])

    @cached_property
    def _sets(self) -> list[tuple[str, str, list[UUID]]]:
        """What may be reckoned with: its key, its words, and the ids of its years."""
        own = YearOfWeather.objects.of(self.workshop).defer("hours")
        past = sorted(own.past().here(self.workshop), key=lambda row: row.year)
        sets = [(PAST, _past_words(past), [row.pk for row in past])] if past else []
        return sets + [(str(row.pk), str(row), [row.pk]) for row in own.typical()]

    @property
    def has_years(self) -> bool:
        return bool(self._sets)

    def chosen_years(self) -> list[YearOfWeather]:
        ids = next(ids for key, _, ids in self._sets if key == self.cleaned_data["years"])
        return list(YearOfWeather.objects.of(self.workshop).filter(pk__in=ids).order_by("year"))


def _first_values(workshop: Workshop) -> dict[str, Any]:
    typical = YearOfWeather.objects.of(workshop).typical().first()
    past = YearOfWeather.objects.of(workshop).past().here(workshop).exists()
    system = System.objects.of(workshop).filter(retired=False).order_by("from_library", "name").first()
    places = Place.objects.of(workshop)
    place = places.exclude(kind=Place.Kind.SHOP).first() or places.first()  # outdoors the question is a question
    measures = workshop.units
    return {
        "system": system and system.pk,
        "place": place and place.pk,
        "years": PAST if past else typical and str(typical.pk),
        "area": "1" if measures == METRIC else "10",
        "wall": "12" if measures == METRIC else "0.5",
    }


def _past_words(rows: list[YearOfWeather]) -> str:
    if len(rows) == 1:
        return f"past year {rows[0]}"
    return f"{len(rows)} past years, {rows[0]} to {rows[-1]}"
