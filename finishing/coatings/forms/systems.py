"""A system as a form: its name, and its layers as rows in the order in which they are done."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.db.models import Q, QuerySet

from finishing.coatings.actions.systems import VALUES, LayerWanted
from finishing.coatings.models import Additive, Coating, Layer, System
from finishing.workshops.forms.base import WorkshopForm, as_uuid
from finishing.workshops.forms.fields import NumberField
from finishing.workshops.forms.rows import ModelRow, Rows, rows_of
from finishing.workshops.models import Workshop


class SystemForm(WorkshopForm):
    class Meta:
        model = System
        fields = ["name", "note", "retired"]
        widgets = {"note": forms.Textarea(attrs={"rows": 2})}
        labels = {"retired": "No longer used"}
        help_texts = {"name": "As you would say it: primer and two coats of green."}

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, workshop: Workshop, instance: System | None = None
    ) -> None:
        super().__init__(data, workshop=workshop, instance=instance)
        if self.instance._state.adding:
            del self.fields["retired"]
        begin = [_as_kept(layer) for layer in instance.layers.all()] if instance else []
        self.layers = LAYER_ROWS(data, workshop=workshop, prefix="layers", begin=begin)
        self.layers.extra = 3 if instance else 8

    def small_tables(self) -> Iterable[forms.BaseFormSet[Any]]:
        return [self.layers]

    def is_valid(self) -> bool:
        """The system and its layers are right only together."""
        return all([super().is_valid(), self.layers.is_valid()])


def _as_kept(layer: Layer) -> dict[str, Any]:
    kept = {**forms.model_to_dict(layer, fields=VALUES), "layer": layer.pk, "order": layer.position}
    return kept | {"additives": [additive.pk for additive in layer.additives.all()]}


class AdditiveChoice(forms.ModelMultipleChoiceField):
    """What a tin's sheet offers to be stirred in, with the tin."""

    def label_from_instance(self, obj: Additive) -> str:
        return f"{obj}, in {obj.coating}"


class LayerRow(ModelRow):
    """`layer` is the one that stood here before, so that what the log says of it stays with it."""

    telling = ("kind", "coating", "dry_film", "thinning")
    seldom = ("additives", "side", "dry_film", "thinning", "method", "wait")
    seldom_words = "Additives, side, dry film, thinning, method, wait after it"
    field_order = ("order", "kind", "coating")

    layer = forms.CharField(required=False, widget=forms.HiddenInput)
    order = NumberField(label="No.", required=False, min_value=-1000, max_value=1000)
    additives = AdditiveChoice(
        Additive.objects.all(),
        label="Stirred in",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="For this layer alone: how damp and hot it may be, how long it dries, what is bought.",
    )

    class Meta:
        model = Layer
        fields = VALUES
        labels = {"wait": "Wait after it", "kind": "What", "dry_film": "Dry film", "minutes": "Time"}
        error_messages = {"kind": {"required": "Say what is done, or empty the row."}}

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, workshop=workshop, **kwargs)
        # a tin no longer used stays where it is in use
        offered = Coating.objects.of(workshop).filter(Q(retired=False) | Q(layers__isnull=False))
        self.offer_rows("coating", offered.distinct().order_by("from_library", "name"), none="–")
        self._offer_additives(Additive.objects.of(workshop).filter(coating__in=offered))
        self.offer_choices("kind", [("", "–"), *Layer.Kind.choices])
        for name in ("dry_film", "thinning"):
            self.fields[name].help_text = ""

    def _offer_additives(self, additives: QuerySet[Additive]) -> None:
        """A layer that is there is shown those of its coating; a new one may still get any coating."""
        standing, coating = self.initial.get("layer"), self.initial.get("coating")
        if standing and not self.is_bound:
            additives = additives.filter(coating=coating)
        if additives.exists():
            self.offer_rows("additives", additives.select_related("coating").order_by("coating__name", "name"))
        else:
            del self.fields["additives"]

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if given.get("coating") and given.get("kind") not in (None, Layer.Kind.COAT):
            self.add_error("coating", "Only a coat has a coating; empty one of the two.")
        for additive in given.get("additives") or ():
            if additive.coating != given.get("coating"):
                self.add_error("additives", f"{additive} is for {additive.coating}, not for this layer's coating.")
        return given


class LayerRows(Rows):
    title = "Layers"
    about = (
        "In the order of their numbers. Empty what and coating to take a layer out."
        " Dry film and thinner left empty are those of the coating's sheet."
    )

    def clean(self) -> None:
        if self.all_right and not any(row.cleaned_data["kind"] == Layer.Kind.COAT for row in self.filled):
            raise forms.ValidationError("A system needs at least one coat.")

    @property
    def in_order(self) -> list[LayerWanted]:
        """Rows without a number follow the others."""
        ordered = sorted(
            self.filled, key=lambda row: (row.cleaned_data["order"] is None, row.cleaned_data["order"] or 0)
        )
        return [
            LayerWanted(row.instance, row.cleaned_data.get("additives") or (), as_uuid(row.cleaned_data["layer"]))
            for row in ordered
        ]


LAYER_ROWS = rows_of(LayerRow, LayerRows, extra=6)
