"""QuantityField: "75 µm" in a form ⇄ a number in the column's own unit ⇄ a Quantity on the model, made when asked for.

A number without a unit is taken in the unit the form shows beside it. Number and unit are read apart, the number by
`numbers`, the unit from a list, before pint sees either: pint computes what it parses.
"""

import math
import re
from functools import cache
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.query_utils import DeferredAttribute

from finishing.science.units import Quantity, units
from finishing.science.working import true_minus

from .numbers import NoNumber, read_number

# what people write → what pint understands
SPELLINGS = {
    "µm": "um", "μm": "um", "um": "um", "micron": "um", "microns": "um", "mil": "thou", "mils": "thou", "thou": "thou",
    "mm": "mm", "cm": "cm", "m": "m", "in": "inch", "inch": "inch", '"': "inch", "ft": "ft", "feet": "ft",
    "mm²": "mm**2", "cm²": "cm**2", "m²": "m**2", "m2": "m**2", "sqm": "m**2", "ft²": "ft**2", "ft2": "ft**2",
    "sqft": "ft**2", "l": "liter", "L": "liter", "litre": "liter", "litres": "liter", "liter": "liter", "ml": "ml",
    "mL": "ml", "kg": "kg", "g": "g",
    "lb": "lb", "lbs": "lb", "oz": "oz", "kg/l": "kg/l", "kg/L": "kg/l", "g/ml": "g/ml", "lb/gal": "lb/gallon",
    "°C": "degC", "C": "degC", "°F": "degF", "F": "degF", "K": "kelvin", "%": "percent", "h": "hour", "hr": "hour",
    "hours": "hour", "min": "minute", "minutes": "minute", "d": "day", "days": "day", "day": "day",
    "week": "week", "weeks": "week", "month": "month", "months": "month", "year": "year", "years": "year", "m/s": "m/s",
    "km/h": "km/hour", "mph": "mile/hour", "bar": "bar", "psi": "psi", "min/m²": "minute/m**2",
    "min/m2": "minute/m**2", "min/ft²": "minute/ft**2", "delta°C": "delta_degC", "delta°F": "delta_degF", "": "",
    "kg/m³": "kg/m**3", "kg/m3": "kg/m**3", "lb/ft³": "lb/ft**3", "lb/ft3": "lb/ft**3", "m³": "m**3", "m3": "m**3",
    "ft³": "ft**3", "ft3": "ft**3", "m³/min": "m**3/minute", "m3/min": "m**3/minute", "cfm": "ft**3/minute",
    "L/min": "liter/minute", "l/min": "liter/minute", "kg/m²": "kg/m**2", "kg/m2": "kg/m**2", "lb/ft²": "lb/ft**2",
    "lb/ft2": "lb/ft**2", "kg/h": "kg/hour", "lb/h": "lb/hour", "m²/h": "m**2/hour", "m2/h": "m**2/hour",
    "ft²/h": "ft**2/hour", "ft2/h": "ft**2/hour", "inches": "inch", "″": "inch", "”": "inch", "''": "inch",
    "foot": "ft", "'": "ft", "′": "ft", "’": "ft", "millimetres": "mm", "metres": "m", "metre": "m", "pounds": "lb",
    "pound": "lb", "kilos": "kg", "kilo": "kg", "grams": "g", "ounces": "oz",
    "hour": "hour", "hrs": "hour", "mins": "minute", "minute": "minute",
    "celsius": "degC", "centigrade": "degC", "fahrenheit": "degF", "percent": "percent", "bars": "bar",
    "kph": "km/hour", "kmh": "km/hour",
}  # fmt: skip
LIQUIDS = {
    "gal": "gallon", "gallon": "gallon", "gallons": "gallon", "qt": "quart", "quart": "quart", "quarts": "quart",
    "pt": "pint", "pint": "pint", "pints": "pint", "floz": "fluid_ounce", "fl oz": "fluid_ounce",
}  # fmt: skip
# a gallon is 231 cubic inches in the United States, 4.54609 L in Britain: whose is said before it, or by the box
SPELLINGS |= LIQUIDS
SPELLINGS |= {f"US {spelling}": unit for spelling, unit in LIQUIDS.items()}
SPELLINGS |= {
    f"{whose} {spelling}": f"imperial_{unit}"
    for whose in ("imp", "imperial", "UK")
    for spelling, unit in LIQUIDS.items()
}
SPELLINGS |= {"lb/US gal": "lb/gallon", "lb/imp gal": "lb/imperial_gallon"}
EITHER = {*LIQUIDS, "lb/gal"}  # spellings that name no country
# 35 PSI; no two of them differ by case alone
_FOLDED = {spelling.replace(" ", "").casefold(): spelling for spelling in SPELLINGS}

