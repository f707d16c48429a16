"""A filled table is handed in: first to be looked at, then taken in as it was looked at."""

import base64
import binascii
from typing import Any

from django import forms

from finishing.workshops.forms.base import QuestionForm

from .papers import PaperField


class TableField(PaperField):
    largest = 2  # MB


class TableForm(QuestionForm):
    """`sheet`: the file that was looked at, carried through the page so that nothing is kept until it is taken in.
    Once it is read, `cleaned_data["bytes"]` is what it holds."""

    quiet = ("file",)
    file = TableField(label="The filled sheet", required=False, help_text="CSV or XLSX.")
    sheet = forms.CharField(widget=forms.HiddenInput, required=False, strip=False)

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


def _unpacked(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return b""
