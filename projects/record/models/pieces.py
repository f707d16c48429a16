"""One physical casting or component, with its own mark."""

from collections.abc import Iterable
from datetime import datetime
from functools import cached_property
from typing import ClassVar, Self
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.functions import Coalesce

from finishing.site.models import WorkshopQuerySet, WorkshopRow

from .designs import Part
from .orders import Receipt
from .stages import PieceState, read_log, standing_entries
from .steps import Step

KEPT_COLUMNS = ("said", "rests_on", "holds_from")  # of a KeptState, as `with_kept_state` gives them: kept_said …


class PieceQuerySet(WorkshopQuerySet["Piece"]):
    def with_log(self, without: UUID | None = None) -> Self:
        """Everything that stage, window and next step are derived from, in a fixed number of queries.

        without: a rack whose entries are about to be taken back, as if they had never been made.
        """
        steps = Step.objects.all() if without is None else Step.objects.exclude(rack=without)
        return self.select_related(
            "workshop", "project", "machine", "place", "revision",
            "part__system", "part__lettering_coating", "part__design",
        ).prefetch_related(
            models.Prefetch("steps", steps),
            "steps__by", "steps__place", "steps__coating__drying_points", "steps__layer__additives", "steps__photos",
            "part__system__layers__coating__drying_points", "part__system__layers__additives",
            "part__lettering_coating__drying_points",
        )  # fmt: skip

    def with_entries(self) -> Self:
        """What the state is derived from, and no more."""
        return self.select_related("part__system").prefetch_related(
            "steps__layer__coating", "steps__coating", "steps__place", "part__system__layers__coating"
        )

    def with_kept_state(self) -> Self:
        """What `domain.states` needs to tell each piece's state without its log; project, part, place and workshop, of
        which many pieces share one, are put there by whoever reads them, once each.
        """
        rarely = "made_at", "receipt", "rejected_for", "rejected_in", "counts_against"
        return self.annotate(**{f"kept_{name}": models.F(f"kept__{name}") for name in KEPT_COLUMNS}).defer(*rarely)

    def as_they_stand(self) -> Self:
        """`stage_now`, as it is kept; `place_now`, the key of the place that the last entry names, or the first one."""
        told = Step.objects.filter(piece=models.OuterRef("pk"), voided_by=None).exclude(place=None)
        last = told.exclude(kind=Step.Kind.VOIDED).order_by("-happened_at", "-entered_at", "-id").values("place")[:1]
        place = Coalesce(models.Subquery(last), "place_id", output_field=models.UUIDField())
        return self.annotate(stage_now=models.F("kept__stage"), place_now=place)

    def at_work(self) -> Self:
        return self.filter(project__closed=False, set_aside=False)

    def sound(self) -> Self:
        return self.filter(set_aside=False, rejected_for="")

    def in_order(self) -> Self:
        return self.order_by("project__name", "part__name", "mark")


class Piece(WorkshopRow):
    goes_with = "project"

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="pieces")
    part = models.ForeignKey("projects.Part", on_delete=models.PROTECT, related_name="pieces")
    revision = models.ForeignKey(
        "projects.Revision", on_delete=models.PROTECT, null=True, blank=True, related_name="pieces"
    )
    machine = models.ForeignKey(
        "projects.Machine", on_delete=models.SET_NULL, null=True, blank=True, related_name="pieces"
    )
    mark = models.CharField(max_length=40, help_text="As stamped, tagged or chalked on it.")
    place = models.ForeignKey(
        "finishing.Place",
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Where it stands until the log moves it.",
    )
    salt = models.CharField(max_length=10, blank=True, help_text="Empty: as the workshop says.")
    old_paint = models.BooleanField("has old paint", default=False)
    set_aside = models.BooleanField(default=False)
    receipt = models.ForeignKey(
        "projects.Receipt", on_delete=models.PROTECT, null=True, blank=True, editable=False, related_name="pieces"
    )
    rejected_for = models.CharField(
        max_length=10, blank=True, editable=False, help_text="Found bad after it was received: why."
    )
    rejected_in = models.ForeignKey(
        "projects.Receipt",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        editable=False,
        related_name="pieces_rejected",
        help_text="The receipt that counts it as rejected.",
    )
    counts_against = models.ForeignKey(
        "projects.Operation",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        editable=False,
        related_name="pieces_rejected",
        help_text="Found bad outside a receipt: the operation whose share of good ones it lowers.",
    )
    made_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar = PieceQuerySet.as_manager()

    class Meta:
        ordering = ["mark"]
        constraints = [models.UniqueConstraint(fields=["project", "mark"], name="one_piece_of_a_mark")]

    def __str__(self) -> str:
        return f"{self.mark} {self.part}"

    @cached_property
    def state(self) -> PieceState:
        """What the log says of this piece; read it with_log(), or as it was kept, by domain.states."""
        return self._read(self.steps.all())

    @cached_property
    def last_entry_at(self) -> datetime | None:
        """When the last entry that stands happened; from then on `state` holds."""
        return max((step.happened_at for step in standing_entries(self.steps.all())), default=None)

    def state_at(self, moment: datetime) -> PieceState:
        """What the log says of a moment, by the entries that had happened by then and still stand."""
        if self.last_entry_at is None or self.last_entry_at <= moment:
            return self.state
        return self._read([step for step in self.steps.all() if step.voids_id or step.happened_at <= moment])

    def _read(self, steps: Iterable[Step]) -> PieceState:
        layers = self.part.system.layers.all() if self.part.system else ()
        return read_log(steps, layers, self.part.has_letters, self.part.stays_bare)

    def blasted_by(self, cabinet: bool) -> Part.Blasted:
        """As its part says; one that was bought clean and has to be blasted after all goes where the others go."""
        by = self.part.blasted_by(cabinet)
        bought_clean = by == Part.Blasted.CLEAN and not self.state.blast_again
        if bought_clean or by != Part.Blasted.CLEAN:
            return by
        return Part.Blasted.HERE if cabinet else Part.Blasted.CONTRACTOR

    @property
    def rejected_word(self) -> str:
        return Receipt.Why(self.rejected_for).label if self.rejected_for else ""

    def clean(self) -> None:
        super().clean()
        if self.part_id and self.project_id and self.part.design_id != self.project.design_id:
            raise ValidationError({"part": "This part belongs to another design."})
        if self.revision and self.revision.part_id != self.part_id:
            raise ValidationError({"revision": "This revision belongs elsewhere."})
        if self.machine and self.machine.project_id != self.project_id:
            raise ValidationError({"machine": "This machine belongs elsewhere."})