METRIC, US, IMPERIAL = "metric", "us", "imperial"
# by the measures that a workshop reads, the unit that it is shown for a column kept in the first
US_UNITS = {
    "µm": "mil", "mm": "in", "m": "ft", "m²": "ft²", "L": "gal", "mL": "floz", "kg": "lb", "°C": "°F",
    "delta°C": "delta°F", "kg/L": "lb/gal", "m/s": "mph", "bar": "psi", "min/m²": "min/ft²", "kg/h": "lb/h",
    "kg/m³": "lb/ft³", "m³": "ft³", "m³/min": "cfm", "kg/m²": "lb/ft²", "m²/h": "ft²/h",
}  # fmt: skip
SHOWN_UNITS: dict[str, dict[str, str]] = {
    METRIC: {},
    US: US_UNITS,
    IMPERIAL: US_UNITS
    | {"µm": "thou", "L": "imp gal", "mL": "imp floz", "kg/L": "lb/imp gal", "°C": "°C", "delta°C": "delta°C"},
}

COLUMN_UNITS = (
    "µm", "mm", "m", "m²", "mL", "L", "kg", "kg/L", "°C", "delta°C", "%", "h", "min", "min/m²", "m/s", "bar", "",
    "kg/m³", "m³", "m³/min", "kg/m²", "kg/h", "m²/h", "d",
)  # fmt: skip


@cache
def pint_unit(spelling: str) -> Any:
    """The unit that a person writes as `spelling`, read by pint once: a page has hundreds of quantities."""
    return units.Unit(SPELLINGS[spelling])


def shown_unit(unit: str, measures: str) -> str:
    """The unit a workshop sees for a column kept in `unit`. measures: METRIC, US or IMPERIAL"""
    return SHOWN_UNITS[measures].get(unit, unit)


def printed_unit(unit: str) -> str:
    """A unit as it stands behind a number: a difference of temperature reads like a temperature."""
    return unit.removeprefix("delta")


def convert(value: float, unit: str, to: str) -> float:
    """A number in `unit` as it is in another unit, both as people spell them."""
    if unit == to:
        return value
    return float(Quantity(value, pint_unit(unit)).to(pint_unit(to)).magnitude)


def read_quantity(text: str, unit: str, assumed: str, comma_is_point: bool | None = None) -> float:
    """The number in `unit` that a person typed as `text`; a bare number is in `assumed`.

    comma_is_point: see `numbers.read_number`

    >>> read_quantity("3 mil", "µm", "µm")
    76.2
    >>> read_quantity("2¼ in", "mm", "mm")
    57.15
    """
    try:
        typed, behind = read_number(text, comma_is_point)
    except NoNumber:
        words = f"Give a number, for example {f'12.5 {printed_unit(assumed)}'.strip()}."
        raise ValidationError(f"“{text.strip()}” is not understood. {words}" if text.strip() else words) from None
    number, spelling = float(typed), _spelling_of(behind)
    if not spelling:
        spelling = assumed
    elif spelling in EITHER:
        spelling = _whose(spelling, assumed)
    elif unit.startswith("delta"):
        spelling = "delta" + (spelling if spelling.startswith("°") else "°" + spelling)
    if not spelling:
        return number
    if spelling not in SPELLINGS:
        raise ValidationError(
            f"“{printed_unit(spelling)}” is not a unit known here; use {printed_unit(assumed) or 'a bare number'}."
        )
    return _in_unit(number, spelling, unit)


def _spelling_of(behind: str) -> str:
    """A unit as the list spells it: "PSI" is "psi", "sq. ft" "sqft", "deg C" "°C"; what is not listed stays."""
    close = re.sub(r"\s|(?<=[a-z])\.", "", behind).replace("^2", "²").replace("^3", "³")
    close = re.sub(r"^(degrees?|deg|º)(?=[CFcf])", "°", close)
    spelling = close if close in SPELLINGS else _FOLDED.get(close.casefold(), close)
    return {"degC": "°C", "degF": "°F"}.get(SPELLINGS.get(spelling, ""), spelling)


def _whose(spelling: str, assumed: str) -> str:
    """A gallon as the box has it; where the box is in litres it is asked."""
    if assumed.startswith("imp") or assumed == "lb/imp gal":
        return spelling.replace("lb/", "lb/imp ") if spelling.startswith("lb/") else f"imp {spelling}"
    if assumed in ("gal", "floz", "lb/gal"):
        return spelling
    raise ValidationError(
        f"“{spelling}” is one thing in the United States and a fifth more in Britain: write “US” or “imp” before it."
    )


def _in_unit(number: float, spelling: str, unit: str) -> float:
    if not unit:
        raise ValidationError("This is a bare number, without a unit.")
    if not Quantity(1, pint_unit(spelling)).check(units.get_dimensionality(pint_unit(unit))):
        raise ValidationError(f"“{printed_unit(spelling)}” measures something else; use {printed_unit(unit)}.")
    return round(convert(number, spelling, unit), 10)


def tidy(number: float, digits: int = 4) -> str:
    """A number as a person writes it: no needless zeros, no exponent."""
    if number == 0 or not math.isfinite(number):
        return "0" if number == 0 else ""
    decimals = min(12, max(0, digits - 1 - math.floor(math.log10(abs(number)))))
    text = f"{number:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


