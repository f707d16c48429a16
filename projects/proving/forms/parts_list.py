"""A list of parts and pieces is handed in."""

from typing import Any

from django import forms

from finishing.workshops.models import Place
from projects.record.models import Design, Project
from projects.site.forms.tables import TableForm


class PartsListForm(TableForm):
    project = forms.ModelChoiceField(Project.objects.all(), label="Pieces go into", required=False)
    place = forms.ModelChoiceField(
        Place.objects.all(), label="They stand in", required=False, help_text="Where a row names no place of its own."
    )
    field_order = ("file", "project", "place")

    def __init__(self, *args: Any, design: Design, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own = Project.objects.filter(design=design, closed=False)
        self.offer_rows("project", own, none="no project: parts alone")
        self.offer_rows("place", Place.objects.of(self.workshop), none="not said")
        self.initial.setdefault("project", own.first() if design.hidden else None)
        self.initial.setdefault("place", Place.objects.of(self.workshop).order_by("name").first())
