"""On what terms a design's costs are reckoned, and a what-if beside them."""

from decimal import Decimal
from functools import cached_property
from typing import Any

from django import forms

from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from finishing.workshops.forms.fields import PriceField
from projects.record.models import CostTerms
from projects.record.models.cost_terms import CostRange
from projects.record.models.quotes import MOST_MACHINES

HUNDRED = Decimal(100)
Input = CostRange.Input
MOVED = (Input.CASTING, Input.MACHINING, Input.BOUGHT_IN, Input.TOOLS, Input.MINUTES, Input.WAGE, Input.SCRAP)


BOXES = {moved.value.replace(" ", "_"): moved for moved in MOVED}  # of a what-if, by name
SUMS = ("wage", "overhead", "chance", "margin", "price", "tax", "sold_a_month", "deposit", "opening_cash")


class CostTermsForm(WorkshopForm):
    class Meta:
        model = CostTerms
        fields = [
            "wage",
            "overhead",
            "chance",
            "sizes",
            "spares",
            "spread_tools",
            "reading",
            "made_before",
            "recover_over",
            "margin",
            "price",
            "tax",
            "sold_a_month",
            "deposit",
            "opening_cash",
        ]
        field_classes = dict.fromkeys(SUMS, PriceField)
        labels = {"overhead": "Overhead, %", "chance": "Chance of enough good ones, %", "margin": "Margin, %"}
        labels |= {"tax": "Tax on sales, %", "deposit": "Deposit, %"}


class ShareField(PriceField):
    """Percent of what an input is; an empty box leaves it as it is."""

    def __init__(self, label: str) -> None:
        outside = dict.fromkeys(("min_value", "max_value"), "Between 0 and 1000 %%.")  # filled in with %
        super().__init__(label=label, min_value=0, max_value=1000, required=False, error_messages=outside)
        self.printed = "%"


class WhatIfForm(QuestionForm):
    """Each input as percent of what it is; nothing of it is kept."""

    quiet = True
    spread_tools = forms.BooleanField(label="tools by wear", required=False)
    expired = forms.BooleanField(label="with quotes that ended, or are for another revision", required=False)

    def __init__(self, data: Any = None, *, terms: CostTerms, **kwargs: Any) -> None:
        """An address that says nothing of these boxes asks nothing: what the terms have ticked stays ticked."""
        asked = data if data and {*BOXES, "spread_tools", "expired"} & data.keys() else None
        self.as_it_is = {"spread_tools": terms.spread_tools}
        super().__init__(asked, initial=self.as_it_is, **kwargs)
        self.fields = {**{name: ShareField(moved.label) for name, moved in BOXES.items()}, **self.fields}

    @cached_property
    def answers(self) -> dict[str, Any]:
        """As it is without a question; else what was typed and can be."""
        if not self.is_bound:
            return self.as_it_is
        self.full_clean()
        return self.cleaned_data

    @property
    def carried(self) -> dict[str, str]:
        """What was asked, for the form beside it."""
        return {name: self.data[name] for name in self.fields if name in self.data}

    @property
    def shares(self) -> dict[str, Decimal]:
        """What was moved, as shares; a box that is wrong moves nothing, and says so."""
        typed = {moved.value: self.answers.get(name) for name, moved in BOXES.items()}
        return {name: share / HUNDRED for name, share in typed.items() if share is not None}


class BatchSizeForm(QuestionForm):
    quiet = True
    machines = forms.IntegerField(label="Machines", min_value=1, max_value=MOST_MACHINES, required=False)

    @property
    def count(self) -> int:
        """One where nothing, or nothing that can be, was typed."""
        return (self.is_valid() and self.cleaned_data["machines"]) or 1
