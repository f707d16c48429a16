"""A rate that the workshop learned from its own log becomes the one it reckons with, because somebody asked for it."""

from collections.abc import Iterable
from typing import Any

from django.db import transaction

from finishing.coatings.models import Layer
from projects.record.models import Operation


@transaction.atomic
def take_rate(workshop: Any, name: str, rate: Any, layers: Iterable[Layer] = ()) -> None:
    """Of the workshop; with it, the coats of systems that shall take the same time."""
    setattr(workshop, name, rate)
    workshop.save()
    for layer in layers:
        layer.minutes = rate
        layer.save(update_fields=["minutes"])


def take_minutes(operation: Operation, minutes: Any, entries: int) -> None:
    """Of a route's operation, which says from now on where its figure comes from."""
    operation.each_minutes, operation.basis = minutes, f"own log, the middle one of {entries} entries"
    operation.save(update_fields=["each_minutes", "basis"])
