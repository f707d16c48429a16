"""Which pieces to print for, as what, and how the sheet of labels is laid out."""

from typing import Any

from django import forms

from finishing.workshops.forms.base import QuestionForm
from finishing.workshops.forms.fields import NumberField
from projects.papers.domain.label_sheets import LabelSheet
from projects.record.models import Piece, Project

A5_CARDS, A4_CARDS, TAGS = "cards on A5", "cards on A4", "tags"
AS = [
    (A5_CARDS, "Job cards, A5 each"),
    (A4_CARDS, "Job cards, two on an A4 sheet"),
    (TAGS, "Tags on a sheet of labels"),
]
MOST_CARDS, MOST_TAGS = 200, 2000
LEAST_WIDTH, LEAST_HEIGHT = 30.0, 15.0  # mm, below which a phone no longer reads the code
ORDINARY = {"columns": 2, "rows": 7, "top": 15, "left": 5, "gap_across": 2.5, "gap_down": 0, "first": 1}


def _millimetres(label: str, help_text: str = "") -> NumberField:
    return NumberField(label=label, min_value=0, max_value=100, help_text=help_text)


class PrintForm(QuestionForm):
    """`label_sheet` is what the boxes of the labels make."""

    LABELS = ("columns", "rows", "top", "left", "gap_across", "gap_down", "first", "outlines")
    quiet = True

    make = forms.ChoiceField(choices=AS, label="Print", widget=forms.RadioSelect, initial=A5_CARDS)
    piece = forms.ModelMultipleChoiceField(
        Piece.objects.none(),
        label="Pieces",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one piece."},
    )
    columns = forms.IntegerField(label="Labels across", min_value=1, max_value=6)
    rows = forms.IntegerField(label="Labels down", min_value=1, max_value=18)
    top = _millimetres("Above and below", "Margin of the A4 sheet.")
    left = _millimetres("Left and right", "Margin of the A4 sheet.")
    gap_across = _millimetres("Gap across")
    gap_down = _millimetres("Gap down")
    first = forms.IntegerField(label="First free label", min_value=1, help_text="Of a sheet used before.")
    outlines = forms.BooleanField(label="Draw the labels' edges, to be cut out", required=False, initial=True)

    def __init__(self, *args: Any, project: Project, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.offer_rows("piece", project.pieces.filter(set_aside=False).select_related("part").order_by("part", "mark"))
        for name in ("top", "left", "gap_across", "gap_down"):
            self.print_beside(name, "mm")

    @property
    def labels(self) -> list[forms.BoundField]:
        return [self[name] for name in self.LABELS]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        many = len(cleaned.get("piece", ()))
        most = MOST_TAGS if cleaned.get("make") == TAGS else MOST_CARDS
        if many > most:
            self.add_error("piece", f"{most} at a time are the most; {many} are ticked.")
        if not set(self.LABELS) & set(self.errors):
            self._check_labels(self.label_sheet)
        return cleaned

    @property
    def label_sheet(self) -> LabelSheet:
        names = ("columns", "rows", "top", "left", "gap_across", "gap_down")
        return LabelSheet(**{name: self.cleaned_data[name] for name in names})

    def _check_labels(self, sheet: LabelSheet) -> None:
        if sheet.width < LEAST_WIDTH:
            self.add_error("columns", f"A label would be {sheet.width:.0f} mm wide; {LEAST_WIDTH:.0f} mm is the least.")
        if sheet.height < LEAST_HEIGHT:
            self.add_error("rows", f"A label would be {sheet.height:.0f} mm high; {LEAST_HEIGHT:.0f} mm is the least.")
        if self.cleaned_data["first"] > sheet.many:
            self.add_error("first", f"The sheet has {sheet.many} labels.")
