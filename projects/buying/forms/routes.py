"""An operation of a route: what is done, and the workshop's own figures for it."""

from typing import Any

from django import forms
from django.core.validators import MaxValueValidator

from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from finishing.workshops.forms.fields import PriceField
from projects.record.models import Design, Operation, Part
from projects.record.models.quotes import MOST_DAYS, TOO_LONG
from projects.site.forms.sums import SumField, TimeField

MONEY = ("setup", "each", "per_kilogram")
PERCENT = ("learning", "good_percent")
MINUTES = ("setup_minutes", "each_minutes")
FIGURES = (*MONEY, *MINUTES, *PERCENT)
DONE_BY_OTHERS = ("in_house", "lead_days", "keep_with")
OF_THE_MACHINE = ("assembly", "packing", "carriage")


class OperationForm(WorkshopForm):
    """`process` is settled before the form is shown: it says which boxes there are."""

    class Meta:
        model = Operation
        fields = ["name", *DONE_BY_OTHERS, *FIGURES, "casting_faults", "basis"]
        field_classes = {
            **dict.fromkeys(MONEY, SumField),
            **dict.fromkeys(MINUTES, TimeField),
            **dict.fromkeys(PERCENT, PriceField),
        }
        help_texts = {
            "name": "Empty: the process itself.",
            "lead_days": "Days, from the order to the last piece.",
            "learning": "Share of the time that every doubling leaves; empty: none.",
            "good_percent": "Of those begun.",
            "keep_with": "One supplier for both, whatever another asks.",
            "basis": "For example a timed batch, or a letter of last year.",
        }

    SECTIONS = (
        ("What is done", ("name", "in_house")),
        ("Money", MONEY),
        ("Own hands", (*MINUTES, "learning")),
        ("How it comes out, and when", ("good_percent", "casting_faults", "lead_days", "keep_with", "basis")),
    )

    def __init__(self, *args: Any, design: Design, part: Part | None, process: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.design, self.instance.part, self.instance.process = design, part, process
        units = {**dict.fromkeys(MONEY, self.workshop.currency), **dict.fromkeys(PERCENT, "%"), "lead_days": "days"}
        for name, unit in units.items():
            self.print_beside(name, unit)
        self.fields["lead_days"].validators.append(MaxValueValidator(MOST_DAYS, TOO_LONG))
        self.fields["name"].label = "In your words"
        others = Operation.objects.filter(design=design).exclude(process__in=Operation.FINISHING)
        self.offer_rows("keep_with", others.exclude(pk=self.instance.pk).select_related("part"), none="any")
        # finishing is reckoned from area, system, paint list and blasting; only a part has a weight
        hidden = (*DONE_BY_OTHERS, *FIGURES, "basis") if self.instance.worked_out else ()
        nothing_cast = part is None or hidden or process in (Operation.Process.PATTERN, *Operation.MAKING)
        for name in {
            *hidden,
            *(("per_kilogram",) if part is None else ()),
            *(("casting_faults",) if nothing_cast else ()),
        }:
            del self.fields[name]


class NewOperationForm(QuestionForm):
    """What a new operation is asked for by its address: of which part, and which process."""

    part = forms.ModelChoiceField(Part.objects.all(), required=False)
    process = forms.ChoiceField(choices=Operation.Process, required=False)

    def __init__(self, *args: Any, design: Design, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("part", design.parts.all())
