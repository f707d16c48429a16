"""A design."""

from django import forms

from finishing.workshops.forms.base import WorkshopForm
from projects.record.models import Design


class DesignForm(WorkshopForm):
    class Meta:
        model = Design
        fields = ["name", "note"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
