"""Systems are kept and copied; a layer that the log speaks of stays in its system."""

import uuid

from django.db import transaction
from django.db.models import F, ProtectedError

from finishing.coatings.models import Layer, System

ASIDE = 10_000  # where layers wait while others take their old numbers
VALUES = ("kind", "coating", "side", "dry_film", "thinning", "method", "minutes", "wait")


class LayerInUse(Exception):
    """A layer was left out that some log speaks of."""

    def __init__(self, layer: Layer) -> None:
        super().__init__(str(layer))
        self.layer = layer


@transaction.atomic
def save_system(system: System, layers: list[tuple[uuid.UUID | None, Layer]]) -> System:
    """The layers in this order; each comes with the id of the layer it was before, if it was one of this system."""
    system.save()
    standing = {layer.pk: layer for layer in system.layers.all()}
    kept = [(standing.pop(before, None) if before else None, layer) for before, layer in layers]
    for layer in standing.values():
        try:
            layer.delete()
        except ProtectedError:
            raise LayerInUse(layer) from None
    system.layers.update(position=F("position") + ASIDE)
    for position, (before, values) in enumerate(kept, start=1):
        layer = before or Layer(workshop=system.workshop, system=system)
        layer.position = position
        for name in VALUES:
            setattr(layer, name, getattr(values, name))
        layer.save()
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
    return save_system(copied, [(None, layer) for layer in system.layers.all()])
