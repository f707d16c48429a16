"""A request for prices: who is asked, for which operations at which revision, and at which batch sizes."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django import forms

from finishing.workshops.forms.base import WorkshopForm
from projects.buying.domain.comparison import sizes_of, to_be_bought
from projects.record.domain.proved import Proof, current_revision
from projects.record.models import Design, Operation, QuoteRequest, Revision
from projects.record.models.quotes import sizes_in

from .quotes import SupplierField


@dataclass(frozen=True)
class Offered:
    """An operation to tick, with the box for its part's revision."""

    operation: Operation
    ticked: bool
    revision: Any  # the bound field, None where there is none to choose
    unproved: str


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

    def __init__(self, *args: Any, design: Design, today: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.design, self.proof = design, Proof(design)
        self.instance.design, self.instance.asked_on = design, today
        self.initial.setdefault("quantities", ", ".join(map(str, sizes_of(design))))
        self.fields["supplier"].keep_to(self.workshop, None)
        self.fields["operations"].choices = [(str(one.pk), str(one)) for one in self.asked_for]
        ticked = [str(one.pk) for one in self.asked_for if one.process == self.initial.get("process")]
        self.initial.setdefault("operations", ticked)
        for operation in self.asked_for:
            self._offer_revisions(operation)

    @cached_property
    def asked_for(self) -> list[Operation]:
        return to_be_bought(self.design)

    def _offer_revisions(self, operation: Operation) -> None:
        """The current one is preset; where it is the only one, nothing is asked."""
        current = current_revision(operation.part) if operation.part else None
        if current and len(operation.part.revisions.all()) > 1:
            rows = Revision.objects.filter(part=operation.part_id)
            told = {"label": f"Revision of {operation}", "initial": current, "required": False, "empty_label": None}
            box = forms.ModelChoiceField(rows, **told)
            box.label_from_instance = lambda revision: revision.label
            self.fields[_revision_box(operation)] = box

    @property
    def offered(self) -> Iterable[Offered]:
        ticked = set(self["operations"].value() or ())
        for operation in self.asked_for:
            name = _revision_box(operation)
            box = self[name] if name in self.fields else None
            yield Offered(operation, str(operation.pk) in ticked, box, self._current_unproved(operation))

    def _current_unproved(self, operation: Operation) -> str:
        return self.proof.unproved(operation.part, current_revision(operation.part)) if operation.part else ""

    @property
    def plain(self) -> list[Any]:
        return [self[name] for name in self.Meta.fields if name != "reason"]

    def clean_quantities(self) -> str:
        return ", ".join(map(str, sizes_in(self.cleaned_data["quantities"])))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not self.errors and not cleaned["reason"].strip() and max(sizes_in(cleaned["quantities"])) > 1:
            self._want_a_reason()
        return cleaned

    def _want_a_reason(self) -> None:
        told = [
            f"{operation.part} {revision.label if revision else ''}".strip() + f": {why}"
            for operation, revision in self.lines
            if operation.part and (why := self.proof.unproved(operation.part, revision))
        ]
        if told:
            words = "Not proved yet: {}. Say why more than one is asked for all the same, or ask for 1."
            self.add_error("reason", words.format("; ".join(dict.fromkeys(told))))

    @property
    def lines(self) -> list[tuple[Operation, Revision | None]]:
        """What was ticked, each with its revision."""
        ticked = set(self.cleaned_data["operations"])
        return [(one, self._revision(one)) for one in self.asked_for if str(one.pk) in ticked]

    def _revision(self, operation: Operation) -> Revision | None:
        chosen = self.cleaned_data.get(_revision_box(operation))
        return chosen or (current_revision(operation.part) if operation.part else None)


def _revision_box(operation: Operation) -> str:
    return f"revision-{operation.pk}"
