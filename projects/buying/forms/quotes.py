"""A supplier's offer for one operation, with its price breaks as rows below."""

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator
from django.http import QueryDict

from finishing.workshops.forms.fields import PriceField
from finishing.workshops.forms.rows import PlainRow, Rows, rows_of
from finishing.workshops.models import Workshop
from projects.record.models import Operation, Quote, Supplier
from projects.record.models.quotes import MOST_DAYS, MOST_PIECES, TOO_LONG
from projects.site.forms.days import not_to_come
from projects.site.forms.papers import PaperField, PaperForm

from .suppliers import check_rate


class SupplierField(forms.ModelChoiceField):
    """Suppliers that are still asked, with the money they ask in. `rated`: somebody has said what that money costs."""

    def __init__(self, *, rated: bool = True, **kwargs: Any) -> None:
        super().__init__(Supplier.objects.select_related("workshop"), **kwargs)
        self.rated = rated

    def clean(self, value: Any) -> Supplier | None:
        supplier = super().clean(value)
        if supplier and self.rated:
            check_rate(supplier.workshop, supplier.money_in)
        return supplier

    def label_from_instance(self, supplier: Supplier) -> str:
        return f"{supplier} ({supplier.money_in})"


class QuoteForm(PaperForm):
    supplier = SupplierField(help_text="Prices are typed in the money that they ask in.")

    class Meta:
        model = Quote
        fields = [
            "supplier", "revision", "number", "quoted_on", "valid_from", "valid_until", "lead_days",
            "counting", "price_by", "minimum_quantity", "setup", "tooling", "file", "remark",
        ]  # fmt: skip
        field_classes = {"setup": PriceField, "tooling": PriceField, "file": PaperField}
        widgets = dict.fromkeys(("quoted_on", "valid_from", "valid_until"), forms.DateInput())
        labels = {"valid_from": "Stands from", "valid_until": "Stands until"}
        help_texts = {
            "valid_from": "Empty: from the day it is of.",
            "valid_until": "Empty: until they take it back.",
            "price_by": "Per kg counts with the weight that the part has here.",
        }

    SECTIONS = (
        ("Who and when", ("supplier", "revision", "number", "quoted_on", "valid_from", "valid_until", "lead_days")),
        ("Terms", ("counting", "price_by", "minimum_quantity", "setup", "tooling")),
        ("Their letter", ("file", "remark")),
    )

    def __init__(self, *args: Any, operation: Operation, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today, self.instance.operation = today, operation
        self.initial.setdefault("quoted_on", today)
        self.suppliers = Supplier.objects.of(self.workshop).still_asked(self.instance.supplier_id)
        self.offer_rows("supplier", self.suppliers)
        self.fields["minimum_quantity"].validators.append(MaxValueValidator(MOST_PIECES, "Not so many."))
        self.fields["lead_days"].validators.append(MaxValueValidator(MOST_DAYS, TOO_LONG))
        if operation.part:
            self.offer_rows("revision", operation.part.revisions.all(), none="none")
        else:
            del self.fields["revision"]
        for name, unit in {"lead_days": "days", "setup": self.money, "tooling": self.money}.items():
            self.print_beside(name, unit)

    @property
    def money(self) -> str:
        """Of the supplier that is chosen so far."""
        chosen = str(self["supplier"].value() or "")
        return next((row.money_in for row in self.suppliers if str(row.pk) == chosen), "")

    def clean_quoted_on(self) -> date:
        return not_to_come(self.cleaned_data["quoted_on"], self.today)


class BreakRow(PlainRow):
    telling = ("from_quantity", "price")

    from_quantity = forms.IntegerField(
        label="From",
        min_value=1,
        max_value=MOST_PIECES,
        error_messages={"min_value": "A price begins at one piece or more."},
    )
    price = PriceField(
        max_digits=14, decimal_places=4, min_value=0, error_messages={"min_value": "A price is not below nothing."}
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.print_beside("from_quantity", "pieces")


class BreakRows(Rows):
    title = "Prices"
    about = (
        "Without tax, in the supplier's money. Each price counts from so many pieces on; the smallest first."
        " A single price begins at 1."
    )

    def clean(self) -> None:
        if not self.filled:
            raise forms.ValidationError("Type at least one price: from how many pieces, and how much.")
        before = 0
        for row in self.filled:
            begins = row.cleaned_data.get("from_quantity") or before + 1
            if begins == before:
                row.add_error("from_quantity", f"There is a price from {begins} already: the two overlap.")
            elif begins < before:
                row.add_error("from_quantity", f"Out of order: it begins below the {before} of the row before.")
            before = max(before, begins)

    def say_money(self, currency: str) -> None:
        """Print it beside each price, so that a price may be typed with its sign."""
        for row in self.forms:
            row.print_beside("price", currency)

    @property
    def breaks(self) -> list[tuple[int, Decimal]]:
        return [(row.cleaned_data["from_quantity"], row.cleaned_data["price"]) for row in self.filled]


BREAK_ROWS = rows_of(BreakRow, BreakRows, extra=4)


def break_rows(data: QueryDict | None, workshop: Workshop, quote: Quote | None = None) -> BreakRows:
    """Typed, or to begin with those of a quote."""
    standing = quote.breaks.all() if quote else ()
    begin = [{"from_quantity": step.from_quantity, "price": step.shown_price} for step in standing]
    return BREAK_ROWS(data, workshop=workshop, prefix="breaks", begin=begin)
