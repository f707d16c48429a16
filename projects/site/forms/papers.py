"""A drawing, a model, a supplier's letter: what may be handed in."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from finishing.workshops.forms.base import WorkshopForm


class PaperField(forms.FileField):
    """Any file that is not too large; what a person calls it may be as long as it likes."""

    widget = forms.FileInput
    largest = 20  # MB

    def __init__(self, **kwargs: Any) -> None:
        kwargs.pop("max_length", None)
        super().__init__(**kwargs)

    def clean(self, data: Any, initial: Any = None) -> Any:
        file = super().clean(data, initial)
        if data and data.size > self.largest * 1024**2:
            raise forms.ValidationError(f"This file is larger than {self.largest} MB.")
        return file


class PaperForm(WorkshopForm):
    """A file handed in anew brings what the person calls it: that of `drawing` is kept in `drawing_name`."""

    def save(self, commit: bool = True) -> Any:
        for name, file in self.cleaned_data.items():
            if isinstance(file, UploadedFile):
                setattr(self.instance, f"{name}_name", (file.name or "")[:200])
        return super().save(commit)
