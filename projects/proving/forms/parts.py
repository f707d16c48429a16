"""A part: what it is and how it is finished in one form, its weight and skin in the other."""

import math
from typing import Any

from django import forms
from django.db.models import QuerySet

from finishing.coatings.forms.colours import ColourField, offer_colours
from finishing.coatings.models import Coating, System
from finishing.science.surface import RIBBING, SHAPES, TEXTURES
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity
from finishing.site.fields import QuantityField, QuantityFormField, convert, pint_unit, tidy
from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from projects.record.models import Part
from projects.work.domain.sizes import PAINT_USED, TYPED, Size, measures_of, size_by_paint, size_by_shape

FORM_UNITS = {"mm**2": "mm²"}  # science's unit → the form field's
OF_THE_PART = {"mass", "wall", "density"}  # measures asked once, or known from the material
WAYS = [
    (TYPED, "I type it"),
    *((name, name) for name in SHAPES),
    (PAINT_USED, "from paint that went on at a known wet film"),
]


class PartForm(WorkshopForm):
    class Meta:
        model = Part
        fields = [
            "name", "number", "quantity", "stays_bare", "system", "colour", "blasted", "profile", "mask",
            "lettering", "nameplate", "letter_height", "letter_stroke", "letter_relief", "letter_count",
            "lettering_coating", "lettering_colour",
        ]  # fmt: skip
        field_classes = {"colour": ColourField, "lettering_colour": ColourField}
        labels = {"number": "Drawing no.", "lettering_coating": "Their paint", "lettering_colour": "Their colour"}
        help_texts = {
            "profile": "As the comparator says; fills the first coat's dead film.",
            "number": "Of drawing or pattern.",
            "letter_height": "As cast; says from how far they are read.",
            "letter_stroke": "On the face; with the height it gives the area to be painted.",
            "letter_relief": "How far they stand proud.",
            "letter_count": "Empty: as the words have.",
            "mask": "Journals, bores, machined faces, threads, stamped numbers.",
        }

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.offer_rows("system", System.objects.of(self.workshop).filter(retired=False), none="not chosen yet")
        self.offer_rows("lettering_coating", self.coatings, none="not chosen yet")
        if self.instance.nameplate and self.instance.wording_id:
            self.fields["lettering"].disabled = True
            self.fields["lettering"].help_text = "As its chosen wording says; another is chosen under its letters."
        offer_colours(self)

    @property
    def coatings(self) -> QuerySet[Coating]:
        return Coating.objects.of(self.workshop).filter(retired=False)


def _column(name: str) -> QuantityField:
    column = Part._meta.get_field(name)
    assert isinstance(column, QuantityField)
    return column


class SizeForm(QuestionForm):
    """Weight and painted area. `size` is what the form makes of them."""

    material = forms.ChoiceField(choices=Part.Material)
    mass = _column("mass").formfield(required=False, label="Weighs", help_text="One piece.")
    wall = _column("wall").formfield(required=False, label="Mean wall")
    way = forms.ChoiceField(choices=WAYS, label="Painted area", required=False)
    area = _column("area").formfield(required=False, label="Area", help_text="What the brush meets, one piece.")
    texture = forms.ChoiceField(choices=[(name, name) for name in TEXTURES], initial="foundry skin", label="Surface")
    ribbing = forms.ChoiceField(choices=[(name, name) for name in RIBBING], label="Ribs")

    def __init__(self, *args: Any, part: Part | None = None, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.part, self.size = part, Size()
        way = self.data.get(self.add_prefix("way")) or self.initial.get("way")
        self.way_chosen = way if way in dict(WAYS) else TYPED
        self._ask_for_measures()
        if self.way_chosen != TYPED:
            del self.fields["area"]
        if self.way_chosen not in SHAPES:
            del self.fields["texture"], self.fields["ribbing"]
        self.settle(self.workshop)

    def _ask_for_measures(self) -> None:
        for name, unit in measures_of(self.way_chosen).items():
            if name not in OF_THE_PART:
                self.fields[name] = QuantityFormField(
                    unit=FORM_UNITS.get(unit, unit), label=name.replace("_", " ").capitalize()
                )
            elif name in self.fields:
                self.fields[name].required = True

    @property
    def measures(self) -> list[forms.BoundField]:
        """The boxes of the chosen way, for the page: what is measured, then skin and ribs."""
        own = [name for name in measures_of(self.way_chosen) if name not in OF_THE_PART]
        return [self[name] for name in (*own, "area", "texture", "ribbing") if name in self.fields]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not self.errors:
            try:
                self.size = self._size(cleaned)
                self._check_result()
            except OutsideValidity as outside:
                self._add_range_error(outside)
            except ValueError:
                self.add_error("wet_film_high", "The higher reading of the comb lies below the lower one.")
        return cleaned

    def _check_result(self) -> None:
        """Measures that are each possible may still make a part that is not."""
        for name in ("area", "mass"):
            value, column = getattr(self.size, name), _column(name)
            number = None if value is None else value.to(pint_unit(column.unit)).magnitude
            low, high = column.minimum or 0.0, column.maximum or math.inf
            if number is not None and not low <= number <= high:
                made = f"{tidy(number)} {column.unit} of {'painted area' if name == 'area' else 'weight'}"
                limits = f"from {tidy(low)} to {tidy(high)} {column.unit}"
                self.add_error(None, f"These measures make {made}; a part here has {limits}.")

    def _size(self, cleaned: dict[str, Any]) -> Size:
        if self.way_chosen == TYPED:
            return Size(cleaned["area"], self._typed_basis(cleaned["area"]), cleaned["mass"])
        measures = {name: cleaned[name] for name in measures_of(self.way_chosen) if name != "density"}
        if self.way_chosen == PAINT_USED:
            return size_by_paint(**measures)
        return size_by_shape(self.way_chosen, measures, cleaned["material"], cleaned["texture"], cleaned["ribbing"])

    def _typed_basis(self, area: Quantity | None) -> str:
        """A worked-out area that is sent back as it was keeps its working."""
        if area is None:
            return ""
        kept = self.part.area if self.part else None
        same = kept is not None and abs(kept.magnitude - area.magnitude) < 1e-5 * kept.magnitude
        return (self.part.area_basis if same and self.part else "") or "typed"

    def _add_range_error(self, outside: OutsideValidity) -> None:
        name = outside.name.replace(" ", "_")
        name = {"wet_film": "wet_film_high", "paint_used": "paint"}.get(name, name)
        field = self.fields.get(name)
        if not isinstance(field, QuantityFormField):
            self.add_error(None, str(outside))
            return
        low, high = (tidy(convert(limit, outside.unit, field.assumed)) for limit in (outside.low, outside.high))
        self.add_error(name, f"Must lie between {low} and {high} {field.printed}.")

    def values(self) -> dict[str, Any]:
        """The part's columns, as this form fills them."""
        cleaned, size = self.cleaned_data, self.size
        return {
            "material": cleaned["material"],
            "mass": cleaned["mass"] if cleaned["mass"] is not None else size.mass,
            "wall": cleaned["wall"],
            "area": size.area,
            "area_basis": size.basis[: Part._meta.get_field("area_basis").max_length],
        }
