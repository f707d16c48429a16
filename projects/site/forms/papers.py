"""A drawing, a model, a supplier's letter: what may be handed in."""

from typing import Any

from django import forms

LARGEST = 20  # MB


class PaperField(forms.FileField):
    """Any file that is not too large; what a person calls it may be as long as it likes."""

    widget = forms.FileInput

    def __init__(self, **kwargs: Any) -> None:
        kwargs.pop("max_length", None)
        super().__init__(**kwargs)

    def clean(self, data: Any, initial: Any = None) -> Any:
        file = super().clean(data, initial)
        if data and data.size > LARGEST * 1024**2:
            raise forms.ValidationError(f"This file is larger than {LARGEST} MB.")
        return file


def name_of(file: Any) -> str:
    """What the person calls a file that is handed in anew; "" where the one that is kept stays."""
    return file.name[:200] if hasattr(file, "content_type") else ""
