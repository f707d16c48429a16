"""A what-if about the price, of which nothing is kept, and how far each input may lie from what is reckoned with."""

from collections.abc import Iterable
from decimal import Decimal
from functools import cached_property
from typing import Any

from django import forms

from finishing.workshops.forms.base import QuestionForm
from finishing.workshops.forms.fields import PriceField
from finishing.workshops.forms.rows import ModelRow, Rows, rows_of
from finishing.workshops.models import Workshop
from projects.costs.domain.price_sheet import PriceAsked, price_of_terms
from projects.money.rounding import cents
from projects.record.models.cost_terms import USUAL_RANGES, CostRange, CostTerms
from projects.record.models.quotes import MOST_MACHINES

WAYS = {"margin": "margin", "mark_up": "mark-up", "price": "price"}
ONE_OF_THEM = "A price comes by a margin, by a mark-up or as it is asked: fill in one of the three."


class PercentField(PriceField):
    def __init__(self, label: str, most: Decimal, help_text: str) -> None:
        outside = dict.fromkeys(("min_value", "max_value"), f"Between 0 and {most} %%.")  # filled in with %
        super().__init__(
            label=label, min_value=0, max_value=most, required=False, help_text=help_text, error_messages=outside
        )
        self.printed = "%"


class PriceForm(QuestionForm):
    """An empty box leaves what it asks for as the terms have it."""

    quiet = True
    machines = forms.IntegerField(min_value=1, max_value=MOST_MACHINES, required=False)
    margin = PercentField("Margin", Decimal("99.99"), "Share of the price that is left after the cost.")
    mark_up = PercentField("or mark-up", Decimal(10000), "Share of the cost that is put on it.")
    price = PriceField(
        label="or price asked",
        min_value=Decimal("0.01"),
        max_digits=12,
        decimal_places=2,
        required=False,
        help_text="For one machine, without tax.",
    )
    opening_cash = PriceField(
        label="Cash to begin with",
        max_digits=12,
        decimal_places=2,
        required=False,
        help_text="Before anything is paid or comes in. Below nothing: what is owed.",
    )
    hands_free = forms.BooleanField(label="own hands cost no cash", required=False)

    def __init__(self, *args: Any, terms: CostTerms, usual: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.terms, self.usual = terms, usual
        self.fields["machines"].help_text = f"Empty: {usual}."
        for name in ("price", "opening_cash"):
            self.print_beside(name, self.workshop.currency)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        typed = [name for name in WAYS if cleaned.get(name) is not None]
        for name in typed[1:]:
            self.add_error(name, ONE_OF_THEM)
        return cleaned

    @cached_property
    def answers(self) -> dict[str, Any]:
        """What was typed and can be; a box that is wrong asks nothing, and says so."""
        self.full_clean()
        return self.cleaned_data if self.is_bound else {}

    @property
    def count(self) -> int:
        return self.answers.get("machines") or self.usual

    @property
    def asked(self) -> PriceAsked:
        typed = [
            PriceAsked(way, self.answers[name]) for name, way in WAYS.items() if self.answers.get(name) is not None
        ]
        return typed[0] if typed else price_of_terms(self.terms)

    @property
    def opening(self) -> Decimal:
        typed = self.answers.get("opening_cash")
        return self.terms.opening_cash if typed is None else cents(typed)

    @property
    def hands_paid(self) -> bool:
        return not self.answers.get("hands_free", False)


class RangeRow(ModelRow):
    telling = ("input",)

    class Meta:
        model = CostRange
        fields = ["input", "low", "high"]
        field_classes = {"low": PriceField, "high": PriceField}
        error_messages = {"input": {"required": "Say which input this range is of."}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("low", "high"):
            self.print_beside(name, "%")


class RangeRows(Rows):
    title = "Ranges"
    about = "In percent of what is reckoned with, which is 100. Empty the first box of a row to take it out."

    def clean(self) -> None:
        seen = set()
        for row in self.filled:
            name = row.cleaned_data.get("input")
            if name in seen:
                row.add_error("input", "This input has a range already, further up.")
            seen.add(name)

    @property
    def ranges(self) -> list[CostRange]:
        return [row.instance for row in self.filled]


RANGE_ROWS = rows_of(RangeRow, RangeRows, extra=2)


def range_rows(data: Any, workshop: Workshop, kept: Iterable[CostRange]) -> RangeRows:
    """Those kept; where there are none, the usual ones to begin with."""
    begin = {row.input: (row.low, row.high) for row in kept} or USUAL_RANGES
    rows = [{"input": name, "low": low, "high": high} for name, (low, high) in begin.items()]
    return RANGE_ROWS(data, workshop=workshop, prefix="ranges", begin=rows)
