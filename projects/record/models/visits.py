"""A visit: the day on which a blasting contractor comes, what he is to blast, and what there is to do around it.

Whether a piece was blasted stands in its log alone; a visit holds what was planned, and what was refused.
"""

from collections import Counter, defaultdict
from collections.abc import Collection
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from functools import cached_property
from typing import ClassVar, Self
from uuid import UUID

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from finishing.media.words import refusal_words
from finishing.science import blasting, grit
from finishing.science.nozzle import LOWEST, NARROWEST, WIDEST, Pressures
from finishing.science.units import Quantity
from finishing.science.working import day_told
from finishing.site.fields import QuantityField
from finishing.site.models import WorkshopQuerySet, WorkshopRow
from projects.money.contractor import DayTerms
from projects.site.fields import money

from .pieces import Piece
from .stages import Next
from .steps import Step

NO_PRESSURE = Quantity(0, "bar")
MOST_AT_NOZZLE = 8.6  # bar, 125 psi: where the table of nozzles ends


class VisitQuerySet(WorkshopQuerySet["Visit"]):
    def still_open(self) -> Self:
        """Those to come or to be settled, the next one first."""
        return self.filter(cancelled_at=None, settled_at=None).select_related("workshop").order_by("date", "begins")

    def over(self) -> Self:
        return self.exclude(cancelled_at=None, settled_at=None).order_by("-date", "-begins")


class Visit(WorkshopRow):
    class Lead(models.TextChoices):
        NOT_TESTED = "not tested", "not tested: old paint is taken for leaded"
        NONE = "none", "tested, no lead found"
        FOUND = "found", "tested, lead found"

    date = models.DateField()
    begins = models.TimeField("begins", default=time(8))
    ends = models.TimeField("ends", default=time(16))
    contractor = models.CharField("contractor", max_length=100)
    call_out = money("call-out")
    travel = money("travel")
    rate = money("rate per hour")
    day_price = money("price of a day", null=True)
    fixed_price = money("fixed price", null=True)
    least_charge = money("least charge", null=True)
    free_until = models.PositiveSmallIntegerField(
        "cancelled for nothing until", default=48, validators=[MaxValueValidator(2000)]
    )
    cancel_share = models.PositiveSmallIntegerField(
        "cancelled later", default=50, validators=[MaxValueValidator(100, "At most the whole, 100.")]
    )
    nozzle_bore = QuantityField(unit="mm", minimum=NARROWEST, maximum=WIDEST)
    hose_bore = QuantityField(unit="mm", minimum=5, maximum=100, null=True, blank=True)
    most_pressure = QuantityField("the rig gives", unit="bar", minimum=1, maximum=20, null=True, blank=True)
    free_air = QuantityField("compressor gives", unit="m³/min", minimum=0.05, maximum=50, null=True, blank=True)
    wet = models.BooleanField("water at the nozzle", default=False)
    gathered = models.BooleanField("grit is gathered and used again", default=False)
    brings = models.TextField("what they bring", blank=True)
    lead = models.CharField("lead in old paint", max_length=12, choices=Lead, default=Lead.NOT_TESTED)
    waste = models.TextField("spent grit", blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True, editable=False)
    settled_at = models.DateTimeField(null=True, blank=True, editable=False)
    hours = QuantityField("hours worked", unit="h", minimum=0.01, maximum=200, null=True, blank=True)
    paid = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)

    objects: ClassVar = VisitQuerySet.as_manager()

    class Meta:
        ordering = ["-date", "-begins"]

    def __str__(self) -> str:
        return f"{self.contractor}, {day_told(self.date)}"

    @property
    def starts_at(self) -> datetime:
        return self.workshop.at(self.date, self.begins)

    @property
    def ends_at(self) -> datetime:
        return self.workshop.at(self.date, self.ends)

    @property
    def minutes(self) -> int:
        """How long he stays, through a night in which clocks are moved too."""
        return round((self.ends_at.astimezone(UTC) - self.starts_at.astimezone(UTC)) / timedelta(minutes=1))

    @property
    def cancelled_for_nothing_until(self) -> datetime:
        return self.starts_at - timedelta(hours=self.free_until)

    @property
    def open(self) -> bool:
        return not (self.cancelled_at or self.settled_at)

    @property
    def asks(self) -> DayTerms:
        """What the contractor asks for a day."""
        least = self.least_charge or Decimal(0)
        return DayTerms(self.call_out, self.travel, self.rate, self.day_price, self.fixed_price, least)

    def rows(self) -> "list[VisitPiece]":
        """Its pieces in full, without those that were blasted on another day meanwhile."""
        return [row for row in self.pieces.in_full() if not row.blasted_elsewhere]

    def rig(self, pressures: Pressures) -> blasting.Rig:
        """What stands there, blasting at these pressures."""
        return blasting.Rig(self.nozzle_bore, pressures, self.most_pressure, self.hose_bore, self.free_air)

    def clean(self) -> None:
        super().clean()
        if self.begins and self.ends and self.ends <= self.begins:
            raise ValidationError({"ends": f"Must be later than {self.begins:%H:%M}, when the visit begins."})
        if self.nozzle_bore is not None and self.hose_bore is not None:
            still = blasting.Rig(self.nozzle_bore, Pressures(NO_PRESSURE, NO_PRESSURE), hose_bore=self.hose_bore)
            for refused in blasting.rig_refusals(still):
                raise ValidationError({"nozzle_bore": refusal_words(refused, self.workshop.units)})


