"""What a supplier's money costs is noted."""

from django.db import transaction

from projects.record.models import ExchangeRate


@transaction.atomic
def note_rate(rate: ExchangeRate) -> ExchangeRate:
    """A rate noted again for the same day takes the place of the one before, which was mistyped."""
    same = ExchangeRate.objects.of(rate.workshop).filter(currency=rate.currency, noted_on=rate.noted_on)
    same.exclude(pk=rate.pk).delete()
    rate.save()
    return rate
