"""What came of an order's line, good and rejected; a receipt taken back; a piece found bad later."""

import re
import uuid
from datetime import date
from typing import Any

from django import forms

from finishing.science.working import day_told
from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from finishing.workshops.models import Place
from projects.buying.domain.arrivals import free_marks, given_back
from projects.record.models import Operation, OrderLine, Piece, Receipt
from projects.record.models.quotes import MOST_PIECES as MOST_ORDERED
from projects.site.forms.days import not_to_come

MOST_PIECES = 500  # made from one receipt
LONGEST_MARK = 40


class MarkChoice(forms.ModelMultipleChoiceField):
    """Pieces of one part, by their marks."""

    def label_from_instance(self, obj: Piece) -> str:
        return obj.mark


class OperationOfPart(forms.ModelChoiceField):
    """Operations of one part, without its name."""

    def label_from_instance(self, obj: Operation) -> str:
        return obj.label


class ReceiptForm(WorkshopForm):
    quiet = ("good", "rejected", "why", "place", "marks")
    why = forms.ChoiceField(choices=[("", "nothing"), *Receipt.Why.choices], required=False, label="Rejected for")
    more = forms.BooleanField(required=False, label="More came than were ordered, and it is so")
    place = forms.ModelChoiceField(Place.objects.all(), required=False, label="They stand in", empty_label=None)
    marks = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        label="Marks of the good ones",
        help_text="One for each, by commas or lines; the first that are needed are taken. All taken out: no pieces.",
    )
    which = MarkChoice(
        Piece.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Which were rejected",
        help_text="They are set aside.",
    )

    class Meta:
        model = Receipt
        fields = ["good", "rejected", "why", "received_on", "note"]
        widgets = {"received_on": forms.DateInput()}
        labels = {"received_on": "Came on"}

    def __init__(self, *args: Any, line: OrderLine, today: date, good: int | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.line, self.today, self.instance.line = line, today, line
        expected = line.outstanding or line.short if good is None else good
        self.initial = {"received_on": today, "good": expected, "rejected": 0, **self.initial}
        self.fields["good"].required = self.fields["rejected"].required = False
        project, part = line.order.project, line.operation.part
        if project and line.brings_pieces:
            last = project.pieces.order_by("made_at").last()
            self.initial["place"] = last.place if last else None
            self.initial["marks"] = ", ".join(free_marks(line, min(expected, MOST_PIECES)))
        else:
            del self.fields["place"], self.fields["marks"]
        if project and part and not line.brings_pieces:  # pieces that were there before: some of them come back bad
            self.offer_rows("which", Piece.objects.sound().filter(project=project, part=part))
        else:
            del self.fields["which"]

    def clean_received_on(self) -> date:
        came = not_to_come(self.cleaned_data["received_on"], self.today)
        if came < self.line.order.ordered_on:
            raise forms.ValidationError(f"It was ordered later, on {day_told(self.line.order.ordered_on)}.")
        return came

    def clean_good(self) -> int:
        return _counted(self.cleaned_data["good"])

    def clean_rejected(self) -> int:
        return _counted(self.cleaned_data["rejected"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.line.order.cancelled:
            self.add_error(None, "This order was cancelled; nothing can come of it.")
        if not self.errors.keys() & {"good", "rejected"}:
            self._check_count(cleaned, cleaned["good"], cleaned["rejected"])
        if "marks" in self.fields and not self.errors:
            self._check_marks(cleaned)
        return cleaned

    def _check_count(self, cleaned: dict[str, Any], good: int, rejected: int) -> None:
        over = self.line.good + good - self.line.quantity
        which = cleaned.get("which") or ()
        if not good and not rejected:
            self.add_error("good", "Nothing came? Then there is no receipt.")
        if good and over > 0 and not self.line.order.cancelled and not cleaned.get("more"):
            self.add_error("more", f"{over} more than the {self.line.quantity} ordered. If so many came, tick this.")
        if len(which) > rejected:
            self.add_error("which", f"{len(which)} are ticked, and {rejected} were rejected.")
        if not rejected:
            cleaned["why"] = ""
        elif not cleaned.get("why"):
            self.add_error("why", "Say what they were rejected for.")

    def _check_marks(self, cleaned: dict[str, Any]) -> None:
        typed = [mark.strip() for mark in re.split(r"[,;\n]", cleaned["marks"]) if mark.strip()]
        marks = typed[: cleaned["good"]]
        wrong = self._wrong(marks, cleaned["good"]) if marks else ""
        if wrong:
            self.add_error("marks", wrong)
        elif marks and not cleaned.get("place"):
            self.add_error("place", "Where do they stand?")
        cleaned["marks"] = marks

    def _wrong(self, marks: list[str], good: int) -> str:
        there = set(Piece.objects.filter(project=self.line.order.project_id).values_list("mark", flat=True))
        used = next((mark for mark in marks if mark in there - given_back(self.line).keys()), None)
        twice = next((mark for mark in marks if marks.count(mark) > 1), None)
        if len(marks) < good:
            return f"{good} came good, and here are {len(marks)} marks. Take all out if they get none."
        if good > MOST_PIECES:
            return f"At most {MOST_PIECES} pieces at once. Take all marks out if they get none."
        if any(len(mark) > LONGEST_MARK for mark in marks):
            return f"A mark has at most {LONGEST_MARK} letters."
        if twice:
            return f"{twice} stands here twice."
        return f"There is a {used} already." if used else ""


def _counted(typed: int | None) -> int:
    """An empty box is none."""
    if typed and typed > MOST_ORDERED:
        raise forms.ValidationError("Not so many.")
    return typed or 0


class VoidReceiptForm(forms.Form):
    """Why a receipt, of parts or of paint, is taken back."""

    reason = forms.CharField(max_length=300, label="What was wrong with it")


class RejectForm(QuestionForm):
    """A piece found bad after it came."""

    key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    why = forms.ChoiceField(choices=Receipt.Why.choices, label="Why", widget=forms.RadioSelect)
    note = forms.CharField(max_length=250, required=False, help_text="Where on it, how it was found.")
    counts_against = OperationOfPart(
        Operation.objects.all(),
        required=False,
        label="Counts against",
        empty_label="none of them",
        help_text="Its share of good ones falls: the one after which it was found, since work until then is lost.",
    )

    def __init__(self, *args: Any, piece: Piece, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("key", uuid.uuid4())
        came = piece.part.operations.filter(order_lines__receipts__isnull=False).distinct().order_by("position")
        self.offer_rows("counts_against", came)
        self.fields["counts_against"].initial = piece.receipt.line.operation_id if piece.receipt else None
        if not came.exists():
            del self.fields["counts_against"]