class VisitPieceQuerySet(WorkshopQuerySet["VisitPiece"]):
    def in_full(self) -> Self:
        """With all that a sheet, a run and a settlement ask of a piece, in a fixed number of queries."""
        return self.select_related("visit__workshop", "medium", "timed_by__voided_by").prefetch_related(
            models.Prefetch("piece", Piece.objects.with_log())
        )


def pieces_on(visits: Collection[Visit]) -> Counter[UUID]:
    """By visit how many `rows()` it has, without reading a log: few columns of all of them at once."""
    shown = {visit.pk: visit for visit in visits}
    blasted = Step.objects.filter(kind=Step.Kind.BLASTED, voided_by=None, piece__visits__visit__in=shown)
    days: dict[UUID, set[date]] = defaultdict(set)
    workshop = next((visit.workshop for visit in visits), None)
    for piece, moment in blasted.values_list("piece_id", "happened_at").distinct():
        assert workshop is not None  # a step of a visit that is shown
        days[piece].add(workshop.day_of(moment))
    rows = VisitPiece.objects.filter(visit__in=shown).order_by()
    return Counter(
        visit
        for visit, piece, refused_at, comes in rows.values_list("visit", "piece", "refused_at", "piece__kept__next")
        if refused_at or may_be_blasted(comes) or shown[visit].date in days[piece]
    )


def may_be_blasted(comes: str | None) -> bool:
    """By the next step of a piece as it is kept; of one whose state nobody kept yet too."""
    return comes in (None, Next.BLAST)


