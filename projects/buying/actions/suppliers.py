"""What is done with suppliers: taken on, their terms changed; what their money costs."""

from django.db import transaction

from projects.record.models import ExchangeRate, Supplier


def save_supplier(supplier: Supplier) -> Supplier:
    supplier.save()
    return supplier


@transaction.atomic
def note_rate(rate: ExchangeRate) -> ExchangeRate:
    """A rate noted again for the same day takes the place of the one before, which was mistyped."""
    same = ExchangeRate.objects.of(rate.workshop_id).filter(currency=rate.currency, noted_on=rate.noted_on)
    same.exclude(pk=rate.pk).delete()
    rate.save()
    return rate


def remove_rate(rate: ExchangeRate) -> None:
    """The one before counts again; without one, quotes in this currency are no longer compared."""
    rate.delete()
