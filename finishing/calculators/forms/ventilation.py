"""Air against the vapour of solvents."""

from typing import Any

from django import forms

from finishing.science import ventilation
from finishing.science.cautions import cautions_for
from finishing.science.units import Quantity
from finishing.site.fields import QuantityFormField

from .question import Question


class SolventAir(Question):
    name = "solvent-air"
    title = "What air keeps solvent from burning?"
    about = "Fresh air that keeps the vapour of drying paint below a quarter of what burns."
    group = "Film and paint"
    boxes = {"solvent": "liquid"}

    liquid = QuantityFormField(
        label="Solvent that dries off",
        unit="L",
        minimum=0.01,
        maximum=1000,
        initial=Quantity(0.5, "L"),
        help_text="Of the paint what is not solids, and the thinner.",
    )
    solvent = forms.ChoiceField(
        label="Solvent", choices=[(name, name) for name in ventilation.SOLVENTS], initial="white spirit"
    )

    def work_out(self, liquid: Any, solvent: str) -> dict[str, Any]:
        return {
            "air": ventilation.dilution_air(liquid, ventilation.SOLVENTS[solvent]),
            "cautions": cautions_for(["solvent"]),
            "workings": [ventilation.dilution_working(liquid, solvent)],
        }
