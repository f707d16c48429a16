"""Paint that was bought, as the receipt has it."""

from datetime import date
from typing import Any

from django import forms

from finishing.coatings.models import Coating
from finishing.workshops.forms.base import WorkshopForm
from finishing.workshops.forms.fields import PriceField
from projects.record.models import PaintReceipt, Project
from projects.site.forms.days import not_to_come

from .suppliers import CurrencyField, check_rate


class PaintReceiptForm(WorkshopForm):
    class Meta:
        model = PaintReceipt
        fields = ["coating", "litres", "price", "currency", "supplier", "bought_on", "note"]
        field_classes = {"price": PriceField, "currency": CurrencyField}
        widgets = {"bought_on": forms.DateInput()}
        help_texts = {"litres": "All tins together; a kit counts as what it makes when mixed."}

    def __init__(self, *args: Any, project: Project, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.project, self.today = project, today
        self.offer_rows("coating", Coating.objects.of(self.workshop).filter(retired=False))
        self.initial = {"currency": self.workshop.currency, "bought_on": today, **self.initial}
        if self.instance._state.adding:
            self.initial["price"] = None

    def clean_currency(self) -> str:
        currency = self.cleaned_data["currency"]
        check_rate(self.workshop, currency)
        return currency

    def clean_bought_on(self) -> date:
        return not_to_come(self.cleaned_data["bought_on"], self.today)
