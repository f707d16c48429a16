"""How large a part is: from its shape, or from the paint that went on."""

from math import isnan
from typing import Any

from django import forms

from finishing.science import film, surface
from finishing.science.surface import Range
from finishing.science.units import Quantity
from finishing.site.fields import QuantityFormField

from .question import Answer, Question, one_of

GROUP = "How large is it"
FORM_UNITS = {"kg": "kg", "mm": "mm", "mm**2": "mm²"}
EXAMPLES = {
    "mass": 60,
    "wall": 12,
    "width": 60,
    "thickness": 20,
    "perimeter": 200,
    "cross_section": 500,
    "length": 400,
    "height": 200,
    "diameter": 100,
    "outer_diameter": 400,
    "wide_diameter": 400,
    "narrow_diameter": 200,
    "middle_diameter": 300,
    "bar_diameter": 25,
    "across_flats": 30,
}


def measure(name: str, unit: str) -> QuantityFormField:
    shown = FORM_UNITS[unit]
    least = 0 if name == "narrow_diameter" else 0.001 if shown == "kg" else 0.1
    return QuantityFormField(
        label=name.replace("_", " ").capitalize(),
        unit=shown,
        minimum=least,
        maximum=100_000,
        initial=Quantity(EXAMPLES[name], unit),
    )


def share(label: str, shares: dict[str, float]) -> forms.TypedChoiceField:
    choices = [(f"{percent:g}", f"{name} (+{percent:g} %)") for name, percent in shares.items()]
    return forms.TypedChoiceField(label=label, choices=choices, coerce=lambda text: Quantity(float(text), "percent"))


class AreaOfPart(Question):
    name = "area"
    title = "What area and weight has a part?"
    about = "Painted area and mass from a shape's measures, or from what a casting weighs and its wall."
    group = GROUP

    shape = forms.ChoiceField(choices=[(name, name) for name in surface.SHAPES], widget=forms.HiddenInput)

    begins_with = frozenset({"pieces"})

    def arrange(self) -> None:
        typed = self.data.get("shape", "")
        self.chosen = typed if typed in surface.SHAPES else next(iter(surface.SHAPES))
        self.fields["shape"].initial = self.chosen
        self.measures = {name: unit for name, unit in surface.SHAPES[self.chosen].measures.items() if name != "density"}
        self.fields |= {name: measure(name, unit) for name, unit in self.measures.items()}
        self.fields |= {
            "material": one_of("Metal", surface.DENSITIES),
            "texture": share("Surface", surface.TEXTURES),
            "ribbing": share("Ribs and bosses", surface.RIBBING),
            "pieces": forms.IntegerField(label="How many", min_value=1, max_value=100_000, initial=1),
        }

    @property
    def shapes(self) -> list[str]:
        return list(surface.SHAPES)

    def work_out(
        self, shape: str, material: str, texture: Quantity, ribbing: Quantity, pieces: int, **sizes: Quantity
    ) -> Answer:
        chosen, density = surface.SHAPES[shape], surface.density_of(material)
        if "density" in chosen.measures:
            sizes = sizes | {"density": density}
        drawn, volume = chosen.function(**sizes)
        painted = surface.painted_area(drawn, texture, ribbing)
        return {
            "shape": shape,
            "pieces": pieces,
            "area": painted,
            "all_area": painted * pieces,
            **_weight(volume, density, pieces),
            "workings": [
                surface.shape_working(shape, **sizes),
                surface.painted_area_working(drawn, texture, ribbing),
            ],
        }


def _weight(volume: Quantity, density: Quantity, pieces: int) -> Answer:
    """Mass where the measures tell the volume."""
    if isnan(volume.magnitude):
        return {}
    weight = surface.mass(volume, density)
    return {"mass": weight, "all_mass": weight * pieces}


class AreaFromPaint(Question):
    name = "area-from-paint"
    title = "What area did the paint cover?"
    about = "The area of a part nobody can measure, from the paint that went on and the wet-film comb."
    group = GROUP
    boxes = {"loss": "method", "paint used": "paint"}

    paint = QuantityFormField(
        label="Paint used, as thinned", unit="L", minimum=0.01, maximum=1000, initial=Quantity(0.45, "L")
    )
    wetted = QuantityFormField(
        label="Comb: last tooth wetted",
        unit="µm",
        minimum=5,
        maximum=3000,
        initial=Quantity(75, "µm"),
        help_text="The film lies between this tooth and the next.",
    )
    dry = QuantityFormField(
        label="Comb: first tooth left dry", unit="µm", minimum=5, maximum=3000, initial=Quantity(100, "µm")
    )
    method = one_of("Put on by", film.METHODS)

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        wetted, dry = given.get("wetted"), given.get("dry")
        if wetted is not None and dry is not None and dry < wetted:
            self.add_error("dry", "The first dry tooth is the larger number of the two.")
        return given

    def work_out(self, paint: Quantity, wetted: Quantity, dry: Quantity, method: str) -> Answer:
        comb, loss = Range(wetted, (wetted + dry) / 2, dry), film.loss_of(method)
        return {
            "area": surface.area_from_paint(paint, comb, loss),
            "workings": [surface.covered_area_working(paint, comb, loss)],
        }
