"""What the log tells of time and paint: entries that still stand, with what was reckoned for the same work.

Time is typed for a whole rack and shared out by area, so entries made together are one figure and not several.
"""

from collections import defaultdict
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from finishing.coatings.models import Layer
from finishing.science.work_time import Rates, lettering_minutes, wiping_minutes
from finishing.site.fields import number
from finishing.workshops.models import Workshop
from projects.record.models.steps import Step

Kind = Step.Kind
# An entry's kind, and the work that its time went into; other work names its own.
# A note with minutes is a piece timed on a settled visit.
WORK: dict[str, str] = {
    Kind.TAKEN_OFF: "stripping down",
    Kind.BLASTED: "blasting",
    Kind.NOTED: "blasting",
    Kind.PREPARED: "preparing",
    Kind.COATED: "coats",
    Kind.LETTERED: "lettering",
    Kind.TOUCHED_UP: "touching up",
    Kind.TURNED: "turning over",
    Kind.MOVED: "moving",
}


# Of an entry, what time and paint are told from; layers, coatings and pieces are shared by many, and read once.
TOLD = "piece", "kind", "work", "happened_at", "by", "layer", "coating", "litres", "minutes"


def standing_steps(workshop: Workshop) -> "QuerySet[Step]":
    """Entries that no later one took back; with each its layer and its coating, and not its piece."""
    rows = Step.objects.of(workshop).filter(voided_by=None, kind__in=[*WORK, Kind.WORKED])
    return rows.only(*TOLD).prefetch_related("layer", "coating")


def work_of(step: Step) -> str:
    return step.work if step.kind == Kind.WORKED else WORK[step.kind]


def worked_area(step: Step) -> float | None:
    """Square metres that an entry's work went over; None where the part has no area."""
    area = step.piece.part.square_metres
    return area if area is None or step.layer is None else area * step.layer.covers


def reckoned_minutes(step: Step, rates: Rates) -> float | None:
    """What the workshop's rates give for this entry's work; None where they say nothing of it."""
    if step.kind == Kind.LETTERED:
        return lettering_minutes(1)
    area = step.piece.part.square_metres
    if area is None:
        return None
    if step.kind in (Kind.BLASTED, Kind.NOTED):
        return rates.to_blast(area)
    if step.kind in (Kind.PREPARED, Kind.COATED) and step.layer is not None:
        return step.layer.minutes_on(area)
    if step.work == Step.Work.MASKING:
        return rates.to_mask(area)
    return wiping_minutes(area) if step.work == Step.Work.WIPING else None


@dataclass(frozen=True)
class Rack:
    """Entries of one kind made together."""

    steps: tuple[Step, ...]

    @property
    def minutes(self) -> float:
        return sum(number(step, "minutes") or 0.0 for step in self.steps)

    @property
    def area(self) -> float | None:
        """None where one of them has none."""
        areas = [worked_area(step) for step in self.steps]
        return None if None in areas else sum(area for area in areas if area is not None)

    def reckoned(self, rates: Rates) -> float | None:
        """Mixing, cleaning up and turning over are reckoned once for all that hangs in it."""
        work = self.steps[0].work
        if self.steps[0].kind == Kind.TURNED:
            return rates.to_turn_over
        if work == Step.Work.MIXING:
            return rates.mixing
        if work == Step.Work.CLEANING_UP:
            return rates.cleaning
        singly = [reckoned_minutes(step, rates) for step in self.steps]
        return None if None in singly else sum(minutes for minutes in singly if minutes is not None)

    @property
    def brushed(self) -> bool:
        return all(step.layer is not None and step.layer.method == Layer.Method.BRUSH for step in self.steps)


def racks(steps: Iterable[Step]) -> list[Rack]:
    """Those with a time; entered by one person for one moment they are one. A visit's pieces are timed singly."""
    together: dict[Hashable, list[Step]] = defaultdict(list)
    for step in steps:
        if (number(step, "minutes") or 0) > 0:
            alone = step.pk if step.kind == Kind.NOTED else None
            together[step.piece.project_id, step.kind, step.work, step.happened_at, step.by_id, alone].append(step)
    return [Rack(tuple(own)) for own in together.values()]
