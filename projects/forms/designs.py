"""A design and the revisions of its parts."""

from finishing.forms.base import WorkshopForm
from projects.models import Design, Revision

from .projects import DateInput


class DesignForm(WorkshopForm):
    class Meta:
        model = Design
        fields = ["name", "note"]


class RevisionForm(WorkshopForm):
    class Meta:
        model = Revision
        fields = ["label", "reason", "made_on"]
        labels = {"label": "Revision", "reason": "Why it was changed", "made_on": "Drawn on"}
        widgets = {"made_on": DateInput()}
