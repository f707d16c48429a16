"""What is out of the house for a while: a pattern at the foundry, a jig at a helper's, an old part with a turner."""

from datetime import date
from typing import ClassVar, Self

from django.db import models
from django.db.models import Q
from django.utils import timezone

from finishing.site.models import WorkshopQuerySet, WorkshopRow

OUT = Q(back_on=None, mistaken=False)


class LoanQuerySet(WorkshopQuerySet["Loan"]):
    def told(self) -> Self:
        """With what its words name."""
        return self.select_related("piece__part", "tool__operation__part", "supplier", "member")

    def out(self) -> Self:
        return self.filter(OUT)

    def late(self, day: date) -> Self:
        """Those that were due before this day, the longest overdue first."""
        return self.out().filter(due_on__lt=day).told().order_by("due_on", "lent_on", "pk")


class Loan(WorkshopRow):
    """A thing that somebody else has. It is closed when it comes back and stays in the book; see LoanChange.

    One of piece, tool and `what` says what it is; one of supplier, member and `borrower` says who has it. A project is
    named by a piece's loan and by that of a thing in words: a tool belongs to its design.
    """

    goes_with = "project"

    project = models.ForeignKey(
        "projects.Project", on_delete=models.PROTECT, null=True, blank=True, editable=False, related_name="loans"
    )
    piece = models.ForeignKey("projects.Piece", on_delete=models.PROTECT, null=True, blank=True, related_name="loans")
    tool = models.ForeignKey(
        "projects.Tool",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="loans",
        verbose_name="pattern or jig",
    )
    what = models.CharField("something else", max_length=100, blank=True)
    supplier = models.ForeignKey(
        "projects.Supplier", on_delete=models.PROTECT, null=True, blank=True, related_name="loans"
    )
    member = models.ForeignKey(
        "finishing.User",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name="one of us",
    )
    borrower = models.CharField("somebody else", max_length=100, blank=True)
    lent_on = models.DateField("since")
    due_on = models.DateField("due back", null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    back_on = models.DateField(null=True, blank=True, editable=False)
    mistaken = models.BooleanField(default=False, editable=False, help_text="It was never out: entered by mistake.")
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, related_name="+", editable=False)
    entered_at = models.DateTimeField(default=timezone.now, editable=False)

    objects: ClassVar = LoanQuerySet.as_manager()

    class Meta:
        ordering = ["-lent_on", "-entered_at"]
        indexes = [models.Index(fields=["workshop", "due_on"], condition=OUT, name="loans_out")]
        constraints = [
            models.UniqueConstraint(
                fields=[thing],
                condition=OUT,
                name=f"one_loan_of_a_{thing}",
                violation_error_message="It is out already.",
            )
            for thing in ("piece", "tool")
        ]

    def __str__(self) -> str:
        return f"{self.thing}: at {self.holder}"

    @property
    def thing(self) -> str:
        if self.tool:
            return self.tool.name_with_part
        return str(self.piece) if self.piece else self.what

    @property
    def holder(self) -> str:
        return str(self.supplier or self.member or self.borrower)

    @property
    def is_out(self) -> bool:
        return self.back_on is None and not self.mistaken

    @property
    def days_late(self) -> int:
        """Since it was due, by today; 0 where it is not, where no day was said, and once it is back."""
        return max(0, (timezone.localdate() - self.due_on).days) if self.due_on and self.is_out else 0


class LoanChange(WorkshopRow):
    """What became of a loan after it was entered: it came back, it was corrected. None is changed."""

    append_only = True
    goes_with = "loan"

    loan = models.ForeignKey(Loan, on_delete=models.CASCADE, related_name="changes")
    words = models.CharField(max_length=700)
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["made_at"]

    def __str__(self) -> str:
        return self.words
