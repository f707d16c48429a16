"""What the log tells of time and paint: entries that still stand, with what was reckoned for the same work.

Time is typed for a whole rack and shared out by area, so entries made together are one figure and not several.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from finishing.coatings.models import Layer
from finishing.science.work_time import LETTERS, WIPE
from projects.record.models.steps import Step

Kind = Step.Kind
# An entry's kind, and the work that its time went into; other work names its own.
# A note with minutes is a piece timed on a settled visit.
WORK = {
    Kind.BLASTED: "blasting",
    Kind.NOTED: "blasting",
    Kind.PREPARED: "preparing",
    Kind.COATED: "coats",
    Kind.LETTERED: "lettering",
    Kind.TOUCHED_UP: "touching up",
    Kind.TURNED: "turning over",
    Kind.MOVED: "moving",
}


def standing_steps(workshop: Any) -> Any:
    """Entries that no later one took back."""
    rows = Step.objects.of(workshop).filter(voided_by=None, kind__in=[*WORK, Kind.WORKED])
    return rows.select_related("piece__part", "layer", "coating")


def work_of(step: Step) -> str:
    return step.work if step.kind == Kind.WORKED else WORK[step.kind]


def worked_area(step: Step) -> float | None:
    """Square metres; a layer on one side covers half the part."""
    area = step.piece.part.area
    if area is None:
        return None
    one_side = step.layer is not None and step.layer.side != Layer.Side.ALL
    return float(area.to("m**2").magnitude) / (2 if one_side else 1)


def reckoned_minutes(step: Step, shop: Any) -> float | None:
    """What the workshop's rates give for this entry's work; None where they say nothing of it."""
    area = worked_area(step)
    if step.kind in (Kind.BLASTED, Kind.NOTED) and area is not None:
        return area * float(shop.blasting_minutes.magnitude)
    if step.work in (Step.Work.MASKING, Step.Work.WIPING) and area is not None:
        return area * float((shop.masking_minutes if step.work == Step.Work.MASKING else WIPE).magnitude)
    if step.kind in (Kind.PREPARED, Kind.COATED) and step.layer is not None and area is not None:
        return area * float(step.layer.minutes.magnitude)
    return float(LETTERS.magnitude) if step.kind == Kind.LETTERED else None


@dataclass(frozen=True)
class Rack:
    """Entries of one kind made together."""

    steps: tuple[Step, ...]

    @property
    def minutes(self) -> float:
        return sum(float(step.minutes.to("minute").magnitude) for step in self.steps)

    @property
    def area(self) -> float | None:
        """None where one of them has none."""
        areas = [worked_area(step) for step in self.steps]
        return None if None in areas else sum(filter(None, areas))

    def reckoned(self, shop: Any) -> float | None:
        """Mixing and cleaning up are reckoned once for all that hangs in it."""
        once = {Step.Work.MIXING: shop.mixing_minutes, Step.Work.CLEANING_UP: shop.cleaning_minutes}
        if self.steps[0].work in once:
            return float(once[self.steps[0].work].magnitude)
        singly = [reckoned_minutes(step, shop) for step in self.steps]
        return None if None in singly else sum(filter(None, singly))

    @property
    def brushed(self) -> bool:
        return all(step.layer is not None and step.layer.method == Layer.Method.BRUSH for step in self.steps)


def racks(steps: Iterable[Step]) -> list[Rack]:
    """Those with a time; entered by one person for one moment they are one. A visit's pieces are timed singly."""
    together: dict[Any, list[Step]] = defaultdict(list)
    for step in steps:
        if step.minutes is not None and step.minutes.magnitude > 0:
            alone = step.pk if step.kind == Kind.NOTED else None
            together[step.piece.project_id, step.kind, step.work, step.happened_at, step.by_id, alone].append(step)
    return [Rack(tuple(own)) for own in together.values()]
