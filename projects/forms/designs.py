"""A design and the revisions of its parts."""

from django import forms

from finishing.forms.base import WorkshopForm
from projects.models import Design, Revision

from .projects import DateInput


class DesignForm(WorkshopForm):
    class Meta:
        model = Design
        fields = ["name", "note"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}


class RevisionForm(WorkshopForm):
    class Meta:
        model = Revision
        fields = ["label", "reason", "made_on"]
        labels = {"label": "Revision", "reason": "Why it was changed", "made_on": "Drawn on"}
        widgets = {"made_on": DateInput()}
