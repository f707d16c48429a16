"""A mesh of a part, in which unit it is, and what of it gets no paint."""

from typing import Any

from django import forms

from finishing.science.mesh import Unpainted
from finishing.science.surface import TEXTURES
from finishing.workshops.forms.base import QuestionForm
from finishing.workshops.forms.fields import NumberField

UNITS_OF_FILE = [("mm", "mm"), ("cm", "cm"), ("m", "m"), ("in", "inches")]
METRES = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254}
DIRECTIONS = [
    ("", "none"),
    ("-z", "the underside (−z)"),
    ("+z", "the top (+z)"),
    ("-x", "the side at −x"),
    ("+x", "the side at +x"),
    ("-y", "the side at −y"),
    ("+y", "the side at +y"),
]


class MeshForm(QuestionForm):
    file = forms.FileField(
        label="Mesh",
        widget=forms.FileInput(attrs={"accept": ".stl,.obj,.ply"}),
        help_text="STL, OBJ or PLY; 25 MB and 250,000 faces at most. It is measured and not kept.",
    )
    unit = forms.ChoiceField(choices=UNITS_OF_FILE, label="Its numbers are in")
    texture = forms.ChoiceField(choices=[(name, name) for name in TEXTURES], initial="foundry skin", label="Surface")
    direction = forms.ChoiceField(
        choices=DIRECTIONS,
        label="Faces left out",
        required=False,
        help_text="Those that lean less than 45° from it (our judgement).",
    )
    axis = forms.ChoiceField(choices=[(axis, axis) for axis in "zxy"], label="Cut, along")
    below = NumberField(label="Left out below", required=False, help_text="In the file's unit; cut exactly there.")
    above = NumberField(label="Left out above", required=False)

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        below, above = given.get("below"), given.get("above")
        if below is not None and above is not None and below >= above:
            self.add_error("above", "Nothing would be left between the two.")
        return given

    @property
    def metres(self) -> float:
        return METRES[self.cleaned_data["unit"]]

    @property
    def left_out(self) -> Unpainted:
        given, metres = self.cleaned_data, self.metres
        below, above = (None if given[name] is None else given[name] * metres for name in ("below", "above"))
        return Unpainted(given["direction"], given["axis"], below, above)

    @property
    def left_out_words(self) -> str:
        """As the area's basis says it; "" where nothing is left out."""
        given = self.cleaned_data
        words = [dict(DIRECTIONS)[given["direction"]]] if given["direction"] else []
        words += [
            f"{name} {given['axis']} = {given[name]:g} {given['unit']}"
            for name in ("below", "above")
            if given[name] is not None
        ]
        return ", ".join(words)
