"""A holding primer put on bare iron first: a layer that its system does not have, thought before those that it has."""

import uuid
from collections.abc import Iterable, Iterator

from finishing.coatings.models import Coating, Layer, System
from finishing.science import overcoating
from finishing.science.drying import DryingStage
from finishing.science.units import Quantity
from finishing.workshops.models import Workshop


def holding_layer(system: System, coating: Coating) -> Layer | None:
    """Its layer, kept nowhere; None where the system begins with this paint anyhow."""
    first = system.first_coat
    if first is None or first.coating == coating:
        return None
    pk = uuid.uuid5(system.pk, str(coating.pk))
    return Layer(
        pk=pk, workshop=system.workshop, system=system, position=0, kind=Layer.Kind.COAT, coating=coating,
        minutes=first.minutes, wait=Quantity(0, "minute"),
    )  # fmt: skip


def holding_primers(workshop: Workshop, systems: Iterable[System]) -> list[Coating]:
    """Primers with drying times that the first coat of every one of these systems may go over, the quickest first."""
    first = [coat for system in systems if (coat := system.first_coat)]
    found = [(recoat, coating) for coating, recoat in _primers(workshop) if all(_bears(coating, c) for c in first)]
    return [coating for _, coating in sorted(found, key=lambda each: each[0])]


def _primers(workshop: Workshop) -> Iterator[tuple[Coating, float]]:
    """Each with its hours to a recoat at the first temperature of its sheet that is warm enough to work in."""
    for coating in Coating.objects.of(workshop).filter(is_primer=True, retired=False):
        table = coating.drying_table()
        if table is not None and table.gives(DryingStage.RECOAT_FROM):
            yield coating, min(point.recoat_from for point in table.points if point.recoat_from is not None)


def _bears(coating: Coating, above: Layer) -> bool:
    if above.coating is None or above.coating == coating:
        return False
    return overcoating.verdict(above.coating.generic_type, coating.generic_type, aged=False).word == "yes"
