"""Quotes as price lists in the workshop's own currency, so that they can be held against each other."""

from decimal import Decimal

from finishing.workshops.models import Workshop
from projects.money.breaks import Break, Counting, PriceList
from projects.record.models.quotes import Quote
from projects.record.models.suppliers import ExchangeRate


class NoRate(ValueError):
    """A currency of which nobody has said what it costs; it is never taken for our own."""

    def __init__(self, currency: str) -> None:
        super().__init__(f"There is no exchange rate for {currency} yet.")
        self.currency = currency


class NoWeight(ValueError):
    """Priced per kg, and nobody has said what the part weighs."""


def rates_of(workshop: Workshop) -> dict[str, Decimal]:
    """The latest rate of every currency that has one, and the workshop's own at one."""
    noted = ExchangeRate.objects.of(workshop).order_by("noted_on").values_list("currency", "rate")
    return {**dict(noted), workshop.currency: Decimal(1)}


def rate_in(rates: dict[str, Decimal], currency: str) -> Decimal:
    """What one unit of a currency costs in the workshop's own; NoRate where nobody has said so."""
    if currency not in rates:
        raise NoRate(currency)
    return rates[currency]


def price_list(quote: Quote, rate: Decimal) -> PriceList:
    """What is offered, at this rate and for one piece; a price per kg becomes one for the part's own weight."""
    factor = rate * _weight(quote)
    return PriceList(
        tuple(Break(step.from_quantity, step.price * factor) for step in quote.breaks.all()),
        counting=Counting(quote.counting),
        minimum=quote.minimum_quantity,
        setup=quote.setup * rate,
        tooling=quote.tooling * rate,
    )


def _weight(quote: Quote) -> Decimal:
    """Kilograms that a price is multiplied by."""
    if quote.price_by != Quote.PriceBy.KILOGRAM:
        return Decimal(1)
    weight = quote.operation.part.kilograms if quote.operation.part else None
    if weight is None:
        raise NoWeight("Priced per kg, and the part has no weight yet.")
    return weight
