"""Parts as they came off a machine: tag, place, bag of fixings and what was found, so that they find their way back."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import ClassVar, Self

from django.core.validators import MinValueValidator
from django.db import models

from finishing.site.fields import QuantityField
from finishing.site.models import WorkshopQuerySet, WorkshopRow

from .pieces import Piece
from .projects import Machine


@dataclass(frozen=True)
class Fixing:
    """What held a part, as it lies in its bag; `torque` in N·m, None where nobody has said one."""

    count: int
    what: str
    size: str = ""
    torque: float | None = None

    def __str__(self) -> str:
        tight = f", {self.torque:g} N·m" if self.torque is not None else ""
        return f"{self.count} × {self.what}{f' {self.size}' if self.size else ''}{tight}"


class RemovalQuerySet(WorkshopQuerySet["Removal"]):
    def standing(self) -> Self:
        """Those that no later entry took back, in the order in which the parts came off."""
        rows = self.filter(step__voided_by=None).select_related("step__by", "step__piece__part", "step__piece__place")
        return rows.order_by("step__happened_at", "step__entered_at", "pk")

    def off_now(self, machine: Machine) -> "list[Removal]":
        """Of each piece the last time that it came off this machine, in order; with its photos."""
        rows = self.standing().filter(machine=machine).prefetch_related("step__photos")
        last = {row.step.piece_id: row for row in rows}
        return [row for row in rows if last[row.step.piece_id] is row]


class Removal(WorkshopRow):
    """A piece that was taken off a machine. It belongs to the entry that says when and by whom; none is changed."""

    append_only = True
    goes_with = "step"

    class Condition(models.TextChoices):
        SOUND = "sound", "sound"
        WORN = "worn", "worn"
        PITTED = "pitted", "rusted or pitted"
        SEIZED = "seized", "seized"
        BROKEN = "broken", "broken"

    step = models.OneToOneField("projects.Step", on_delete=models.PROTECT, related_name="removal")
    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="removals")
    position = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1, "Counted from 1.")])
    tag = models.CharField("tag number", max_length=40)
    came_off = models.CharField("where it came off", max_length=200, blank=True)
    fixings = models.JSONField(default=list, blank=True, editable=False)
    condition = models.CharField("found", max_length=10, choices=Condition, blank=True)
    cracks = models.CharField("cracks", max_length=200, blank=True)
    missing = models.CharField("missing", max_length=200, blank=True)

    objects: ClassVar = RemovalQuerySet.as_manager()

    class Meta:
        ordering = ["step__happened_at", "step__entered_at"]

    def __str__(self) -> str:
        return f"{self.tag}: {self.step.piece} off {self.machine}"

    @property
    def piece(self) -> Piece:
        return self.step.piece

    @property
    def bag(self) -> list[Fixing]:
        return [Fixing(**row) for row in self.fixings]

    def fill_bag(self, fixings: Iterable[Fixing]) -> None:
        self.fixings = [asdict(fixing) for fixing in fixings]


class CastingSize(WorkshopRow):
    """A size of a part that is to be cast anew, for its pattern or for the old casting that stands in for one."""

    part = models.ForeignKey("projects.Part", on_delete=models.CASCADE, related_name="casting_sizes")
    what = models.CharField("which size", max_length=100)
    size = QuantityField("as it must be", unit="mm", minimum=1, maximum=2500)
    machined_faces = models.PositiveSmallIntegerField(
        "machined at", default=0, choices=[(0, "neither end"), (1, "one end"), (2, "both ends")]
    )

    class Meta:
        ordering = ["-size", "what"]

    def __str__(self) -> str:
        return f"{self.part}: {self.what}"
