"""The sheet of a blasting medium as a form."""

from typing import Any

from django import forms

from finishing.media.models import Medium
from finishing.workshops.forms.base import DataSheetForm
from finishing.workshops.forms.fields import PriceField


class MediumForm(DataSheetForm):
    class Meta:
        model = Medium
        exclude = ["workshop", "basis"]
        field_classes = {"price": PriceField, "disposal": PriceField}
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
        labels = {"retired": "No longer used"}
        help_texts = {
            "name": "As it stands on the bag.",
            "grain": "As the bag says: a mesh, a grit number, or fine, medium, coarse.",
            "disposal": "As the carrier of the waste asks. Empty: nothing.",
            "free_silica": "From the safety data sheet; for “less than 1 %” write 1. Empty: not known, and so refused.",
            "iron": "Iron left in brass or aluminium rusts there.",
            "bulk_density": "Poured, not pressed. Empty: no abrasive and no time can be worked out.",
            "hardness_low": "On Mohs' scale.",
            "profile_low": "On iron, as the sheet says.",
            "use": "24.4 kg/m² (5 lb/ft²) where it is not known: it then goes by the density; your log will tell.",
            "reused": "Where it is gathered, dry and clean.",
            "feed_difference": "0.15 bar for grain, 0.3 for a light powder.",
        }

    NO_VALUES = DataSheetForm.NO_VALUES | {"kind", "grain", "reused", "price", "disposal"}
    SECTIONS = (
        ("The bag", ("name", "kind", "grain", "bag", "price", "disposal")),
        ("What it is", ("free_silica", "iron", "bulk_density", "hardness_low", "hardness_high")),
        ("What it does", ("profile_low", "profile_high", "use", "feed_difference")),
        ("Again", ("reused", "cycles_low", "cycles_high")),
        ("Note", ("note", "source", "retired")),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["source"].initial = "the bag's sheet"
