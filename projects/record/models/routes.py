"""How a part is made: its route, operation by operation, and the patterns and jigs that it takes."""

from decimal import Decimal
from functools import cached_property
from typing import TYPE_CHECKING, ClassVar, Self

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models

from finishing.site.fields import QuantityField
from finishing.site.models import WorkshopQuerySet, WorkshopRow
from projects.site.fields import kept_file, money, percent

if TYPE_CHECKING:
    from .designs import Part
    from .loans import Loan


class Operation(WorkshopRow):
    """One line of a part's route; without a part, of the machine as a whole.

    Its figures are the workshop's own estimate, and give way to a quote. What the finishing side knows (blasting,
    painting, lettering) is worked out there and has no figures here.
    """

    class Process(models.TextChoices):
        REPAIR = "repair", "repair of an old part"
        PATTERN = "pattern", "pattern and core box"
        CASTING = "casting", "casting"
        FETTLING = "fettling", "fettling"
        HEAT_TREATMENT = "heat treatment", "heat treatment"
        MACHINING = "machining", "machining"
        BOUGHT_IN = "bought in", "bought in"
        BLASTING = "blasting", "blasting"
        PAINTING = "painting", "painting"
        LETTERING = "lettering", "lettering"
        ASSEMBLY = "assembly", "assembly"
        PACKING = "packing", "packing"
        CARRIAGE = "carriage", "carriage"

    MAKING = (Process.CASTING, Process.BOUGHT_IN)  # after which there is something to put a mark on
    FINISHING = (Process.BLASTING, Process.PAINTING, Process.LETTERING)

    design = models.ForeignKey("projects.Design", on_delete=models.CASCADE, related_name="operations")
    part = models.ForeignKey(
        "projects.Part", on_delete=models.CASCADE, null=True, blank=True, related_name="operations"
    )
    position = models.PositiveSmallIntegerField(default=0, editable=False)
    process = models.CharField(max_length=20, choices=Process)
    name = models.CharField("what is done", max_length=100, blank=True)
    in_house = models.BooleanField("may be done here", default=False, help_text="At the figures below, with no order.")
    setup = money("set-up", help_text="Once for each lot.")
    each = money("each", 4, help_text="For one piece: price, material, carriage.")
    per_kilogram = money("per kg", 4, help_text="For each kilogram that the part weighs.")
    setup_minutes = QuantityField(
        "own hands, set-up", unit="min", default=0, minimum=0, maximum=60000, help_text="Once for each lot."
    )
    each_minutes = QuantityField(
        "own hands, each", unit="min", default=0, minimum=0, maximum=60000, help_text="For the first piece."
    )
    learning = percent(
        "learning curve", "50", "100", null=True, blank=True, help_text="Share of the time that every doubling leaves."
    )
    good_percent = percent("come out good", "0.01", "100", default=Decimal(100))
    casting_faults = models.BooleanField(
        "bad ones are the casting's fault",
        default=False,
        help_text="Porosity that shows here: a foundry that replaces bad castings gives others for them.",
    )
    lead_days = models.PositiveSmallIntegerField("takes", default=0, help_text="Days.")
    keep_with = models.ForeignKey(
        "self",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        verbose_name="same supplier as",
    )
    basis = models.CharField("where these figures come from", max_length=200, blank=True)

    class Meta:
        ordering = ["design", "part__name", "position"]

    def __str__(self) -> str:
        what = self.name or self.get_process_display()
        return f"{self.part}: {what}" if self.part_id else what

    @property
    def worked_out(self) -> bool:
        """The finishing side knows what it costs."""
        return self.process in self.FINISHING

    @property
    def nameplate(self) -> "Part | None":
        """The nameplate that it casts, or makes the pattern of: from then on its letters are settled."""
        moulded = self.process in (self.Process.PATTERN, self.Process.CASTING)
        return self.part if moulded and self.part and self.part.nameplate else None

    @property
    def label(self) -> str:
        return self.name or self.get_process_display()

    @property
    def has_figures(self) -> bool:
        """The workshop's own estimate says something: money, or minutes of its own hands."""
        times = (self.setup_minutes, self.each_minutes)
        return any((self.setup, self.each, self.per_kilogram)) or any(time.magnitude for time in times)

    @property
    def per_machine(self) -> int:
        """Pieces that one machine takes; what is done to the machine as a whole is done once."""
        return self.part.quantity if self.part else 1

    def pieces_for(self, machines: int) -> int:
        """How many so many machines ask for of it; a pattern is made once for all of them."""
        return 1 if self.process == self.Process.PATTERN else machines * self.per_machine

    @property
    def siblings(self) -> models.QuerySet["Operation"]:
        """The route that it stands in, in order."""
        return Operation.objects.filter(design=self.design_id, part=self.part_id).order_by("position")

    def clean(self) -> None:
        super().clean()
        if self.part and self.part.design_id != self.design_id:
            raise ValidationError({"part": "This part belongs to another design."})
        if self.keep_with_id and self.keep_with_id == self.pk:
            raise ValidationError({"keep_with": "This is the operation itself."})
        if self.part and self.per_kilogram and self.part.mass is None:
            raise ValidationError({"per_kilogram": "The part has no weight yet; enter it at the part first."})


