"""What was ordered, what came of it good or not, and what was paid."""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from typing import ClassVar, Self

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone

from finishing.science.working import day_told
from finishing.site.models import WorkshopQuerySet, WorkshopRow
from projects.money.rounding import cents
from projects.site.fields import money, percent

from .routes import Operation

NOTHING = Decimal(0)
FURTHEST = timedelta(days=7305)  # that a promise may lie ahead: with days to pay no date lies beyond the calendar


@dataclass(frozen=True)
class Sums:
    """What an order comes to: without tax, the tax, and with it."""

    goods: Decimal
    delivery: Decimal
    minimum_charge: Decimal
    tax_percent: Decimal
    currency: str

    @property
    def cost(self) -> Decimal:
        return self.goods + self.delivery + self.minimum_charge

    @property
    def tax(self) -> Decimal:
        return cents(self.cost * self.tax_percent / 100)

    @property
    def with_tax(self) -> Decimal:
        return self.cost + self.tax


class OrderQuerySet(WorkshopQuerySet["Order"]):
    def with_sums(self) -> Self:
        """With what was ordered, what came of it and what was paid, and no more."""
        also = "lines__operation", "lines__receipts", "payments"
        return self.select_related("supplier__workshop").prefetch_related(*also)

    def in_full(self) -> Self:
        """With all that its sums and counts are read from."""
        return self.select_related("supplier__workshop", "design", "project", "goes_to").prefetch_related(
            "lines__operation__part",
            "lines__revision",
            "lines__wording",
            "lines__quote",
            "lines__receipts__by",
            "payments",
        )


class Order(WorkshopRow):
    binds_currency = True

    supplier = models.ForeignKey("projects.Supplier", on_delete=models.PROTECT, related_name="orders")
    design = models.ForeignKey("projects.Design", on_delete=models.PROTECT, related_name="orders")
    project = models.ForeignKey(
        "projects.Project",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="orders",
        help_text="The batch it is for; pieces received go there.",
    )
    number = models.CharField("our number", max_length=40, blank=True)
    ordered_on = models.DateField()
    promised_on = models.DateField("promised for", null=True, blank=True)
    goes_to = models.ForeignKey(
        "projects.Supplier",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Straight to the one who works on next. Empty: to us.",
    )
    delivery = money("delivery")
    minimum_charge = money("charged up to their least order")
    tax = percent("tax on it", default=NOTHING, editable=False, help_text="As when it was ordered.")
    cancelled_on = models.DateField(null=True, blank=True, editable=False)
    note = models.TextField(blank=True)

    objects: ClassVar = OrderQuerySet.as_manager()

    class Meta:
        ordering = ["-ordered_on", "number"]

    def __str__(self) -> str:
        return f"{self.supplier}, {self.number or day_told(self.ordered_on)}"

    def clean(self) -> None:
        super().clean()
        if self.project and self.project.design_id != self.design_id:
            raise ValidationError({"project": "This batch is of another design."})
        if self.ordered_on and self.promised_on and self.promised_on < self.ordered_on:
            raise ValidationError({"promised_on": "It is promised before it was ordered."})
        if self.ordered_on and self.promised_on and self.promised_on > self.ordered_on + FURTHEST:
            raise ValidationError({"promised_on": "It is promised more than twenty years ahead; look at the year."})

    @property
    def currency(self) -> str:
        return self.supplier.money_in

    @property
    def cancelled(self) -> bool:
        return self.cancelled_on is not None

    # what it costs: as agreed, in the supplier's currency, without tax

    @cached_property
    def goods(self) -> Decimal:
        return sum((line.cost for line in self.lines.all()), NOTHING)

    @property
    def sums(self) -> "Sums":
        return Sums(self.goods, self.delivery, self.minimum_charge, self.tax, self.currency)

    @property
    def cost(self) -> Decimal:
        return NOTHING if self.cancelled else self.sums.cost

    @cached_property
    def paid(self) -> Decimal:
        return sum((payment.amount for payment in self.payments.all()), NOTHING)

    @property
    def to_pay(self) -> Decimal:
        """Without tax, as payments are; below nothing where too much was paid."""
        return self.cost - self.paid

    # what came of it

    @cached_property
    def quantity(self) -> int:
        return sum(line.quantity for line in self.lines.all())

    @cached_property
    def good(self) -> int:
        return sum(line.good for line in self.lines.all())

    @cached_property
    def rejected(self) -> int:
        return sum(line.rejected for line in self.lines.all())

    @cached_property
    def outstanding(self) -> int:
        return 0 if self.cancelled else sum(line.outstanding for line in self.lines.all())

    @property
    def has_come(self) -> bool:
        return any(line.standing_receipts for line in self.lines.all())

    @property
    def last_came_on(self) -> date | None:
        days = [receipt.received_on for line in self.lines.all() for receipt in line.standing_receipts]
        return max(days, default=None)

    @property
    def expected_on(self) -> date:
        """The day promised, else as the supplier usually takes."""
        return self.promised_on or self.ordered_on + timedelta(days=self.supplier.lead_days)

    @property
    def due_on(self) -> date | None:
        """The day to pay by: reckoned from what came last, and not known before."""
        came = self.last_came_on
        return came + timedelta(days=self.supplier.days_to_pay) if came and self.to_pay > 0 else None

    @property
    def done(self) -> bool:
        return not self.outstanding and not self.to_pay

    def days_late(self, day: date) -> int:
        if not self.outstanding or self.promised_on is None:
            return 0
        return max(0, (day - self.promised_on).days)


