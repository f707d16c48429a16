"""A design: what it is called, which of its parts are shown, and a project of a copy of it."""

from typing import Any, ClassVar

from django import forms
from django.db.models import QuerySet

from finishing.coatings.models import System
from finishing.site.searching import containing
from finishing.workshops.forms.base import FilterForm, WorkshopForm
from projects.record.models import Design, Part, Project


class DesignForm(WorkshopForm):
    class Meta:
        model = Design
        fields = ["name", "note"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}


class CopyForm(WorkshopForm):
    """The project that a copy is made for."""

    class Meta:
        model = Project
        fields = ["name", "customer", "promised_on", "trial"]


class PartsFilter(FilterForm):
    """Parts by their text, their kind, their system and what they lack."""

    LACKING: ClassVar[dict[str, dict[str, bool | None]]] = {
        "system": {"system": None, "stays_bare": False},
        "area": {"area": None},
        "mass": {"mass": None},
        "operations": {"operations": None},
    }
    text = forms.CharField(label="Words", required=False, max_length=100)
    material = forms.ChoiceField(choices=[("", "all"), *Part.Material.choices], required=False)
    system = forms.ModelChoiceField(System.objects.all(), required=False)
    lacks = forms.ChoiceField(
        label="What lacks",
        choices=[("", "does not matter"), ("system", "a system"), ("area", "the painted area"), ("mass", "the weight"),
                 ("operations", "a route")],
        required=False,
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("system", System.objects.of(self.workshop), none="all")

    def narrowed(self, parts: QuerySet[Part]) -> QuerySet[Part]:
        asked = self.asked
        parts = parts.filter(containing(asked.get("text", ""), "name", "number", "lettering", "mask"))
        parts = parts.filter(**{name: asked[name] for name in ("material", "system") if name in asked})
        return parts.filter(**self.LACKING.get(asked.get("lacks", ""), {}))
