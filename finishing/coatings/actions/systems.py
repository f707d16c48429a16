"""Systems are kept and copied; a layer that the log speaks of stays in its system."""

import uuid
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from django.db import transaction
from django.db.models import F, ProtectedError
from django.dispatch import Signal

from finishing.coatings.models import Additive, Layer, System

ASIDE = 10_000  # where layers wait while others take their old numbers
system_saved = Signal()  # with its layers, before the transaction ends; whoever paints by the system may listen
VALUES = ("kind", "coating", "side", "dry_film", "thinning", "method", "minutes", "wait")


class LayerWanted(NamedTuple):
    """A layer as it shall be, what is stirred into its paint, and the id of the layer that it was before."""

    values: Layer
    additives: Iterable[Additive] = ()
    before: uuid.UUID | None = None


class LayerInUse(Exception):
    """A layer was left out that some log speaks of."""

    def __init__(self, layer: Layer) -> None:
        super().__init__(str(layer))
        self.layer = layer


@transaction.atomic
def save_system(system: System, layers: Sequence[LayerWanted]) -> System:
    """The layers in this order; the id of one that was before counts where it was one of this system."""
    system.save()
    standing = {layer.pk: layer for layer in system.layers.all()}
    kept = [(standing.pop(layer.before, None) if layer.before else None, layer) for layer in layers]
    for layer in standing.values():
        try:
            layer.delete()
        except ProtectedError:
            raise LayerInUse(layer) from None
    system.layers.update(position=F("position") + ASIDE)
    for position, (before, wanted) in enumerate(kept, start=1):
        layer = before or Layer(workshop=system.workshop, system=system)
        layer.position = position
        for name in VALUES:
            setattr(layer, name, getattr(wanted.values, name))
        layer.save()
        layer.additives.set(wanted.additives)
    system_saved.send(sender=System, system=system)
    return system


@transaction.atomic
def copy_system(system: System, *, pk: uuid.UUID) -> System:
    """A workshop's own system, begun from another; asked twice with the same id it is made once."""
    made = System.objects.filter(pk=pk).first()
    if made and made.workshop_id == system.workshop_id:
        return made
    copied = System(
        id=uuid.uuid4() if made else pk, workshop=system.workshop, name=f"{system.name[:90]} (copy)", note=system.note
    )
    return save_system(copied, [LayerWanted(layer, layer.additives.all()) for layer in system.layers.all()])
