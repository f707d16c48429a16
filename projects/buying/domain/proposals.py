"""What a line of an order would cost, from a quote that stands; it is proposed, and agreed by hand."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q

from projects.money.breaks import order_working
from projects.money.rounding import cents
from projects.record.models.designs import Revision
from projects.record.models.quotes import Quote
from projects.record.models.routes import Operation
from projects.record.models.suppliers import Supplier

from .comparison import tooling_paid
from .offers import price_list


class NoPrice(ValueError):
    """Nothing can be proposed; why, in the user's words."""


@dataclass(frozen=True)
class Proposal:
    """Money in the supplier's currency, without tax."""

    quote: Quote
    pieces: Decimal
    setup: Decimal
    tooling: Decimal
    advice: str  # what else might be ordered


def proposal(supplier: Supplier, operation: Operation, revision: Revision | None, quantity: int, day: date) -> Proposal:
    """By the supplier's latest quote for it that stands on the day; tooling only until it went with an order."""
    quote = _standing_quote(supplier, operation, revision, day)
    return asked_by(quote, quantity, (supplier.pk, operation.pk) in tooling_paid(operation.design))


def asked_by(quote: Quote, quantity: int, tooling_paid: bool) -> Proposal:
    """What this quote asks for so many."""
    try:
        prices = price_list(quote, Decimal(1))
    except ValueError as wrong:
        raise NoPrice(f"{wrong} Type what was agreed.") from wrong
    return Proposal(
        quote,
        cents(prices.cost(quantity) - prices.setup),
        cents(prices.setup),
        Decimal(0) if tooling_paid else cents(prices.tooling),
        order_working(prices, quantity, quote.supplier.money_in).note,
    )


def _standing_quote(supplier: Supplier, operation: Operation, revision: Revision | None, day: date) -> Quote:
    quotes = supplier.quotes.standing(day).with_prices().filter(operation=operation).order_by("-quoted_on")
    quote = quotes.filter(Q(revision=None) | Q(revision=revision)).first()
    if quote:
        return quote
    other = quotes.first()
    if other:
        raise NoPrice(f"Their quote is for {other.revision}, not for this revision. Type what was agreed.")
    raise NoPrice(f"No quote of {supplier} stands for this. Type what was agreed.")
