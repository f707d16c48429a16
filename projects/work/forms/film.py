"""A reading of a film gauge, and where on the piece it was taken."""

from typing import Any

from django import forms

from finishing.science.film import GAUGE_CORRECTIONS, grade_of
from finishing.science.units import Quantity
from finishing.site.fields import number
from finishing.workshops.forms.base import WorkshopForm
from finishing.workshops.forms.fields import NumberField
from projects.record.models import FilmReading, Photo, Piece

CORRECTED = "corrected"
GRADES = [
    (CORRECTED, "on the blasted metal, nothing to take off"),
    *((grade, f"on smooth steel: {grade} profile, {film:.0f} µm off") for grade, film in GAUGE_CORRECTIONS.items()),
]


class FilmReadingForm(WorkshopForm):
    """A tap on the photo fills in across and down; they may be typed, or the spot named."""

    across = NumberField(label="Across", required=False, min_value=0, max_value=100, help_text="From the left.")
    down = NumberField(label="Down", required=False, min_value=0, max_value=100, help_text="From the top.")
    gauge = forms.ChoiceField(choices=GRADES, label="The gauge was set")

    class Meta:
        model = FilmReading
        fields = ["reading", "spot"]
        help_texts = {"spot": "As “rim, left”; empty where it is pinned on the photo."}

    def __init__(self, *args: Any, piece: Piece, photo: Photo | None, asked: float | None, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.piece, self.photo, self.asked = piece, photo, asked
        profile = number(piece.part, "profile")
        self.initial.setdefault("gauge", grade_of(profile) if not piece.part.stays_bare else CORRECTED)
        for name in ("across", "down"):
            self.print_beside(name, "%")
        if photo is None:
            del self.fields["across"], self.fields["down"]

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        across, down = given.get("across"), given.get("down")
        if (across is None) != (down is None) and not {"across", "down"} & set(self.errors):
            self.add_error("down" if down is None else "across", "A spot on the photo has both.")
        if across is None and down is None and not given.get("spot") and not self.errors:
            self.add_error("spot", "Say where: name the spot, or tap on the photo.")
        if self.asked is None:
            self.add_error(None, "No coat of its system is logged yet, so nothing says what the film should be.")
        if not self.errors and self.asked is not None:
            row = self.instance
            row.piece, row.across, row.down = self.piece, across, down
            row.photo = self.photo if across is not None else None
            row.asked = Quantity(self.asked, "µm")
            row.correction = Quantity(GAUGE_CORRECTIONS.get(given["gauge"], 0.0), "µm")
        return given
