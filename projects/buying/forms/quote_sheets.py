"""A filled sheet of prices is handed in, with what all its lines share."""

from datetime import date
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from projects.record.models import Supplier
from projects.site.forms.days import not_to_come
from projects.site.forms.tables import TableForm

from .quotes import SupplierField
from .suppliers import check_rate


class FilledSheetForm(TableForm):
    quoted_on = forms.DateField(label="Quoted on", widget=forms.DateInput())
    number = forms.CharField(label="Their number", max_length=60, required=False)
    field_order: tuple[str, ...] = ("quoted_on", "number", "file")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.initial.setdefault("quoted_on", today)

    def clean_quoted_on(self) -> date:
        return not_to_come(self.cleaned_data["quoted_on"], self.today)


class AnswerForm(FilledSheetForm):
    """Of one supplier, who was asked."""

    def __init__(self, *args: Any, supplier: Supplier, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.supplier = supplier

    def clean_file(self) -> UploadedFile | None:
        check_rate(self.workshop, self.supplier.money_in)
        return self.cleaned_data["file"]


class ImportForm(FilledSheetForm):
    supplier = SupplierField()
    field_order = ("supplier", "quoted_on", "number", "file")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("supplier", Supplier.objects.of(self.workshop).still_asked())
