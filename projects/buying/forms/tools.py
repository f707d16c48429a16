"""A pattern, core box, jig or fixture, and what was repaired on it."""

from typing import Any

from django import forms
from django.core.validators import MaxValueValidator
from django.db.models import QuerySet

from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from projects.record.models import Design, Operation, Revision, Tool, ToolRepair
from projects.record.models.quotes import MOST_DAYS, TOO_LONG
from projects.site.forms.papers import PaperField, PaperForm
from projects.site.forms.sums import SumField

MAKES_NO_PIECES = (*Operation.FINISHING, Operation.Process.PATTERN)


def operations_with_tools(design: Design) -> QuerySet[Operation]:
    """What a tool may be used in: a pattern is used in the casting, and is not its own making."""
    rows = Operation.objects.filter(design=design).exclude(process__in=MAKES_NO_PIECES)
    return rows.select_related("part").order_by("part__name", "position")


class ToolForm(PaperForm):
    class Meta:
        model = Tool
        fields = [
            "kind", "name", "operation", "revision", "state", "owner", "kept_at", "cost", "life", "lead_days",
            "made_before", "drawing", "note",
        ]  # fmt: skip
        field_classes = {"cost": SumField, "drawing": PaperField}
        labels = {"operation": "Used in"}
        help_texts = {
            "name": "As marked on it.",
            "operation": "A pattern or core box: in the casting. A jig: where it is clamped.",
            "revision": "Empty: it serves every revision.",
            "cost": "What it cost, or will.",
            "kept_at": "For example: at the foundry, rack 3.",
            "lead_days": "Days until one is there, where it is still to be made or is worn out.",
            "drawing": "Up to 20 MB.",
        }

    def __init__(self, *args: Any, design: Design, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.design = design
        self.offer_rows("operation", operations_with_tools(design), none=None)
        revisions = Revision.objects.filter(part__design=design).select_related("part")
        self.offer_rows("revision", revisions.order_by("part__name", "label"), none="every one")
        self.print_beside("cost", self.workshop.currency)
        self.print_beside("lead_days", "days")
        self.fields["lead_days"].validators.append(MaxValueValidator(MOST_DAYS, TOO_LONG))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        operation, revision = cleaned.get("operation"), cleaned.get("revision")
        if operation and revision and operation.part_id != revision.part_id:
            self.add_error("revision", "This revision is of another part than the operation.")
        return cleaned


class NewToolForm(QuestionForm):
    """For which operation a new tool is asked for by its address."""

    operation = forms.ModelChoiceField(Operation.objects.all(), required=False)

    def __init__(self, *args: Any, design: Design, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("operation", operations_with_tools(design))


class RepairForm(WorkshopForm):
    class Meta:
        model = ToolRepair
        fields = ["repaired_on", "what", "cost"]
        field_classes = {"cost": SumField}
        widgets = {"repaired_on": forms.DateInput()}
        labels = {"repaired_on": "When", "what": "What was repaired"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.print_beside("cost", self.workshop.currency)
