"""What an ordering plan is asked for, and what is wanted to make orders of it."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any
from uuid import UUID, uuid4

from django import forms

from finishing.workshops.forms.base import QuestionForm
from projects.buying.domain.comparison import sizes_of
from projects.buying.domain.order_rules import lines_to_justify
from projects.costs.domain.ordering import BatchWanted
from projects.costs.domain.planned_orders import PlannedOrders
from projects.costs.domain.price_sheet import open_batch
from projects.record.models import Design, Project
from projects.record.models.cost_terms import terms_of
from projects.record.models.quotes import MOST_MACHINES

SEPARATOR = "|"


class OrderingForm(QuestionForm):
    quiet = True
    machines = forms.IntegerField(label="Machines", min_value=1, max_value=MOST_MACHINES)
    spares = forms.IntegerField(label="Spare sets", min_value=0, max_value=MOST_MACHINES, required=False)
    by = forms.DateField(label="All there by", required=False, help_text="Empty: there is no hurry.")
    batch = forms.ModelChoiceField(
        Project.objects.none(),
        label="Planned for",
        required=False,
        empty_label="no batch",
        help_text="What it has and has ordered is taken off, and what is there for none.",
    )
    afresh = forms.BooleanField(label="as if nothing were there or on order", required=False)
    expired = forms.BooleanField(label="with quotes that ended, or are for another revision", required=False)
    apart = forms.BooleanField(label="without the wishes for one supplier", required=False)

    def __init__(self, data: Any = None, *, design: Design, today: date, wishes: int = 0, **kwargs: Any) -> None:
        machines = next((size for size in sizes_of(design) if size > 1), 1)
        self.usual = BatchWanted(machines, spares=terms_of(design).spares, batch=open_batch(design))
        super().__init__(data, initial=vars(self.usual), **kwargs)
        self.today = today
        self.offer_rows("batch", design.projects.filter(closed=False))
        if not wishes:
            del self.fields["apart"]

    def clean_by(self) -> date | None:
        by = self.cleaned_data["by"]
        if by and by < self.today:
            raise forms.ValidationError("That day is past.")
        return by

    def clean_spares(self) -> int:
        return self.cleaned_data["spares"] or 0

    @property
    def wanted(self) -> BatchWanted | None:
        """As usual without a question; None where what was typed cannot be."""
        if not self.is_bound:
            return self.usual
        return BatchWanted(**self.cleaned_data) if self.is_valid() else None

    @property
    def carried(self) -> list[tuple[str, str]]:
        """What was asked, for the form beside it."""
        return list(self.wanted.typed.items()) if self.wanted else []


@dataclass(frozen=True)
class ShownPlan:
    """The plan that a form was sent from."""

    lines: frozenset[str]
    picked: dict[str, str]
    total: Decimal
    bound: Decimal

    @classmethod
    def read(cls, data: Any) -> "ShownPlan | None":
        """None where it did not come whole."""
        lines = data.getlist("line")
        pairs = [line.split(SEPARATOR)[:2] for line in lines]
        try:
            total, bound = Decimal(data["total"]), Decimal(data["bound"])
            picked = dict(pairs)
        except (ValueError, InvalidOperation, KeyError):
            return None
        return cls(frozenset(lines), picked, total, bound) if total.is_finite() and bound.is_finite() else None

    def still_holds(self, planned: PlannedOrders) -> bool:
        lines = {line.shown for line in planned.lines.values()}
        return lines == self.lines and 0 <= self.bound <= self.total == planned.plan.total


class MakeOrdersForm(QuestionForm):
    """For which batch; and why what is not proved, or not worded, is ordered, if there is such."""

    id = forms.UUIDField(widget=forms.HiddenInput)
    project = forms.ModelChoiceField(
        Project.objects.none(),
        label="For the batch",
        required=False,
        help_text="What comes is entered there as pieces. None: it is only counted.",
    )
    reason = forms.CharField(
        label="Why it is ordered all the same",
        max_length=300,
        help_text="It is kept with each of these lines.",
    )

    def __init__(self, data: Any = None, *, design: Design, planned: PlannedOrders, **kwargs: Any) -> None:
        projects = design.projects.filter(closed=False)
        super().__init__(data, initial={"id": uuid4(), "project": planned.ordering.wanted.batch}, **kwargs)
        self.offer_rows("project", projects, none="for none")
        self.lines = lines_to_justify(design, planned.rows)
        if not self.lines:
            del self.fields["reason"]

    @property
    def unproved(self) -> dict[str, list[str]]:
        """What is not proved or not worded, by the reason why."""
        names: dict[str, list[str]] = {}
        for line, why in self.lines:
            name, by_reason = str(line.revision or line.operation.part), names.setdefault(why, [])
            if name not in by_reason:
                by_reason.append(name)
        return names

    @property
    def reasons(self) -> dict[UUID, str]:
        """By operation."""
        return {line.operation_id: self.cleaned_data["reason"] for line, _ in self.lines}
