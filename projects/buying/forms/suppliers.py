"""A supplier and the terms; what a foreign currency costs."""

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator
from django.urls import reverse
from django.utils.html import format_html

from finishing.workshops.forms.base import WorkshopForm
from finishing.workshops.forms.fields import PriceField
from finishing.workshops.models import Workshop
from projects.buying.domain.offers import rates_of
from projects.record.models import ExchangeRate, Supplier
from projects.record.models.quotes import MOST_DAYS, TOO_LONG
from projects.site.fields import currency_code
from projects.site.forms.days import not_to_come


def check_rate(workshop: Workshop, currency: str) -> None:
    """Refuses money of which nobody has said what it costs, and shows the way to its rate."""
    if currency in rates_of(workshop):
        return
    address = reverse("rates") + f"?currency={currency}"
    link = "<a href='{}' target='_blank' rel='noopener'>Enter it</a>"
    words = "There is no exchange rate for {} yet. " + link + ", then send this again."
    raise forms.ValidationError(format_html(words, currency, address))


class CurrencyField(forms.CharField):
    default_validators = [currency_code]

    def to_python(self, value: Any) -> str:
        return (super().to_python(value) or "").upper()


class SupplierForm(WorkshopForm):
    class Meta:
        model = Supplier
        fields = [
            "name", "makes", "currency", "tax", "delivery", "minimum_order", "lead_days", "days_to_pay",
            "recasts_free", "contact", "note", "retired",
        ]  # fmt: skip
        field_classes = {
            "currency": CurrencyField,
            "tax": PriceField,
            "delivery": PriceField,
            "minimum_order": PriceField,
        }
        widgets = {"contact": forms.Textarea(attrs={"rows": 3}), "note": forms.Textarea(attrs={"rows": 2})}
        help_texts = {"retired": "Keeps what was quoted and ordered; not offered for anything new."}

    SECTIONS = (
        ("Who", ("name", "makes", "contact", "note", "retired")),
        ("Terms", ("currency", "tax", "delivery", "minimum_order", "lead_days", "days_to_pay", "recasts_free")),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        money = self.instance.money_in
        units = {"tax": "%", "delivery": money, "minimum_order": money, "lead_days": "days", "days_to_pay": "days"}
        for name, unit in units.items():
            self.print_beside(name, unit)
        for name in ("lead_days", "days_to_pay"):
            self.fields[name].validators.append(MaxValueValidator(MOST_DAYS, TOO_LONG))
        if self.instance._state.adding:
            del self.fields["retired"]

    def clean_currency(self) -> str:
        typed = self.cleaned_data["currency"]
        own = self.workshop.currency
        if typed:
            check_rate(self.workshop, typed)
        priced_in = self._priced_in()
        if priced_in not in {None, typed or own}:
            raise forms.ValidationError(
                f"Quotes or orders stand in {priced_in}; for another currency make a new supplier."
            )
        return "" if typed == own else typed

    def _priced_in(self) -> str | None:
        """The currency that prices of this supplier are kept in; none are where it is still open."""
        if self.instance._state.adding:
            return None
        kept = Supplier.objects.select_related("workshop").get(pk=self.instance.pk)
        return kept.money_in if kept.quotes.exists() or kept.orders.exists() else None


class RateForm(WorkshopForm):
    class Meta:
        model = ExchangeRate
        fields = ["currency", "rate", "noted_on", "source"]
        field_classes = {"currency": CurrencyField, "rate": PriceField}
        widgets = {"noted_on": forms.DateInput()}
        help_texts = {
            "currency": "Three letters, as EUR, GBP or USD.",
            "source": "For example: the bank, or the central bank's list.",
        }

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.initial.setdefault("noted_on", today)
        self.print_beside("rate", self.workshop.currency)
        self.fields["rate"].label = "One of it costs"

    def clean_currency(self) -> str:
        typed = self.cleaned_data["currency"]
        if typed == self.workshop.currency:
            raise forms.ValidationError("This is the workshop's own currency, and is worth itself.")
        return typed

    def clean_rate(self) -> Decimal:
        rate = self.cleaned_data["rate"]
        if rate > 100_000:
            raise forms.ValidationError(f"How many {self.workshop.currency} does one cost? Not so many.")
        return rate

    def clean_noted_on(self) -> date:
        return not_to_come(self.cleaned_data["noted_on"], self.today)