class ToolQuerySet(WorkshopQuerySet["Tool"]):
    def in_full(self) -> Self:
        """With what it is used in, its repairs, and all that was received by it."""
        rows = self.select_related("operation__part", "operation__design", "revision")
        return rows.prefetch_related("repairs", "operation__order_lines__receipts", "loans__supplier", "loans__member")

    def in_use(self) -> Self:
        return self.filter(state=Tool.State.IN_USE)


class Tool(WorkshopRow):
    """A pattern, core box, jig or fixture: where it is, whose, and how much is left of it."""

    class Kind(models.TextChoices):
        PATTERN = "pattern", "pattern"
        CORE_BOX = "core box", "core box"
        JIG = "jig", "jig"
        FIXTURE = "fixture", "fixture"

    class State(models.TextChoices):
        WANTED = "wanted", "still to be made"
        IN_USE = "in use", "in use"
        WORN_OUT = "worn out", "worn out or scrapped"

    operation = models.ForeignKey(
        Operation, on_delete=models.CASCADE, related_name="tools", help_text="The operation that it is used in."
    )
    revision = models.ForeignKey(
        "projects.Revision", on_delete=models.PROTECT, null=True, blank=True, related_name="tools"
    )
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.PATTERN)
    name = models.CharField(max_length=100)
    state = models.CharField(max_length=10, choices=State, default=State.WANTED)
    owner = models.CharField("whose", max_length=100, blank=True, help_text="Empty: ours.")
    kept_at = models.CharField("where it is", max_length=100, blank=True)
    cost = money("cost")
    life = models.PositiveIntegerField(
        "good for",
        null=True,
        blank=True,
        validators=[MinValueValidator(1, "At least one.")],
        help_text="Mouldings, or pieces. Empty: for good.",
    )
    lead_days = models.PositiveSmallIntegerField("takes", default=0, help_text="Days until a new one is there.")
    made_before = models.PositiveIntegerField(
        "made with it before", default=0, help_text="Before its receipts were kept here."
    )
    drawing = models.FileField("drawing or model", upload_to=kept_file, blank=True)
    drawing_name = models.CharField(max_length=200, blank=True, editable=False)
    note = models.CharField(max_length=300, blank=True)

    objects: ClassVar = ToolQuerySet.as_manager()

    class Meta:
        ordering = ["operation", "name"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.name}"

    @property
    def name_with_part(self) -> str:
        """As a sentence begins: "Pattern W-02, Flywheel"."""
        words = f"{self}, {self.operation.part or self.operation}"
        return words[0].upper() + words[1:]

    @property
    def on_loan(self) -> "Loan | None":
        """Who has it now, of those read `in_full`."""
        return next((loan for loan in self.loans.all() if loan.is_out), None)

    @cached_property
    def made(self) -> int:
        """Mouldings so far: what was counted before, and every casting received, good or not."""
        lines = self.operation.order_lines.all()
        counted = [line for line in lines if self.revision_id in (None, line.revision_id)]
        return self.made_before + sum(line.received for line in counted)

    @property
    def left(self) -> int | None:
        return None if self.life is None else max(0, self.life - self.made)


class ToolRepair(WorkshopRow):
    tool = models.ForeignKey(Tool, on_delete=models.CASCADE, related_name="repairs")
    repaired_on = models.DateField()
    what = models.CharField(max_length=200)
    cost = money("cost")

    class Meta:
        ordering = ["repaired_on"]

    def __str__(self) -> str:
        return self.what