class OrderLine(WorkshopRow):
    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    operation = models.ForeignKey("projects.Operation", on_delete=models.PROTECT, related_name="order_lines")
    wording = models.ForeignKey(
        "projects.Wording", on_delete=models.PROTECT, null=True, blank=True, editable=False, related_name="order_lines"
    )
    revision = models.ForeignKey(
        "projects.Revision", on_delete=models.PROTECT, null=True, blank=True, related_name="order_lines"
    )
    quote = models.ForeignKey(
        "projects.Quote", on_delete=models.SET_NULL, null=True, blank=True, related_name="order_lines"
    )
    quantity = models.PositiveIntegerField(validators=[MinValueValidator(1, "At least one.")])
    pieces_cost = money("pieces", help_text="All of them, without tax.")
    setup = money("set-up")
    tooling = money("tooling")
    reason = models.CharField("why more than one of an unproved revision", max_length=300, blank=True)

    class Meta:
        ordering = ["operation__part__name", "operation__position"]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.operation}"

    @property
    def cost(self) -> Decimal:
        return self.pieces_cost + self.setup + self.tooling

    @cached_property
    def standing_receipts(self) -> list["Receipt"]:
        receipts = list(self.receipts.all())
        voided = {receipt.voids_id for receipt in receipts}
        return [receipt for receipt in receipts if receipt.pk not in voided and receipt.voids_id is None]

    @property
    def good(self) -> int:
        return sum(receipt.good for receipt in self.standing_receipts)

    @property
    def rejected(self) -> int:
        return sum(receipt.rejected for receipt in self.standing_receipts)

    @property
    def received(self) -> int:
        return self.good + self.rejected

    @property
    def outstanding(self) -> int:
        """Of castings that are replaced free of charge, those that were rejected come again."""
        again = self.operation.process == Operation.Process.CASTING and self.order.supplier.recasts_free
        return max(0, self.quantity - (self.good if again else self.received))

    @property
    def short(self) -> int:
        """Rejected, and nothing good came for them since."""
        return max(0, self.quantity - self.good - self.outstanding)

    @property
    def each(self) -> Decimal:
        return self.pieces_cost / self.quantity

    @property
    def brings_pieces(self) -> bool:
        """What comes of it is there for the first time: later operations work on pieces that there are."""
        part = self.operation.part
        if part is None or self.order.project_id is None:
            return False
        return self.operation == part.operations.filter(process__in=Operation.MAKING).order_by("position").last()


class Receipt(WorkshopRow):
    """What came, and was looked at. Never changed; one that was wrong is voided by another."""

    append_only = True

    class Why(models.TextChoices):
        POROSITY = "porosity", "porosity"
        SIZE = "size", "out of size"
        OTHER = "other", "other"

    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="receipts")
    received_on = models.DateField()
    good = models.PositiveIntegerField("came good", default=0)
    rejected = models.PositiveIntegerField(default=0)
    why = models.CharField("rejected for", max_length=10, choices=Why, blank=True)
    note = models.CharField(max_length=300, blank=True)
    voids = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="voided_by")
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ["received_on", "entered_at"]

    def __str__(self) -> str:
        return f"{self.good} good, {self.rejected} rejected"


class Payment(WorkshopRow):
    """Money that went out; a wrong entry is taken back by one below nothing."""

    append_only = True

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="payments")
    paid_on = models.DateField()
    amount = models.DecimalField(
        max_digits=12, decimal_places=2, help_text="Without tax, in the order's currency; below nothing takes one back."
    )
    note = models.CharField(max_length=200, blank=True)
    entered_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ["paid_on", "entered_at"]

    def __str__(self) -> str:
        return f"{self.amount} on {day_told(self.paid_on)}"
