"""Quantity → text; the only place. A page shows the workshop's own units."""

from django import template
from django.template import Context

from finishing.science.units import Quantity
from finishing.science.working import true_minus
from finishing.site.fields import COLUMN_UNITS, METRIC, convert, pint_unit, printed_unit, shown_unit, tidy

register = template.Library()
register.filter(true_minus)

# pint's long names → the spelling of the columns, so that a quantity finds the unit a US workshop reads
_KEPT = {str(f"{Quantity(1, pint_unit(unit)).units:D}"): unit for unit in COLUMN_UNITS}


DEGREES = ("°C", "delta°C")  # shown to a tenth: no thermometer in a yard says more


@register.simple_tag(takes_context=True)
def quantity(context: Context, value: Quantity | float | None, digits: int = 3, unit: str = "") -> str:
    """{% quantity piece.area %} → "1.4 m²", or square feet in a US workshop; unknown is a dash."""
    return told_quantity(value, measures_of(context), digits, unit)


def told_quantity(value: Quantity | float | None, measures: str, digits: int = 3, unit: str = "") -> str:
    """The same outside a page."""
    if value is None or isinstance(value, str):  # a template's word for nothing; a Quantity is not compared with it
        return "–"
    if isinstance(value, Quantity):
        kept = unit or _KEPT.get(f"{value.units:D}", "")
        if not kept and not value.dimensionless:
            return true_minus(f"{value:.{digits}g~P}")  # a unit that no column is kept in
        number = float(value.to(pint_unit(kept)).magnitude)
    else:
        kept, number = unit, float(value)
    shown = shown_unit(kept, measures)
    converted = convert(number, kept, shown)
    text = tidy(round(converted, 1), 4) if kept in DEGREES else tidy(converted, digits)
    return true_minus(f"{text} {printed_unit(shown)}".strip())


@register.simple_tag(takes_context=True)
def volume(context: Context, litres: Quantity | None) -> str:
    """{% volume need.thinner %} → "1.5 L", and what is less than one in millilitres."""
    return told_volume(litres, measures_of(context))


def told_volume(litres: Quantity | None, measures: str) -> str:
    """The same outside a page."""
    small = litres is not None and litres.magnitude < 1
    return told_quantity(litres, measures, 2, "mL") if small else told_quantity(litres, measures)


@register.simple_tag(takes_context=True)
def between(context: Context, low: Quantity, high: Quantity, digits: int = 3, unit: str = "") -> str:
    """{% between medium.profile_low medium.profile_high %} → "40 to 65 µm", its unit once."""
    first, last = (quantity(context, value, digits, unit) for value in (low, high))
    if first == last:
        return last
    number, _, its_unit = first.partition(" ")
    return f"{number if last.endswith(its_unit) else first} to {last}"


def measures_of(context: Context) -> str:
    """As the page says, else as the workshop reads them."""
    if "measures" in context:
        return str(context["measures"])
    workshop = getattr(context.get("request"), "workshop", None)
    return str(workshop.units) if workshop else METRIC
