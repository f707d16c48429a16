"""Paint that was bought for a project: what came, and what was paid."""

from typing import ClassVar, Self

from django.db import models
from django.utils import timezone

from finishing.site.fields import QuantityField
from finishing.site.models import WorkshopQuerySet, WorkshopRow
from projects.site.fields import currency_code, money


class PaintReceiptQuerySet(WorkshopQuerySet["PaintReceipt"]):
    def standing(self) -> Self:
        """That no later one took back."""
        return self.filter(voids=None, voided_by=None)


class PaintReceipt(WorkshopRow):
    """Tins as they were paid for. Never changed; one that was wrong is voided by another."""

    append_only = True
    goes_with = "project"

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="paint_receipts")
    coating = models.ForeignKey("finishing.Coating", on_delete=models.PROTECT, related_name="+")
    litres = QuantityField("litres bought", unit="L", minimum=0.01, maximum=1000)
    price = money("paid for all of it", help_text="Without tax.")
    currency = models.CharField(max_length=3, validators=[currency_code])
    supplier = models.CharField("bought from", max_length=100, blank=True)
    bought_on = models.DateField("bought on")
    note = models.CharField(max_length=300, blank=True)
    voids = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="voided_by")
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now, editable=False)

    objects: ClassVar = PaintReceiptQuerySet.as_manager()

    class Meta:
        ordering = ["bought_on", "entered_at"]

    def __str__(self) -> str:
        return f"{self.litres:~P} of {self.coating}, {self.price} {self.currency}"
