"""What science refuses about rig and medium, in the units that a workshop reads."""

from finishing.science.blasting import Refused
from finishing.science.units import Quantity
from finishing.site.fields import convert, printed_unit, shown_unit, tidy


def refusal_words(refused: Refused, measures: str) -> str:
    return refused.words.format(*(_in_units(quantity, measures) for quantity in refused.quantities))


def _in_units(quantity: Quantity, measures: str) -> str:
    kept = f"{quantity.units:~P}"
    shown = shown_unit(kept, measures)
    return f"{tidy(convert(quantity.magnitude, kept, shown), 3)} {printed_unit(shown)}"
