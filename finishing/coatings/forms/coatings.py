"""The data sheet of a tin as a form: its values, and its tables as rows."""

from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Any

from django import forms

from finishing.coatings.models import Additive, Coating, DryingPoint, TinSize
from finishing.science import drying
from finishing.site.fields import QuantityFormField
from finishing.workshops.forms.base import DataSheetForm, as_uuid
from finishing.workshops.forms.fields import NumberField, PriceField
from finishing.workshops.forms.rows import ModelRow, PlainRow, Rows, rows_of
from finishing.workshops.models import Workshop

from .colours import ColourField, offer_colours

NOT_TYPED = {"basis", "cautions", "pot_life", "workshop"}


class CoatingForm(DataSheetForm):
    class Meta:
        model = Coating
        exclude = NOT_TYPED
        field_classes = {"mix_base": NumberField, "mix_hardener": NumberField, "colour": ColourField}
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
        labels = {"retired": "No longer used"}
        help_texts = {
            "name": "As it stands on the tin.",
            "volume_solids": "By volume; the sheet may call it solids by volume or VS.",
            "dry_film": "As the sheet recommends, and for which its drying times hold.",
            "thinning": "For the method mostly used here.",
            "oxidising": "Oil and alkyd enamels do: they may have a closed zone.",
            "needs_dry_air": "Waterborne paints.",
            "induction": "How long the sheet lets the mix stand before the first stroke.",
            "letters_after": "From the last coat on, at 20 °C.",
            "keeps_opened": "With its lid pressed home; “6 months” is understood. The shorter of base and hardener.",
            "sheet_humidity": "At which the drying times were taken.",
        }

    SECTIONS = (
        (
            "The tin",
            (
                "name",
                "generic_type",
                "is_primer",
                "self_priming",
                "two_pack",
                "oxidising",
                "needs_dry_air",
                "poisonous_pigment",
            ),
        ),
        ("Colour", ("colour", "colour_name")),
        ("Film", ("volume_solids", "dry_film", "density")),
        ("Thinner", ("thinner", "thinning", "thinning_max")),
        ("Mixing a two-pack", ("mix_base", "mix_hardener", "induction")),
        (
            "Air and metal",
            ("temperature_min", "temperature_max", "humidity_max", "humidity_min", "margin", "flash_rust_allowed"),
        ),
        ("Waiting", ("letters_after", "tape_after", "sheet_humidity")),
        ("In store", ("keeps_opened",)),
        ("Note", ("note", "source", "retired")),
    )
    SELDOM = frozenset({"Thinner", "Mixing a two-pack", "Waiting", "In store"})

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, workshop: Workshop, instance: Coating | None = None
    ) -> None:
        super().__init__(data, workshop=workshop, instance=instance)
        offer_colours(self)
        self.fields["source"].initial = "the tin's data sheet"
        self.tables = {
            name: rows(data, workshop=workshop, prefix=prefix, begin=_as_kept(instance, name))
            for name, (prefix, rows) in TABLES.items()
        }
        pairs = instance.pot_life if instance else []
        begin = [{"temperature": at, "minutes": minutes} for at, minutes in pairs]
        self.pot_life = POT_LIFE_ROWS(data, workshop=workshop, prefix="pot_life", begin=begin)

    def small_tables(self) -> Iterable[forms.BaseFormSet[Any]]:
        return [self.pot_life, *self.tables.values()]

    def is_valid(self) -> bool:
        """The sheet and its tables are right only together."""
        return all([super().is_valid(), self.pot_life.is_valid(), *(rows.is_valid() for rows in self.tables.values())])


def _as_kept(coating: Coating | None, table: str) -> list[dict[str, Any]]:
    return (
        [{**forms.model_to_dict(row), "additive": row.pk} for row in getattr(coating, table).all()] if coating else []
    )


class DryingRow(ModelRow):
    seldom = ("dew_safe", "closed_from", "closed_until")
    seldom_words = "Dew and rain, closed zone"

    class Meta:
        model = DryingPoint
        exclude = ["workshop", "coating"]


class DryingRows(Rows):
    title = "Drying table"
    about = (
        "One row for each temperature of the sheet, from cold to hot."
        " Leave empty what the sheet does not say; a closed zone has both of its ends."
        " “Bears dew and rain” only where the sheet says it; else lacquers bear them touch-dry, all others when they"
        " may be handled."
    )

    def clean(self) -> None:
        """What cannot be right in the table is told at its row and column."""
        if not self.all_right or not self.filled:
            return
        points = [row.instance.value() for row in self.filled]
        for error in drying.errors(points):
            row = self.filled[error.row]
            number, label = self.forms.index(row) + 1, row.fields[error.column].label
            row.add_error(error.column, f"Row {number}, {label}: {error.message}.")


class TinRow(ModelRow):
    class Meta:
        model = TinSize
        fields = ["litres", "price"]
        field_classes = {"price": PriceField}


class TinRows(Rows):
    title = "Tins on offer"
    seldom = True
    about = "Size and price, for the paint list. For a two-pack the size that one kit makes."

    def clean(self) -> None:
        seen: set[float] = set()
        for row in self.filled if self.all_right else ():
            size = round(row.cleaned_data["litres"].magnitude, 6)
            if size in seen:
                row.add_error("litres", "This size stands in a row above.")
            seen.add(size)


class AdditiveRow(ModelRow):
    """`additive` is the one that stood here before, so that layers which have it stirred in keep it."""

    telling = ("name", "dose")

    additive = forms.CharField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = Additive
        fields = ["name", "dose", "slower", "humidity_max", "temperature_max", "price"]
        field_classes = {"slower": NumberField, "price": PriceField}

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        self.instance.pk = as_uuid(given.get("additive")) or self.instance.pk
        return given


class AdditiveRows(Rows):
    title = "Additives"
    seldom = True
    about = (
        "What may be stirred in for brushing: a retarder, a flow additive. A layer of a system says that it is:"
        " limits of its own then stand in place of the sheet's."
    )


class PotLifeRow(PlainRow):
    temperature = QuantityFormField(label="At", unit="°C", minimum=-10, maximum=60)
    minutes = QuantityFormField(label="Pot life", unit="min", minimum=1, maximum=10_000)


class PotLifeRows(Rows):
    title = "Pot life"
    seldom = True
    about = "As the sheet gives it, from cold to hot."

    def clean(self) -> None:
        """A warmer mix does not live longer."""
        if not self.all_right:
            return
        given_in = [dict(row.cleaned_data) for row in self.filled]  # a row told its error forgets what was typed
        for row, (colder, given) in zip(self.filled[1:], pairwise(given_in), strict=True):
            if given["temperature"] <= colder["temperature"]:
                row.add_error("temperature", "Rows go from cold to hot, each warmer than the one above.")
            elif given["minutes"] > colder["minutes"]:
                row.add_error("minutes", "Longer than in a colder row: a warm mix goes off sooner.")

    @property
    def pairs(self) -> list[list[float]]:
        """As the coating keeps them: °C and minutes."""
        names = ("temperature", "minutes")
        return [[round(row.cleaned_data[name].magnitude, 6) for name in names] for row in self.filled]


# by the coating's own name for them: the prefix of a table's boxes, and its rows
TABLES = {
    "drying_points": ("drying", rows_of(DryingRow, DryingRows, extra=4)),
    "tin_sizes": ("tins", rows_of(TinRow, TinRows)),
    "additives": ("additives", rows_of(AdditiveRow, AdditiveRows, extra=2)),
}
POT_LIFE_ROWS = rows_of(PotLifeRow, PotLifeRows)