class VisitPiece(WorkshopRow):
    goes_with = "piece"

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        BLASTED = "blasted", "blasted"
        REFUSED = "refused", "not blasted"

    SURFACES = [(name, name) for name in grit.STATES]
    SHAPES = [(name, name) for name in grit.SHAPES]
    GRADES = [(name, f"{name} ({grade.sp}), {grade.title}") for name, grade in grit.GRADES.items()]

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="pieces")
    piece = models.ForeignKey("projects.Piece", on_delete=models.CASCADE, related_name="visits")
    medium = models.ForeignKey("finishing.Medium", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    surface = models.CharField("to come off", max_length=40, choices=SURFACES)
    shape = models.CharField(max_length=20, choices=SHAPES)
    grade = models.CharField("clean to", max_length=10, choices=GRADES)
    pressure_start = QuantityField("start at", unit="bar", minimum=LOWEST, maximum=MOST_AT_NOZZLE)
    pressure_most = QuantityField("not above", unit="bar", minimum=LOWEST, maximum=MOST_AT_NOZZLE)
    mask_how = models.CharField("masked how", max_length=300, blank=True)
    position = models.PositiveSmallIntegerField("place in the order", null=True, blank=True)
    minutes = QuantityField("time on the clock", unit="min", minimum=1, maximum=3000, null=True, blank=True)
    refused_at = models.DateTimeField(null=True, blank=True, editable=False)
    refused_because = models.CharField(max_length=200, blank=True, editable=False)
    timed_by = models.ForeignKey(
        Step, on_delete=models.PROTECT, null=True, blank=True, editable=False, related_name="+"
    )
    used = QuantityField("medium used", unit="kg", minimum=0, maximum=50000, null=True, blank=True)

    objects: ClassVar = VisitPieceQuerySet.as_manager()

    class Meta:
        ordering = ["position", "piece__mark"]
        constraints = [models.UniqueConstraint(fields=["visit", "piece"], name="a_piece_once_a_visit")]

    def __str__(self) -> str:
        return f"{self.piece.mark}, {self.visit}"

    @cached_property
    def blasted(self) -> Step | None:
        """The entry of that day that says it was blasted, and still stands; from the piece's steps."""
        steps = list(self.piece.steps.all())
        voided = {step.voids_id for step in steps}
        workshop, day = self.visit.workshop, self.visit.date
        standing = [step for step in steps if step.kind == Step.Kind.BLASTED and step.pk not in voided]
        that_day = [step for step in standing if workshop.day_of(step.happened_at) == day]
        return that_day[-1] if that_day else None

    @property
    def state(self) -> "VisitPiece.State":
        if self.blasted:
            return self.State.BLASTED
        return self.State.REFUSED if self.refused_at else self.State.WAITING

    @property
    def blasted_elsewhere(self) -> bool:
        """It waits here for nothing: it was blasted on another day, or by somebody else."""
        return self.state == self.State.WAITING and self.piece.state.next != Next.BLAST

    @property
    def timed(self) -> Quantity | None:
        """Minutes that somebody timed, as the log keeps them; None where nobody did."""
        if self.blasted and self.blasted.minutes is not None:
            return self.blasted.minutes
        typed = self.timed_by
        return typed.minutes if typed and not getattr(typed, "voided_by", None) else None

    @property
    def metal(self) -> str:
        return self.piece.part.metal

    @property
    def fit(self) -> grit.Fit | None:
        return self.medium.fit(self.metal, self.surface) if self.medium else None

    @property
    def advice(self) -> grit.Advice:
        return grit.ADVICE[self.metal]

    @property
    def advised_pressures(self) -> tuple[Quantity, Quantity]:
        """What this metal should begin at, and get at most."""
        return grit.pressures(self.metal, self.surface)

    @property
    def too_hard(self) -> bool:
        return bool(self.pressure_most > self.advised_pressures[1])

    @property
    def likely_pressure(self) -> Quantity:
        return grit.likely_pressure(self.pressure_start, self.pressure_most)

    def pressures(self, nozzle: Quantity) -> Pressures:
        return Pressures(nozzle, self.medium.feed_difference if self.medium else NO_PRESSURE)

    @property
    def refusals(self) -> list[blasting.Refused]:
        """What stands against blasting it so, at the highest pressure that it may get."""
        of_medium = blasting.medium_refusals(self.medium.value()) if self.medium else []
        return [*of_medium, *blasting.rig_refusals(self.visit.rig(self.pressures(self.pressure_most)))]

    def job(self, rate: blasting.Own | None = None, use: blasting.Own | None = None) -> blasting.Job:
        """The piece as science reckons with it, where its medium is chosen; `rate` and `use` are our own figures."""
        assert self.medium is not None
        return blasting.Job(
            self.piece.part.area,
            self.medium.value(),
            self.visit.rig(self.pressures(self.likely_pressure)),
            self.grade,
            self.surface,
            self.shape,
            self.visit.gathered,
            rate,
            use,
        )

    def clean(self) -> None:
        super().clean()
        if None in (self.pressure_start, self.pressure_most):
            return
        if self.pressure_most < self.pressure_start:
            raise ValidationError({"pressure_most": "This lies below the pressure to start at."})
        boxes = {"bulk density": "medium", "free silica": "medium", "nozzle pressure": "pressure_most"}
        wrong: dict[str, list[str]] = {}
        for refused in self.refusals:
            box = boxes.get(refused.field, "pressure_most")
            wrong.setdefault(box, []).append(refusal_words(refused, self.visit.workshop.units))
        if wrong:
            raise ValidationError(wrong)


class VisitTask(WorkshopRow):
    """Something to do around the blasting."""

    class Phase(models.TextChoices):
        NEEDED = "needed", "what the blaster needs"
        BEFORE = "before", "before the blasting"
        AFTER = "after", "after the blasting"

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="tasks")
    phase = models.CharField("when", max_length=10, choices=Phase)
    what = models.CharField(max_length=120)
    minutes = QuantityField("takes", unit="min", minimum=0, maximum=3000, null=True, blank=True)
    people = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1, "At least one."), MaxValueValidator(50)]
    )
    position = models.PositiveSmallIntegerField(default=0, editable=False)
    done_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["position"]

    def __str__(self) -> str:
        return self.what
