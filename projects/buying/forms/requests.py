"""A request for prices: who is asked, for which operations at which revision, and at which batch sizes."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms

from finishing.workshops.forms.base import WorkshopForm
from projects.buying.domain.comparison import sizes_of, to_be_bought
from projects.record.domain.proved import Proof, current_revision
from projects.record.models import Design, Operation, QuoteRequest, Revision, Supplier
from projects.record.models.quotes import sizes_in

from .quotes import SupplierField


@dataclass(frozen=True)
class LineChoice:
    """An operation to tick, with the box for its part's revision."""

    operation: Operation
    ticked: bool
    revision: forms.BoundField | None  # None where there is none to choose
    unproved: str


class RevisionOfPart(forms.ModelChoiceField):
    """Which of its revisions: beside the part the label is enough."""

    def label_from_instance(self, obj: Revision) -> str:
        return obj.label


class RequestForm(WorkshopForm):
    operations = forms.MultipleChoiceField(
        widget=forms.CheckboxSelectMultiple, error_messages={"required": "Tick at least one line."}
    )
    supplier = SupplierField(rated=False)

    class Meta:
        model = QuoteRequest
        fields = ["supplier", "quantities", "answer_by", "note", "reason"]
        widgets = {"answer_by": forms.DateInput(), "note": forms.Textarea(attrs={"rows": 3})}
        labels = {"quantities": "For how many machines"}
        help_texts = {
            "quantities": "By commas. The sheet has pieces: machines times how many one takes.",
            "note": "Stands on their sheet.",
        }

    def __init__(self, *args: Any, design: Design, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.design, self.proof = design, Proof(design)
        self.instance.design, self.instance.asked_on = design, today
        self.initial.setdefault("quantities", ", ".join(map(str, sizes_of(design))))
        self.offer_rows("supplier", Supplier.objects.of(self.workshop).still_asked())
        self.askable = to_be_bought(design)
        self.offer_choices("operations", [(str(row.pk), str(row)) for row in self.askable])
        ticked = [str(row.pk) for row in self.askable if row.process == self.initial.get("process")]
        self.initial.setdefault("operations", ticked)
        for operation in self.askable:
            self._offer_revisions(operation)

    def _offer_revisions(self, operation: Operation) -> None:
        """The current one is preset; where it is the only one, nothing is asked."""
        if operation.part and len(operation.part.revisions.all()) > 1:
            self.fields[_revision_box(operation)] = RevisionOfPart(
                Revision.objects.filter(part=operation.part),
                label=f"Revision of {operation}",
                initial=current_revision(operation.part),
                required=False,
                empty_label=None,
            )

    @property
    def line_choices(self) -> Iterable[LineChoice]:
        ticked = set(self["operations"].value() or ())
        for operation in self.askable:
            name = _revision_box(operation)
            box = self[name] if name in self.fields else None
            part = operation.part
            unproved = self.proof.unproved(part, current_revision(part)) if part else ""
            yield LineChoice(operation, str(operation.pk) in ticked, box, unproved)

    @property
    def plain(self) -> list[forms.BoundField]:
        """The boxes that stand together below the lines."""
        return [self[name] for name in self.Meta.fields if name != "reason"]

    def clean_quantities(self) -> str:
        return ", ".join(map(str, sizes_in(self.cleaned_data["quantities"])))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not self.errors and not cleaned["reason"].strip() and max(sizes_in(cleaned["quantities"])) > 1:
            self._want_a_reason()
        return cleaned

    def _want_a_reason(self) -> None:
        unproved = [
            f"{operation.part} {revision.label if revision else ''}".strip() + f": {why}"
            for operation, revision in self.lines
            if operation.part and (why := self.proof.unproved(operation.part, revision))
        ]
        if unproved:
            words = "Not proved yet: {}. Say why more than one is asked for all the same, or ask for 1."
            self.add_error("reason", words.format("; ".join(dict.fromkeys(unproved))))

    @property
    def lines(self) -> list[tuple[Operation, Revision | None]]:
        """What was ticked, each with its revision."""
        ticked = set(self.cleaned_data["operations"])
        return [
            (row, self.cleaned_data.get(_revision_box(row)) or current_revision(row.part))
            for row in self.askable
            if str(row.pk) in ticked
        ]


def _revision_box(operation: Operation) -> str:
    return f"revision-{operation.pk}"
