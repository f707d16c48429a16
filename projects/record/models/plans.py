"""A plan as it was asked for, made, offered and accepted: who does what, where, from when to when, dry by when.

Nothing moves without being accepted: a plan is offered, and only one of its workshop's projects is kept.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import cached_property
from typing import Any, ClassVar, Self
from uuid import UUID

from django.db import models

from finishing.coatings.models import Layer
from finishing.site.models import WorkshopQuerySet, WorkshopRow, all_deleted

from .pieces import Piece, PieceQuerySet
from .projects import Project
from .steps import Step


class PlanRun(WorkshopRow):
    """One asking for a plan: for which projects, with what allowed, and how far it has come."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting for its turn"
        RUNNING = "running", "being planned"
        STOPPED = "stopped", "stopped, best so far kept"
        DONE = "done", "planned"
        FAILED = "failed", "no plan"

    goes_with = "projects"

    projects = models.ManyToManyField("projects.Project", related_name="plan_runs")
    state = models.CharField(max_length=10, choices=State, default=State.WAITING, editable=False)
    stop_wanted = models.BooleanField(default=False, editable=False)
    progress = models.JSONField(default=dict, blank=True, help_text="finish (ISO), gap (%), seconds, rounds.")
    message = models.TextField(blank=True, help_text="Which rule forbids a plan, or what happened.")
    missing = models.JSONField(
        default=list, blank=True, help_text="What could not be planned, why, and where it is mended."
    )
    changes = models.JSONField(
        default=list, blank=True, help_text="The smallest changes that allow a plan, each tried."
    )
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True, editable=False)
    alive_at = models.DateTimeField(null=True, editable=False, help_text="When whoever works on it last said so.")
    tries = models.PositiveSmallIntegerField(default=0, editable=False)
    seed = models.PositiveIntegerField(default=0)
    aims = models.JSONField(default=list, blank=True, help_text="In their order; empty: as usual.")
    settings = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-asked_at"]

    def __str__(self) -> str:
        return f"plan asked {self.asked_at:%Y-%m-%d %H:%M}"

    @classmethod
    def out_of_sight(cls) -> models.Q:
        return all_deleted(cls.projects.through, "planrun", "project", Project)

    @property
    def open(self) -> bool:
        """Still being worked on, so that a page asks again."""
        return self.state in (self.State.WAITING, self.State.RUNNING)

    @property
    def best(self) -> "Plan | None":
        """The plan that this run has come to so far."""
        return self.plans.order_by("-made_at").first()


class SlotQuerySet(WorkshopQuerySet["Slot"]):
    def in_full(self) -> Self:
        """With place, layer, visit, people and pieces, in a fixed number of queries; of a piece only what names it."""
        return self.prefetch_related("place", *_rest_of_slots(_named_pieces().prefetch_related("part")))

    def in_short(self) -> list["Slot"]:
        """In order, with place and ids of the pieces, in two queries however many: enough to say what comes when."""
        slots = list(self.defer("why").select_related("place"))
        put_piece_ids(slots, self)
        return slots


def _named_pieces() -> PieceQuerySet:
    return Piece.objects.only("mark", "part", "project", "workshop")


def _rest_of_slots(pieces: PieceQuerySet) -> "list[str | models.Prefetch[Any]]":
    layers = models.Prefetch("layer", Layer.objects.select_related("coating"))
    return ["origin", layers, "visit", "people", models.Prefetch("pieces", pieces)]


def put_piece_ids(slots: Iterable["Slot"], rows: SlotQuerySet) -> None:
    """Give each of the slots, which are those of `rows`, the ids of its pieces, in one query for all."""
    on: dict[UUID, list[UUID]] = defaultdict(list)
    held = Slot.pieces.through.objects.filter(slot__in=rows.order_by().values("pk"))
    for slot, piece in held.order_by("piece__mark").values_list("slot_id", "piece_id"):
        on[slot].append(piece)
    for row in slots:
        row.piece_ids = on[row.pk]


def read_in_short(plan: "Plan") -> None:
    """Give it its slots with what comes when and where, and whose it is; `fill_in` reads the rest of those shown."""
    models.prefetch_related_objects([plan], models.Prefetch("slots", Slot.objects.select_related("place")))
    put_piece_ids(plan.slots.all(), Slot.objects.filter(plan=plan))


def fill_in(slots: Sequence["Slot"]) -> None:
    """Read the rest of slots that were read in short, as if they had been read in_full()."""
    models.prefetch_related_objects(slots, *_rest_of_slots(_named_pieces().select_related("part")))


class PlanQuerySet(WorkshopQuerySet["Plan"]):
    def kept(self) -> Self:
        return self.filter(state=Plan.State.KEPT)

    def offered(self) -> Self:
        return self.filter(state=Plan.State.OFFERED)

    def standing_offer(self) -> "Plan | None":
        """The newest plan, where nobody has decided on it yet."""
        newest = self.first()
        return newest if newest and newest.state == Plan.State.OFFERED else None

    def in_full(self) -> Self:
        """With all that a picture, a list by day and a feed ask of a plan, in a fixed number of queries."""
        return self.select_related("run", "forecast", "workshop", "instead_of").prefetch_related(
            "run__projects", models.Prefetch("slots", Slot.objects.in_full())
        )


