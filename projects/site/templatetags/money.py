"""Sums of money as text: thousands apart, cents always."""

from decimal import ROUND_HALF_UP, Decimal

from django import template

from finishing.science.working import true_minus

register = template.Library()

THIN = "\u202f"  # thousands are set apart by a narrow blank, as ISO 80000-1 has it


@register.filter
def money(amount: Decimal | float | None) -> str:
    """To the cent, without its currency; – where there is none."""
    if amount is None:
        return "–"
    cents = Decimal(amount).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return true_minus(f"{cents:,.2f}".replace(",", THIN))


@register.filter
def unit_price(amount: Decimal | float | None) -> str:
    """The price of one, to the cent or as finely as it was given."""
    if amount is None:
        return "–"
    exact = Decimal(amount)
    finer = exact != exact.quantize(Decimal("0.01"))
    return true_minus(f"{exact.normalize():,f}".replace(",", THIN)) if finer else money(exact)


@register.filter
def as_percent(share: Decimal) -> str:
    """A share of one in percent, without idle zeros."""
    return true_minus(f"{(100 * Decimal(share)).normalize():f} %")
