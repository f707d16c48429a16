"""A filled sheet of prices is handed in: first to be looked at, then taken in as it was looked at."""

import base64
import binascii
from datetime import date
from typing import Any

from django import forms

from finishing.workshops.forms.base import QuestionForm
from projects.record.models import Supplier
from projects.site.forms.days import not_to_come

from .quotes import SupplierField
from .suppliers import check_rate

LARGEST = 2  # MB


class SheetForm(QuestionForm):
    """`sheet`: the file that was looked at, carried through the page so that nothing is kept until it is taken."""

    quoted_on = forms.DateField(label="Quoted on", widget=forms.DateInput())
    number = forms.CharField(label="Their number", max_length=60, required=False)
    file = forms.FileField(label="The filled sheet", required=False, help_text="CSV or XLSX.", widget=forms.FileInput())
    sheet = forms.CharField(widget=forms.HiddenInput, required=False, strip=False)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.initial.setdefault("quoted_on", today)

    def clean_quoted_on(self) -> date:
        return not_to_come(self.cleaned_data["quoted_on"], self.today)

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file and file.size > LARGEST * 1024**2:
            raise forms.ValidationError(f"This file is larger than {LARGEST} MB.")
        return file

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

    @property
    def asked(self) -> list[Any]:
        return self.visible_fields()


class AnswerForm(SheetForm):
    """Of one supplier, who was asked."""

    def __init__(self, *args: Any, supplier: Supplier, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.supplier = supplier

    def clean_file(self) -> Any:
        check_rate(self.supplier)
        return super().clean_file()


class ImportForm(SheetForm):
    supplier = SupplierField()
    field_order = ("supplier", "quoted_on", "number", "file")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["supplier"].keep_to(self.workshop, None)


def _unpacked(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return b""