class Plan(WorkshopRow):
    class State(models.TextChoices):
        OFFERED = "offered", "offered"
        KEPT = "kept", "kept"
        REPLACED = "replaced", "replaced by a later one"
        REFUSED = "refused", "refused"

    goes_with = "run"

    run = models.ForeignKey(PlanRun, on_delete=models.CASCADE, related_name="plans")
    state = models.CharField(max_length=10, choices=State, default=State.OFFERED, editable=False)
    made_at = models.DateTimeField()
    decided_at = models.DateTimeField("accepted or refused", null=True, blank=True, editable=False)
    decided_by = models.ForeignKey(
        "finishing.User", on_delete=models.PROTECT, null=True, blank=True, editable=False, related_name="+"
    )
    forecast = models.ForeignKey(
        "finishing.Forecast", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    checked_at = models.DateTimeField(help_text="When it was last held against log and weather.")
    finish_at = models.DateTimeField()
    late_minutes = models.PositiveIntegerField("later than promised", default=0)
    cost = models.DecimalField(max_digits=10, decimal_places=2, default=0)
    costs = models.JSONField(
        default=dict,
        blank=True,
        help_text="Cents of the cost: contractor, heating, own, waste; hours of our own, paint sessions.",
    )
    margin = models.FloatField("thinnest margin", null=True, blank=True, help_text="°C above what must be kept.")
    bounds = models.JSONField(default=list, blank=True, help_text="By aim in turn: value, bound, whether proven.")
    note = models.TextField(blank=True)
    members = models.JSONField(
        default=dict, blank=True, help_text="Of an ensemble: of so many the whole plan stands in; model, its hours."
    )
    expected = models.JSONField(
        default=dict, blank=True, help_text="Chosen over members: own, spoilt, redoing, later, day, members, others."
    )
    instead_of = models.ForeignKey("self", on_delete=models.SET_NULL, null=True, blank=True, related_name="offers")
    changes = models.JSONField(default=list, blank=True, help_text="Against the plan it would replace, in words.")

    objects: ClassVar = PlanQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return f"plan of {self.made_at:%Y-%m-%d %H:%M}, {self.get_state_display()}"

    @property
    def kept(self) -> bool:
        return self.state == self.State.KEPT

    @property
    def broken(self) -> list["Slot"]:
        """The slots that no longer hold."""
        return [slot for slot in self.slots.all() if slot.broken]

    @property
    def proven(self) -> bool:
        """Nothing better is possible, by any aim in turn."""
        return bool(self.bounds) and all(aim["proven"] for aim in self.bounds)


class Slot(WorkshopRow):
    """One step of a rack in its place and time. `key` stands for the same step in the next plan."""

    class Kind(models.TextChoices):
        REPAIR = "repair", "repair"
        MASK = "mask", "mask"
        BLAST = "blast", "blast"
        CLEAN = "clean", "blow down and wipe"
        PREPARE = "prepare", "prepare"
        COAT = "coat", "coat"
        TURN = "turn", "turn over"
        LETTER = "letter", "letter"
        MOVE = "move", "move"

    # The entry that logs it; None where the log has no such entry.
    LOGGED_AS = {
        Kind.BLAST: Step.Kind.BLASTED,
        Kind.PREPARE: Step.Kind.PREPARED,
        Kind.COAT: Step.Kind.COATED,
        Kind.TURN: Step.Kind.TURNED,
        Kind.LETTER: Step.Kind.LETTERED,
        Kind.MOVE: Step.Kind.MOVED,
    }

    goes_with = "pieces"

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="slots")
    rack = models.TextField()  # words put together from marks and names: no length is known beforehand
    key = models.TextField()
    label = models.TextField()
    kind = models.CharField(max_length=10, choices=Kind)
    layer = models.ForeignKey("finishing.Layer", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    place = models.ForeignKey("finishing.Place", on_delete=models.PROTECT, related_name="+", help_text="Or moved to.")
    origin = models.ForeignKey(
        "finishing.Place", on_delete=models.PROTECT, null=True, blank=True, related_name="+", help_text="Moved from."
    )
    people = models.ManyToManyField("finishing.User", related_name="+")
    pieces = models.ManyToManyField("projects.Piece", related_name="slots")
    visit = models.ForeignKey("projects.Visit", on_delete=models.SET_NULL, null=True, blank=True, related_name="slots")
    begin = models.DateTimeField()
    end = models.DateTimeField()
    dry_at = models.DateTimeField(null=True, blank=True)
    why = models.JSONField(default=dict, blank=True, help_text="What bounds it: see projects.plans.actions.plans.")
    stands_in = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Members in which this step stands.")
    broken = models.TextField(blank=True, help_text="Why it no longer holds; empty while it does.")

    objects: ClassVar = SlotQuerySet.as_manager()

    class Meta:
        ordering = ["begin", "rack"]
        indexes = [models.Index(fields=["workshop", "begin"])]

    def __str__(self) -> str:
        return f"{self.rack}: {self.label}"

    @classmethod
    def out_of_sight(cls) -> models.Q:
        return all_deleted(cls.pieces.through, "slot", "piece", Piece)

    @cached_property
    def piece_ids(self) -> list[UUID]:
        """Whose step it is; of slots read in_short() known without reading a piece."""
        return [piece.pk for piece in self.pieces.all()]

    @property
    def logged_as(self) -> Step.Kind | None:
        return self.LOGGED_AS.get(self.Kind(self.kind))
