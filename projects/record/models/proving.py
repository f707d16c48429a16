"""Proving a design: which piece sits where on a machine, what its owner checks there, and what it cost to get right."""

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone

from finishing.site.fields import QuantityField
from finishing.site.models import WorkshopRow
from projects.site.fields import money

ENTERED = "Of two at the same moment, the one entered later counts."


class Fitting(WorkshopRow):
    """A piece put into a position of a machine. A later fitting of that position takes its place; none is changed."""

    append_only = True
    goes_with = "machine"

    machine = models.ForeignKey("projects.Machine", on_delete=models.PROTECT, related_name="fittings")
    part = models.ForeignKey("projects.Part", on_delete=models.PROTECT, related_name="fittings")
    position = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1, "Counted from 1.")])
    piece = models.ForeignKey(
        "projects.Piece", on_delete=models.PROTECT, null=True, blank=True, related_name="fittings"
    )
    shims = models.CharField("fits and shims", max_length=200, blank=True)
    note = models.CharField(max_length=300, blank=True)
    fitted_at = models.DateTimeField()
    entered_at = models.DateTimeField(default=timezone.now, editable=False, help_text=ENTERED)
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["fitted_at", "entered_at"]

    def __str__(self) -> str:
        return f"{self.piece or 'nothing'} in {self.machine}"

    def clean(self) -> None:
        super().clean()
        if self.piece and self.piece.part_id != self.part_id:
            raise ValidationError({"piece": "This piece is of another part."})
        if self.part_id and self.position and self.position > self.part.quantity:
            raise ValidationError({"position": f"A machine has {self.part.quantity} of this part."})


class Check(WorkshopRow):
    """What must hold on an assembled machine before a part, or the whole machine, counts as proved."""

    design = models.ForeignKey("projects.Design", on_delete=models.CASCADE, related_name="checks")
    part = models.ForeignKey("projects.Part", on_delete=models.CASCADE, null=True, blank=True, related_name="checks")
    what = models.CharField("what is checked", max_length=200)
    limit = models.CharField("passes when", max_length=200, blank=True)
    retired = models.BooleanField("no longer asked for", default=False)

    class Meta:
        ordering = ["part__name", "what"]

    def __str__(self) -> str:
        return self.what


class Trial(WorkshopRow):
    """A check done on one machine: passed or failed. Never changed; a later one counts instead."""

    append_only = True
    goes_with = "machine"

    check_done = models.ForeignKey(Check, on_delete=models.PROTECT, related_name="trials")
    machine = models.ForeignKey("projects.Machine", on_delete=models.PROTECT, related_name="trials")
    revision = models.ForeignKey(
        "projects.Revision", on_delete=models.PROTECT, null=True, blank=True, related_name="trials"
    )
    passed = models.BooleanField()
    measured = models.CharField(max_length=100, blank=True)
    note = models.CharField(max_length=300, blank=True)
    tried_at = models.DateTimeField()
    entered_at = models.DateTimeField(default=timezone.now, editable=False, help_text=ENTERED)
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["tried_at", "entered_at"]

    def __str__(self) -> str:
        return f"{self.check_done}: {'passed' if self.passed else 'failed'}"


class Expense(WorkshopRow):
    """Money or minutes spent on getting a design right: development, kept and shown."""

    binds_currency = True

    design = models.ForeignKey("projects.Design", on_delete=models.CASCADE, related_name="expenses")
    revision = models.ForeignKey(
        "projects.Revision", on_delete=models.PROTECT, null=True, blank=True, related_name="expenses"
    )
    what = models.CharField(max_length=200)
    amount = money("money")
    minutes = QuantityField("own hands", unit="min", default=0, minimum=0, maximum=600000)
    spent_on = models.DateField()

    class Meta:
        ordering = ["spent_on"]

    def __str__(self) -> str:
        return self.what
