"""A project, its machines and its public address."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from projects.record.models import Design, Machine, Project

MOST_MACHINES = 500
_RANGE = re.compile(r"^(\D*)(\d+)\s*[-–]\s*\1(\d+)$")


class NumbersField(forms.CharField):
    """Machines by number as a person lists them: "1–12, 14, M7"; gives a list of numbers as text."""

    def __init__(self, **kwargs: Any):
        help_text = "For example 1–12, or 104, 105, 107."
        super().__init__(label="Machine numbers", max_length=2000, help_text=help_text, **kwargs)

    def clean(self, value: Any) -> list[str]:
        typed = re.split(r"[,;\n]", super().clean(value) or "")
        numbers = [number for part in typed if part.strip() for number in _counted(part.strip())]
        if len(numbers) > MOST_MACHINES:
            raise ValidationError(f"These are {len(numbers)} machines; {MOST_MACHINES} at once is the most.")
        longest = Machine._meta.get_field("number").max_length
        assert longest is not None  # a column of text has one
        for number in numbers:
            if len(number) > longest:
                raise ValidationError(f"“{number[:12]}…” is longer than {longest} signs.")
        return list(dict.fromkeys(numbers))


def _counted(part: str) -> list[str]:
    """ "08–10" → 08, 09, 10; anything else is one number."""
    run = _RANGE.match(part)
    if not run or max(len(run[2]), len(run[3])) > 9:
        return [part]
    first, last = int(run[2]), int(run[3])
    if last < first:
        raise ValidationError(f"“{part}” counts down; write the lower number first.")
    if last - first >= MOST_MACHINES:
        raise ValidationError(f"“{part}” is more than {MOST_MACHINES} machines.")
    return [f"{run[1]}{number:0{len(run[2])}d}" for number in range(first, last + 1)]


class ProjectForm(WorkshopForm):
    design = forms.ModelChoiceField(
        Design.objects.filter(hidden=False),
        required=False,
        empty_label="none: a restoration",
        help_text="A design keeps its parts for the next batch; a restoration gets parts of its own.",
    )
    machines = NumbersField(required=False)

    class Meta:
        model = Project
        fields = ["name", "design", "customer", "promised_on", "note", "trial"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}


class ProjectEditForm(WorkshopForm):
    class Meta:
        model = Project
        fields = ["name", "customer", "promised_on", "note", "closed"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
        labels = {"closed": "Finished and handed over"}
        help_texts = {"closed": "Its pieces leave the day sheet; everything stays readable."}


class MachineNumbersForm(QuestionForm):
    numbers = NumbersField()


class AddressForm(QuestionForm):
    name = forms.CharField(label="For whom", max_length=100, required=False, help_text="Only the workshop sees this.")
