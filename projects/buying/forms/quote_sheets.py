"""A filled sheet of prices is handed in: first to be looked at, then taken in as it was looked at."""

import base64
import binascii
from datetime import date
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from finishing.workshops.forms.base import QuestionForm
from projects.record.models import Supplier
from projects.site.forms.days import not_to_come
from projects.site.forms.papers import PaperField

from .quotes import SupplierField
from .suppliers import check_rate


class SheetField(PaperField):
    largest = 2  # MB


class FilledSheetForm(QuestionForm):
    """`sheet`: the file that was looked at, carried through the page so that nothing is kept until it is taken in.
    Once it is read, `cleaned_data["bytes"]` is what it holds."""

    quiet = ("file",)
    quoted_on = forms.DateField(label="Quoted on", widget=forms.DateInput())
    number = forms.CharField(label="Their number", max_length=60, required=False)
    file = SheetField(label="The filled sheet", required=False, help_text="CSV or XLSX.")
    sheet = forms.CharField(widget=forms.HiddenInput, required=False, strip=False)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.initial.setdefault("quoted_on", today)

    def clean_quoted_on(self) -> date:
        return not_to_come(self.cleaned_data["quoted_on"], self.today)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if "file" not in self.errors:
            cleaned["bytes"] = cleaned["file"].read() if cleaned.get("file") else _unpacked(cleaned.get("sheet", ""))
            if not cleaned["bytes"]:
                self.add_error("file", "Choose the filled sheet.")
        return cleaned

    @property
    def carried(self) -> str:
        return base64.b64encode(self.cleaned_data["bytes"]).decode()


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


def _unpacked(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return b""
