"""The data sheet of a tin as a form: its values, and its tables as rows."""

from typing import Any

from django import forms

from finishing.coatings.models import Additive, Coating, DryingPoint, GenericType, TinSize
from finishing.science import drying
from finishing.site.fields import QuantityFormField
from finishing.workshops.forms.rows import ModelRow, NumberField, PlainRow, PriceField, Rows, rows_of
from finishing.workshops.forms.sheets import SheetForm
from finishing.workshops.models import Workshop

NOT_TYPED = {"basis", "cautions", "pot_life", "workshop"}


class CoatingForm(SheetForm):
    class Meta:
        model = Coating
        exclude = NOT_TYPED
        field_classes = {"mix_base": NumberField, "mix_hardener": NumberField}
        widgets = {
            "note": forms.Textarea(attrs={"rows": 3}),
            "colour": forms.TextInput(attrs={"placeholder": "#2f5d3a", "spellcheck": "false"}),
        }
        labels = {"retired": "No longer used"}
        help_texts = {
            "name": "As it stands on the tin.",
            "colour": "# and six digits, or pick it.",
            "volume_solids": "By volume; the sheet may call it solids by volume or VS.",
            "dry_film": "As the sheet recommends, and for which its drying times hold.",
            "thinning": "For the method mostly used here.",
            "oxidising": "Oil and alkyd enamels do: they may have a closed zone.",
            "needs_dry_air": "Waterborne paints.",
            "letters_after": "From the last coat on, at 20 °C.",
            "sheet_humidity": "At which the drying times were taken.",
        }

    SECTIONS = (
        ("The tin", ("name", "generic_type", "is_primer", "self_priming", "two_pack", "oxidising", "needs_dry_air")),
        ("Colour", ("colour", "colour_name")),
        ("Film", ("volume_solids", "dry_film", "density")),
        ("Thinner", ("thinner", "thinning", "thinning_max")),
        ("Mixing a two-pack", ("mix_base", "mix_hardener")),
        ("Air and metal", ("temperature_min", "temperature_max", "humidity_max", "humidity_min", "margin")),
        ("Waiting", ("letters_after", "tape_after", "sheet_humidity")),
        ("Note", ("note", "source", "retired")),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["generic_type"].choices = [("", "choose"), *GenericType.choices]
        self.fields["source"].initial = "the tin's data sheet"


class DryingRow(ModelRow):
    class Meta:
        model = DryingPoint
        exclude = ["workshop", "coating"]


class DryingRows(Rows):
    def clean(self) -> None:
        """What cannot be right in the table is told at its row and column."""
        if not self.all_right or not self.filled:
            return
        points = [row.instance.value() for row in self.filled]
        for error in drying.errors(points):
            self._tell(self.filled[error.row], error)

    def _tell(self, row: DryingRow, error: drying.TableError) -> None:
        number, column = self.forms.index(row) + 1, row.fields[error.column].label
        row.add_error(error.column, f"Row {number}, {column}: {error.message}.")


class TinRow(ModelRow):
    class Meta:
        model = TinSize
        fields = ["litres", "price"]
        field_classes = {"price": PriceField}


class TinRows(Rows):
    def clean(self) -> None:
        seen: set[float] = set()
        for row in self.filled if self.all_right else ():
            size = round(row.cleaned_data["litres"].magnitude, 6)
            if size in seen:
                row.add_error("litres", "This size stands in a row above.")
            seen.add(size)


class AdditiveRow(ModelRow):
    telling = ("name", "dose")

    class Meta:
        model = Additive
        fields = ["name", "dose", "slower", "used"]
        field_classes = {"slower": NumberField}


class PotLifeRow(PlainRow):
    temperature = QuantityFormField(label="At", unit="°C", minimum=-10, maximum=60)
    minutes = QuantityFormField(label="Pot life", unit="min", minimum=1, maximum=10_000)


class PotLifeRows(Rows):
    def clean(self) -> None:
        """A warmer mix does not live longer."""
        for row, above in zip(self.filled[1:], self.filled, strict=False) if self.all_right else ():
            given, colder = row.cleaned_data, above.cleaned_data
            if given["temperature"] <= colder["temperature"]:
                row.add_error("temperature", "Rows go from cold to hot, each warmer than the one above.")
            elif given["minutes"] > colder["minutes"]:
                row.add_error("minutes", "Longer than in a colder row: a warm mix goes off sooner.")

    @property
    def pairs(self) -> list[list[float]]:
        """As the coating keeps them: °C and minutes."""
        return [
            [round(row.cleaned_data[name].magnitude, 6) for name in ("temperature", "minutes")] for row in self.filled
        ]


class Sheet:
    """A whole data sheet: the form and its four small tables, right only together."""

    def __init__(self, data: Any = None, *, workshop: Workshop, coating: Coating | None = None) -> None:
        self.form = CoatingForm(data, workshop=workshop, instance=coating)
        begin = _rows_begin(coating)
        make = {"drying": DRYING_ROWS, "tins": TIN_ROWS, "additives": ADDITIVE_ROWS, "pot_life": POT_LIFE_ROWS}
        self.rows = {name: rows(data, workshop=workshop, prefix=name, begin=begin[name]) for name, rows in make.items()}

    def is_valid(self) -> bool:
        return all([self.form.is_valid(), *(rows.is_valid() for rows in self.rows.values())])

    @property
    def kept_rows(self) -> dict[str, list[Any]]:
        """By the coating's own name for them."""
        names = {"drying_points": "drying", "tin_sizes": "tins", "additives": "additives"}
        return {name: [row.instance for row in self.rows[rows].filled] for name, rows in names.items()}


DRYING_ROWS = rows_of(DryingRow, DryingRows, extra=4)
TIN_ROWS = rows_of(TinRow, TinRows)
ADDITIVE_ROWS = rows_of(AdditiveRow, extra=2)
POT_LIFE_ROWS = rows_of(PotLifeRow, PotLifeRows)


def _rows_begin(coating: Coating | None) -> dict[str, list[dict[str, Any]]]:
    if coating is None:
        return {"drying": [], "tins": [], "additives": [], "pot_life": []}
    pairs = [{"temperature": at, "minutes": minutes} for at, minutes in coating.pot_life]
    return {
        "drying": [forms.model_to_dict(point) for point in coating.drying_points.all()],
        "tins": [forms.model_to_dict(tin) for tin in coating.tin_sizes.all()],
        "additives": [forms.model_to_dict(additive) for additive in coating.additives.all()],
        "pot_life": pairs,
    }
