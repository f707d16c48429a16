"""Somebody who wants a machine, and the stages in which it is paid."""

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator
from django.db.models import Q

from finishing.coatings.forms.colours import ColourField, offer_colours
from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from finishing.workshops.forms.fields import PriceField
from projects.money.rounding import cents
from projects.record.models import Buyer, CostTerms, Design, Machine, StagePayment
from projects.site.forms.days import not_to_come

SUMS = ("would_bear", "agreed_price", "crate", "carriage")


class MachineField(forms.ModelChoiceField):
    def label_from_instance(self, machine: Any) -> str:
        return f"{machine.number}, {machine.project}"


class BuyerForm(WorkshopForm):
    class Meta:
        model = Buyer
        fields = [
            "name", "contact", "enquired_on", "standing", "count", "would_bear", "agreed_price", "own_machine",
            "neutral", "colour", "machine", "leaves", "crate", "carriage", "note",
        ]  # fmt: skip
        field_classes = {**dict.fromkeys(SUMS, PriceField), "machine": MachineField, "colour": ColourField}
        widgets = {
            "enquired_on": forms.DateInput(),
            "note": forms.Textarea(attrs={"rows": 2}),
        }
        labels = {"count": "How many", "machine": "Its number"}
        help_texts = {
            "colour": "By its name among your paints, as # and six digits, or picked. Empty: as the design says.",
            "machine": "One of the machines in a project of this design.",
        }

    SECTIONS = (
        ("Who", ("name", "contact", "enquired_on", "standing", "note")),
        ("Which machine", ("count", "own_machine", "neutral", "colour", "machine")),
        ("Money", ("would_bear", "agreed_price")),
        ("How it leaves", ("leaves", "crate", "carriage")),
    )

    def __init__(self, *args: Any, design: Design, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today, self.instance.design = today, design
        offer_colours(self)
        self.initial.setdefault("enquired_on", today)
        self.fields["count"].validators.append(MaxValueValidator(1000, "Not so many."))
        for name in SUMS:
            self.print_beside(name, self.workshop.currency)
        for name in ("crate", "carriage"):
            self.fields[name].required = False
        free = Machine.objects.filter(Q(buyer=None) | Q(buyer=self.instance.pk), project__design=design)
        self.offer_rows("machine", free.select_related("project"), none="none yet")

    def clean_crate(self) -> Decimal:
        return self.cleaned_data["crate"] or Decimal(0)

    def clean_carriage(self) -> Decimal:
        return self.cleaned_data["carriage"] or Decimal(0)

    def clean_enquired_on(self) -> date | None:
        return not_to_come(self.cleaned_data["enquired_on"], self.today)


class StageForm(WorkshopForm):
    class Meta:
        model = StagePayment
        fields = ["what", "amount", "due_on", "paid_on"]
        field_classes = {"amount": PriceField}
        widgets = {"due_on": forms.DateInput(), "paid_on": forms.DateInput()}
        labels = {"due_on": "Due on", "paid_on": "Paid on"}
        help_texts = {"amount": "Without tax."}

    def __init__(self, *args: Any, buyer: Buyer, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.buyer, self.today, self.instance.buyer = buyer, today, buyer
        self.print_beside("amount", self.workshop.currency)
        self.initial.update(proposed_stage(buyer))

    def clean_amount(self) -> Decimal:
        amount, left = self.cleaned_data["amount"], self.buyer.not_staged
        if not amount:
            raise forms.ValidationError("A stage of nothing is none.")
        if left is not None and amount > left:
            raise forms.ValidationError(f"Of the price only {max(left, Decimal(0))} is left for another stage.")
        return amount

    def clean_paid_on(self) -> date | None:
        return not_to_come(self.cleaned_data["paid_on"], self.today)


def proposed_stage(buyer: Buyer) -> dict[str, Any]:
    """First the deposit that the design's terms ask, then what is left of the price."""
    if buyer.payments.all():
        return {"what": "the rest", "amount": buyer.not_staged}
    terms = CostTerms.objects.filter(design=buyer.design_id).first()
    share = terms.deposit if terms else Decimal(0)
    amount = cents(buyer.price * share / 100) if buyer.price and share else None
    return {"what": "deposit", "amount": amount}


class PaidForm(QuestionForm):
    paid_on = forms.DateField(label="Paid on", widget=forms.DateInput())

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.initial.setdefault("paid_on", today)

    def clean_paid_on(self) -> date | None:
        return not_to_come(self.cleaned_data["paid_on"], self.today)
