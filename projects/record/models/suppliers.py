"""Who makes and sells things to the workshop, and on what terms."""

from decimal import Decimal
from typing import ClassVar, Self
from uuid import UUID

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from finishing.site.models import WorkshopQuerySet, WorkshopRow
from projects.site.fields import currency_code, money, percent


class ExchangeRate(WorkshopRow):
    """What one unit of a foreign currency costs in the workshop's own; the latest counts."""

    binds_currency = True

    currency = models.CharField(max_length=3, validators=[currency_code])
    rate = models.DecimalField(
        "costs in our currency",
        max_digits=14,
        decimal_places=6,
        validators=[MinValueValidator(Decimal("0.000001"), "A rate lies above nothing.")],
    )
    noted_on = models.DateField("as of")
    source = models.CharField("where it was read", max_length=100, blank=True)

    class Meta:
        ordering = ["currency", "noted_on"]

    def __str__(self) -> str:
        return f"1 {self.currency} = {self.rate.normalize():f}"

    @property
    def is_latest(self) -> bool:
        same = ExchangeRate.objects.of(self.workshop_id).filter(currency=self.currency)
        return not same.filter(noted_on__gt=self.noted_on).exists()


class SupplierQuerySet(WorkshopQuerySet["Supplier"]):
    def still_asked(self, chosen: UUID | None = None) -> Self:
        """With the money they ask in. One that is no longer asked stays where it was `chosen`."""
        return self.select_related("workshop").filter(Q(retired=False) | Q(pk=chosen))


class Supplier(WorkshopRow):
    name = models.CharField(max_length=100)
    makes = models.CharField("what they do", max_length=200, blank=True)
    currency = models.CharField(
        max_length=3, blank=True, validators=[currency_code], help_text="Empty: the workshop's own."
    )
    tax = percent("tax on their bills", default=Decimal(0), help_text="Percent; prices are kept without it.")
    delivery = money("delivery", help_text="For each order, to each place it goes to.")
    minimum_order = money("least order", help_text="An order for less is charged as this.")
    lead_days = models.PositiveSmallIntegerField("usually takes", default=0, help_text="Days, where a quote is silent.")
    days_to_pay = models.PositiveSmallIntegerField(default=0, help_text="After receipt.")
    recasts_free = models.BooleanField(
        "replaces bad castings free of charge", default=False, help_text="Work done on them until then is not paid."
    )
    contact = models.TextField("address and people", blank=True)
    note = models.TextField(blank=True)
    retired = models.BooleanField("no longer asked", default=False)

    objects: ClassVar = SupplierQuerySet.as_manager()

    class Meta:
        ordering = ["retired", "name"]
        constraints = [models.UniqueConstraint(fields=["workshop", "name"], name="one_supplier_of_a_name")]

    def __str__(self) -> str:
        return self.name

    @property
    def money_in(self) -> str:
        return self.currency or self.workshop.currency
