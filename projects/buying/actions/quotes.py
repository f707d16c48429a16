"""What is done with quotes: typed, changed while nothing was ordered from them, withdrawn."""

from collections.abc import Iterable
from decimal import Decimal

from django.db import IntegrityError, transaction

from projects.record.models import Quote, QuoteBreak

Prices = Iterable[tuple[int, Decimal]]  # from how many, each or per kg


@transaction.atomic
def save_quote(quote: Quote, prices: Prices) -> Quote:
    """The prices take the place of those it had."""
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


def take_in_quotes(quotes: Iterable[tuple[Quote, Prices]]) -> list[Quote]:
    """All or none; those that the same sheet brought before stay as they are. The new ones come back."""
    quotes = list(quotes)
    known = set(Quote.objects.filter(pk__in=[quote.pk for quote, _ in quotes]).values_list("pk", flat=True))
    try:
        with transaction.atomic():
            return [save_quote(quote, prices) for quote, prices in quotes if quote.pk not in known]
    except IntegrityError:  # the same sheet sent twice at once: the other one has taken it in
        return []
