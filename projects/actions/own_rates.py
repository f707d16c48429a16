"""A rate that the workshop learned from its own log becomes the one it reckons with, because somebody asked for it."""

from collections.abc import Iterable
from typing import Any

from django.db import transaction

from finishing.actions.workshops import keep
from finishing.models import Layer


@transaction.atomic
def take_rate(workshop: Any, name: str, rate: Any, layers: Iterable[Layer] = ()) -> None:
    """With it, the coats of systems that shall take the same time."""
    setattr(workshop, name, rate)
    keep(workshop)
    for layer in layers:
        layer.minutes = rate
        layer.save(update_fields=["minutes"])
