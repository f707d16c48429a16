"""A design."""

from django import forms

from finishing.forms.base import WorkshopForm
from projects.models import Design


class DesignForm(WorkshopForm):
    class Meta:
        model = Design
        fields = ["name", "note"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
