"""Who wants a machine, what they would give for it, and what they have paid."""

from datetime import date
from decimal import Decimal
from functools import cached_property

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models

from finishing.coatings.models import colour_code
from finishing.site.models import WorkshopRow
from projects.site.fields import money

from .orders import FURTHEST

NOTHING = Decimal(0)


class Buyer(WorkshopRow):
    class Standing(models.TextChoices):
        ENQUIRY = "enquiry", "has asked"
        FIRM = "firm", "firm"
        GONE = "gone", "no longer wants one"

    class Leaves(models.TextChoices):
        COLLECTED = "collected", "collected"
        CARRIED = "carried", "carried to them"

    design = models.ForeignKey("projects.Design", on_delete=models.CASCADE, related_name="buyers")
    name = models.CharField(max_length=100)
    contact = models.CharField(max_length=200, blank=True)
    standing = models.CharField(max_length=10, choices=Standing, default=Standing.ENQUIRY)
    enquired_on = models.DateField("asked on")
    count = models.PositiveSmallIntegerField("machines", default=1, validators=[MinValueValidator(1, "At least one.")])
    would_bear = money("would bear", null=True, help_text="For one machine, without tax.")
    agreed_price = money("agreed price", null=True, help_text="For one machine, without tax.")
    own_machine = models.BooleanField("it is their own machine", default=False, help_text="Restored, not made.")
    neutral = models.BooleanField("left neutral", default=False, help_text="Primed, and painted by them.")
    colour = models.CharField("body colour", max_length=7, blank=True, validators=[colour_code])
    machine = models.OneToOneField(
        "projects.Machine", on_delete=models.SET_NULL, null=True, blank=True, related_name="buyer"
    )
    leaves = models.CharField("how it leaves", max_length=10, choices=Leaves, default=Leaves.COLLECTED)
    crate = money("crate", help_text="What the crate costs us.")
    carriage = money("carriage", help_text="What the carrier asks.")
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["standing", "enquired_on"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        if self.neutral and self.colour:
            raise ValidationError({"colour": "It is either left neutral or painted in a colour."})
        if self.machine and self.machine.project.design_id != self.design_id:
            raise ValidationError({"machine": "This machine is of another design."})
        if self.carriage and self.leaves == self.Leaves.COLLECTED:
            raise ValidationError({"carriage": "It is collected, so nobody is paid to carry it."})

    @property
    def wants_one(self) -> bool:
        return self.standing != self.Standing.GONE

    @property
    def bears(self) -> Decimal | None:
        """For one machine: what was agreed, or else what they said they would bear."""
        return self.would_bear if self.agreed_price is None else self.agreed_price

    @property
    def price(self) -> Decimal | None:
        """Of all their machines, without tax; None until it is agreed."""
        return None if self.agreed_price is None else self.agreed_price * self.count

    @property
    def stages(self) -> list["StagePayment"]:
        """As they fall due; those without a day last."""
        return sorted(self.payments.all(), key=lambda stage: (stage.due_on or date.max, stage.paid_on or date.max))

    @cached_property
    def asked(self) -> Decimal:
        """What the stages come to."""
        return sum((stage.amount for stage in self.payments.all()), NOTHING)

    @property
    def not_staged(self) -> Decimal | None:
        """What is left of the price for further stages."""
        return None if self.price is None else self.price - self.asked

    @cached_property
    def paid(self) -> Decimal:
        return sum((stage.amount for stage in self.payments.all() if stage.paid_on), NOTHING)

    @property
    def owed(self) -> Decimal:
        """By them; below nothing is owed to them, where they no longer want one."""
        return (self.price or self.asked if self.wants_one else NOTHING) - self.paid


class StagePayment(WorkshopRow):
    """A part of the price: a deposit, a stage, the rest."""

    binds_currency = True

    buyer = models.ForeignKey(Buyer, on_delete=models.CASCADE, related_name="payments")
    what = models.CharField(max_length=100, default="deposit")
    amount = money("amount")
    due_on = models.DateField(null=True, blank=True)
    paid_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["due_on", "paid_on"]

    def __str__(self) -> str:
        return self.what

    def overdue_on(self, day: date) -> bool:
        return self.paid_on is None and self.due_on is not None and self.due_on < day

    def clean(self) -> None:
        super().clean()
        if self.due_on and self.due_on < self.buyer.enquired_on:
            raise ValidationError({"due_on": "This is before they asked for one."})
        if self.due_on and self.due_on > self.buyer.enquired_on + FURTHEST:
            raise ValidationError({"due_on": "It is due more than twenty years ahead; look at the year."})
