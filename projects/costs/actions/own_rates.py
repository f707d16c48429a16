"""A rate that the workshop learned from its own log becomes the one it reckons with, because somebody asked for it."""

from collections.abc import Iterable

from django.db import transaction

from finishing.coatings.models import Layer
from finishing.science.units import Quantity
from finishing.workshops.models import Workshop
from projects.record.models import Operation


@transaction.atomic
def take_rate(workshop: Workshop, name: str, rate: Quantity, layers: Iterable[Layer] = ()) -> None:
    """Of the workshop; with it, the coats of systems that shall take the same time."""
    setattr(workshop, name, rate)
    workshop.save()
    for layer in layers:
        layer.minutes = rate
        layer.save(update_fields=["minutes"])


def take_minutes(operation: Operation, minutes: Quantity, entries: int) -> None:
    """Of a route's operation, which says from now on where its figure comes from."""
    operation.each_minutes, operation.basis = minutes, f"own log, the middle one of {entries} entries"
    operation.save(update_fields=["each_minutes", "basis"])
