"""What proves a design: its checks, its revisions with their cost, and what else was spent on it."""

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from projects.record.models import Check, Design, Expense, Part, Revision, Trial
from projects.site.forms.days import not_to_come
from projects.site.forms.papers import PaperField, PaperForm
from projects.site.forms.sums import SumField, TimeField


class CheckForm(WorkshopForm):
    class Meta:
        model = Check
        fields = ["what", "limit", "part", "retired"]
        help_texts = {
            "what": "For example: spindle runs true.",
            "limit": "For example: within 0.05 mm at the nose.",
            "retired": "Trials done so far stay in the record.",
        }

    def __init__(self, *args: Any, design: Design, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.design = design
        self.offer_rows("part", design.parts.all(), none="the whole machine")
        self.fields["part"].label = "Of"
        if self.instance._state.adding:
            del self.fields["retired"]


class AboutPartForm(QuestionForm):
    """Of which part, revision or trial a page is asked for by its address."""

    part = forms.ModelChoiceField(Part.objects.all(), required=False)
    revision = forms.ModelChoiceField(Revision.objects.all(), required=False)
    trial = forms.ModelChoiceField(Trial.objects.all(), required=False)


class AboutCheckForm(QuestionForm):
    """Which check of a design a page is asked for by its address."""

    check = forms.ModelChoiceField(Check.objects.filter(retired=False))

    def __init__(self, *args: Any, design: Design, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("check", Check.objects.filter(design=design, retired=False).select_related("part"))


class RevisionForm(PaperForm):
    class Meta:
        model = Revision
        fields = ["label", "reason", "made_on", "drawing"]
        field_classes = {"drawing": PaperField}
        labels = {"label": "Revision", "reason": "Why it was changed", "made_on": "Drawn on"}
        widgets = {"made_on": forms.DateInput()}
        help_texts = {"drawing": "Up to 20 MB."}


class NewRevisionForm(RevisionForm):
    """A change, and what it costs to make it."""

    cost = SumField(
        max_digits=12,
        decimal_places=2,
        min_value=Decimal(0),
        label="What the change costs",
        help_text="Pattern altered, a trial casting.",
        error_messages={"min_value": "Money asked for is not negative."},
    )
    minutes = Expense._meta.get_field("minutes").formfield(form_class=TimeField, label="Own hands", initial=None)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.print_beside("cost", self.workshop.currency)


class ExpenseForm(WorkshopForm):
    class Meta:
        model = Expense
        fields = ["what", "revision", "amount", "minutes", "spent_on"]
        field_classes = {"amount": SumField, "minutes": TimeField}
        widgets = {"spent_on": forms.DateInput()}
        labels = {"what": "What for", "revision": "Spent on"}

    def __init__(self, *args: Any, design: Design, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.design, self.today = design, today
        revisions = Revision.objects.filter(part__design=design).select_related("part")
        self.offer_rows("revision", revisions.order_by("part__name", "label"), none="the design as a whole")
        self.print_beside("amount", self.workshop.currency)

    def clean_spent_on(self) -> date:
        return not_to_come(self.cleaned_data["spent_on"], self.today)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not self.errors and not cleaned["amount"] and not cleaned["minutes"].magnitude:
            self.add_error("amount", "Nothing was spent? Then there is nothing to note.")
        return cleaned
