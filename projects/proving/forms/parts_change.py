"""What many parts are given at once; what is left empty stays as each part has it."""

from typing import Any

from django import forms

from finishing.coatings.forms.colours import ColourField
from finishing.coatings.models import System
from finishing.workshops.forms.base import QuestionForm
from projects.record.models import Design, Part

LEAVE, NONE, USUAL, LIKE = "", "none", "usual", "like"


class PartsChangeForm(QuestionForm):
    quiet = True
    system = forms.ModelChoiceField(System.objects.all(), required=False)
    over_coats = forms.BooleanField(
        label="Another system also where coats are in the log",
        required=False,
        help_text="They then count for its layers at the same places.",
    )
    colour = ColourField(label="Body colour", required=False)
    area = Part._meta.get_field("area").formfield(required=False, label="Painted area", help_text="Of each of them.")
    blasted = forms.ChoiceField(choices=[("", "leave as it is"), *Part.Blasted.choices], required=False)
    route = forms.ChoiceField(
        choices=[
            (LEAVE, "leave as it is"),
            (USUAL, "the usual one"),
            (LIKE, "as that of another part"),
        ],
        required=False,
    )
    like = forms.ModelChoiceField(Part.objects.all(), label="That part", required=False)
    anew = forms.BooleanField(label="Also where there is a route already", required=False)

    def __init__(self, *args: Any, design: Design, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("system", System.objects.of(self.workshop).filter(retired=False), none="leave as it is")
        self.offer_rows("like", design.parts.exclude(operations=None).distinct(), none="none")
        colour = self.fields["colour"]
        assert isinstance(colour, ColourField)
        colour.offer(self.workshop)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("route") == LIKE and not cleaned.get("like"):
            self.add_error("like", "Choose the part whose route it is.")
        if not self.errors and not self.asked and not cleaned["route"]:
            self.add_error(None, "Say what is to be changed.")
        return cleaned

    @property
    def asked(self) -> dict[str, Any]:
        """The columns that are given a value."""
        given = {name: self.cleaned_data.get(name) for name in ("system", "colour", "area", "blasted")}
        return {name: value for name, value in given.items() if value not in (None, "")}