class QuantityFormField(forms.CharField):
    """Text like "75 µm", "3 mil" or "75"; gives a Quantity in the column's unit."""

    def __init__(
        self,
        *,
        unit: str,
        measures: str = METRIC,
        minimum: float | None = None,
        maximum: float | None = None,
        **kwargs: Any,
    ):
        self.unit, self.minimum, self.maximum = unit, minimum, maximum
        self.measures = measures
        self.comma_is_point: bool | None = None
        kwargs.pop("max_length", None)
        super().__init__(max_length=40, **kwargs)
        self.widget.attrs.setdefault("inputmode", "decimal")

    @property
    def assumed(self) -> str:
        return shown_unit(self.unit, self.measures)

    @property
    def printed(self) -> str:
        """The unit beside the box."""
        return printed_unit(self.assumed)

    def prepare_value(self, value: Quantity | float | str | None) -> str | None:
        if value is None or isinstance(value, str):
            return value
        number = value.to(pint_unit(self.unit)).magnitude if isinstance(value, Quantity) else float(value)
        return tidy(convert(number, self.unit, self.assumed) if self.unit else number, 6)

    def has_changed(self, initial: Quantity | float | str | None, data: str | None) -> bool:
        """Whether something else stands in the box than was written into it."""
        return str(self.prepare_value(initial) or "") != str(data or "").strip()

    def clean(self, value: str | None) -> Quantity | None:
        text = super().clean(value)
        if text in self.empty_values:
            return None
        number = read_quantity(text, self.unit, self.assumed, self.comma_is_point)
        self._check_range(number)
        return Quantity(number, pint_unit(self.unit))

    def _check_range(self, number: float) -> None:
        low, high = self.minimum, self.maximum
        if low is not None and high is not None and not low <= number <= high:
            raise ValidationError(f"Must lie between {self._shown(low)} and {self._shown(high)}.")
        if low is not None and number < low:
            raise ValidationError(f"Must be {self._shown(low)} or more.")
        if high is not None and number > high:
            raise ValidationError(f"Must be {self._shown(high)} or less.")

    def _shown(self, number: float) -> str:
        shown = convert(number, self.unit, self.assumed) if self.unit else number
        return true_minus(f"{tidy(shown)} {self.printed}".strip())


class QuantityAttribute(DeferredAttribute):
    """Keeps what the column holds as a number until somebody asks for it: a page reads thousands and looks at a few."""

    field: "QuantityField"

    def __set__(self, row: models.Model, value: Any) -> None:
        row.__dict__[self.field.attname] = value

    def __get__(self, row: models.Model | None, owner: type[models.Model] | None = None) -> Any:
        value = super().__get__(row, owner)
        if row is None or not isinstance(value, float | int):
            return value
        quantity = row.__dict__[self.field.attname] = Quantity(value, pint_unit(self.field.unit))
        return quantity


def number(row: models.Model, column: str) -> float | None:
    """What a QuantityField holds, in the column's own unit; where nobody asked for the Quantity yet, none is made.

    For sums that take many rows; a page that shows a value asks for the Quantity.
    """
    kept = vars(row).get(column)
    if isinstance(kept, float | int):
        return kept
    quantity = getattr(row, column)
    field = row._meta.get_field(column)
    assert isinstance(field, QuantityField)
    return None if quantity is None else float(quantity.to(pint_unit(field.unit)).magnitude)


def columns_of(row: models.Model) -> str:
    """All that a row keeps, as text to be compared: another one as soon as one value is."""
    kept = (vars(row).get(field.attname) for field in row._meta.concrete_fields)
    return repr([getattr(value, "magnitude", value) for value in kept])


class QuantityField(models.FloatField):
    """A number column in a stated unit; a Quantity on the model, a number in `values` and sums."""

    descriptor_class = QuantityAttribute
    _pyi_private_set_type: Quantity | float  # what django-stubs reads of a field
    _pyi_private_get_type: Quantity

    def __init__(
        self,
        *args: Any,
        unit: str = "",
        minimum: float | None = None,
        maximum: float | None = None,
        **kwargs: Any,
    ):
        self.unit, self.minimum, self.maximum = unit, minimum, maximum
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        kwargs["unit"] = self.unit
        return name, path, args, kwargs

    def to_python(self, value: Any) -> Quantity | None:
        if value is None or isinstance(value, Quantity):
            return value
        return Quantity(super().to_python(value), pint_unit(self.unit))

    def get_prep_value(self, value: Any) -> Any:
        if isinstance(value, Quantity):
            value = value.to(pint_unit(self.unit)).magnitude
        return super().get_prep_value(value)

    def formfield(self, **kwargs: Any) -> Any:
        defaults = {
            "form_class": QuantityFormField,
            "unit": self.unit,
            "minimum": self.minimum,
            "maximum": self.maximum,
        }
        return super().formfield(**{**defaults, **kwargs})

    def value_to_string(self, obj: models.Model) -> str:
        value = self.value_from_object(obj)
        return "" if value is None else str(self.get_prep_value(value))
