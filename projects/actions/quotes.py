"""What is done with quotes: typed, changed while nothing was ordered from them, withdrawn."""

from collections.abc import Iterable
from decimal import Decimal

from django.db import transaction

from projects.models import Quote, QuoteBreak

Prices = Iterable[tuple[int, Decimal]]  # from how many, each or per kg


@transaction.atomic
def save_quote(quote: Quote, prices: Prices, *, file_name: str = "") -> Quote:
    quote.file_name = file_name or quote.file_name
    quote.save()
    quote.breaks.all().delete()
    QuoteBreak.objects.bulk_create(
        QuoteBreak(workshop_id=quote.workshop_id, quote=quote, from_quantity=begins, price=price)
        for begins, price in prices
    )
    return quote


def withdraw_quote(quote: Quote, *, withdrawn: bool = True) -> Quote:
    quote.withdrawn = withdrawn
    quote.save(update_fields=["withdrawn"])
    return quote
