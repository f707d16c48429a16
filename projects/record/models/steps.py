"""The log: one row an entry; never changed, only voided by a later one (database triggers see to it)."""

from typing import ClassVar, Self
from uuid import UUID

from django.db import models
from django.utils import timezone

from finishing.coatings.models import Coating, FlashRust
from finishing.science.working import day_told
from finishing.site.fields import QuantityField
from finishing.site.models import WorkshopQuerySet, WorkshopRow
from finishing.workshops.models import Workshop

from .routes import Operation

Process = Operation.Process


class StepQuerySet(WorkshopQuerySet["Step"]):
    def of_rack(self, workshop: Workshop, rack: UUID) -> Self:
        """The entries that one form made and that still stand."""
        return self.of(workshop).filter(rack=rack, voided_by=None)

    def last_batch(self, coating: Coating) -> str:
        """The batch number that was last typed for this coating."""
        typed = self.of(coating.workshop_id).filter(coating=coating).exclude(batch="").order_by("-happened_at")
        return typed.values_list("batch", flat=True).first() or ""


class Step(WorkshopRow):
    append_only = True
    goes_with = "piece"

    class Kind(models.TextChoices):
        RECEIVED = "received", "received"
        TAKEN_OFF = "taken off", "taken off the machine"
        TO_REPAIR = "to repair", "repair chosen"
        BLASTED = "blasted", "blasted"
        CAME_CLEAN = "came clean", "came clean, blasting skipped"
        PREPARED = "prepared", "prepared"
        COATED = "coated", "coated"
        TURNED = "turned", "turned over"
        LETTERED = "lettered", "lettered"
        LETTERS_SKIPPED = "letters skipped", "left without lettering"
        TOUCHED_UP = "touched up", "touched up"
        DRIED = "dried", "dry after wet blasting"
        LOOKED = "looked", "looked: dry, no rust"
        BLOOM = "bloom", "rust bloom seen"
        WRINKLED = "wrinkled", "coat wrinkled or lifted"
        DAMAGED = "damaged", "damaged"
        WETTED = "wetted", "got wet"
        PRESERVED = "preserved", "bright faces preserved"
        CLEANED_OFF = "cleaned off", "preservative cleaned off"
        MOVED = "moved", "moved"
        WORKED = "worked", "other workshop work"
        NOTED = "noted", "note"
        VOIDED = "voided", "entry voided"

    class Work(models.TextChoices):
        """What an entry of other work was; it takes time, and changes no stage."""

        MASKING = "masking", "masking"
        WIPING = "wiping", "wiping after blasting"
        MIXING = "mixing", "mixing paint"
        CLEANING_UP = "cleaning up", "cleaning up"
        REPAIR = Process.REPAIR.value, Process.REPAIR.label
        PATTERN = Process.PATTERN.value, Process.PATTERN.label
        FETTLING = Process.FETTLING.value, Process.FETTLING.label
        HEAT_TREATMENT = Process.HEAT_TREATMENT.value, Process.HEAT_TREATMENT.label
        MACHINING = Process.MACHINING.value, Process.MACHINING.label
        ASSEMBLY = Process.ASSEMBLY.value, Process.ASSEMBLY.label
        PACKING = Process.PACKING.value, Process.PACKING.label
        CARRIAGE = Process.CARRIAGE.value, Process.CARRIAGE.label

    class Repair(models.TextChoices):
        """How a fault of an old part is put right; a part that is remade is cast or cut anew."""

        BRAZED = "brazed", "braze"
        STITCHED = "stitched", "stitch"
        BUSHED = "bushed", "bush"
        WELDED = "welded", "weld"
        OTHERWISE = "otherwise", "repair otherwise"
        REMADE = "remade", "make anew"

    class Verdict(models.TextChoices):
        INSIDE = "inside", "conditions inside the sheet"
        OUTSIDE = "outside", "conditions outside the sheet"
        NOT_CHECKED = "not checked", "not checked"

    class BackTo(models.TextChoices):
        BLAST = "blast", "blast again"
        PRIMED = "primed", "rub down to the primer"
        LAST_COAT = "last coat", "take the last coat off"
        NOWHERE = "nowhere", "touch up, stage kept"

    piece = models.ForeignKey("projects.Piece", on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=20, choices=Kind)
    work = models.CharField("which work", max_length=20, choices=Work, blank=True)
    happened_at = models.DateTimeField()
    rack = models.UUIDField(
        null=True, blank=True, editable=False, db_index=True, help_text="What one form logged together: its key."
    )
    entered_at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, related_name="+")
    layer = models.ForeignKey("finishing.Layer", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    layer_position = models.PositiveSmallIntegerField(null=True, blank=True)
    layer_label = models.TextField(blank=True)
    coating = models.ForeignKey("finishing.Coating", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    batch = models.CharField("batch number on the tin", max_length=40, blank=True)
    place = models.ForeignKey("finishing.Place", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    air_temperature = QuantityField("air", unit="°C", minimum=-40, maximum=50, null=True, blank=True)
    humidity = QuantityField("humidity", unit="%", minimum=1, maximum=100, null=True, blank=True)
    surface_temperature = QuantityField("surface", unit="°C", minimum=-40, maximum=80, null=True, blank=True)
    wet_film = QuantityField("wet film", unit="µm", minimum=1, maximum=2000, null=True, blank=True)
    dry_film = QuantityField("dry film", unit="µm", minimum=1, maximum=2000, null=True, blank=True)
    litres = QuantityField("paint used", unit="L", minimum=0.001, maximum=200, null=True, blank=True)
    minutes = QuantityField("time taken", unit="min", minimum=0, maximum=10000, null=True, blank=True)
    verdict = models.CharField(max_length=15, choices=Verdict, default=Verdict.NOT_CHECKED)
    outside = models.CharField("what was outside", max_length=300, blank=True)
    wet_work = models.BooleanField("blasted wet or washed", default=False)
    flash_rust = models.CharField(max_length=10, choices=FlashRust, blank=True)
    inhibitor_claim = QuantityField(
        "inhibitor keeps it for", unit="h", minimum=0.1, maximum=1000, null=True, blank=True
    )
    reason = models.CharField("reason", max_length=200, blank=True)
    back_to = models.CharField(max_length=10, choices=BackTo, blank=True)
    repair = models.CharField("repair chosen", max_length=10, choices=Repair, blank=True)
    note = models.TextField(blank=True)
    forecast = models.ForeignKey(
        "finishing.Forecast", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    voids = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="voided_by")

    objects: ClassVar = StepQuerySet.as_manager()

    class Meta:
        ordering = ["happened_at", "entered_at", "id"]
        indexes = [models.Index(fields=["piece", "happened_at"]), models.Index(fields=["workshop", "entered_at"])]

    def __str__(self) -> str:
        when = timezone.localtime(self.happened_at)
        return f"{self.get_work_display() or self.get_kind_display()}, {day_told(when)} {when:%H:%M}"
