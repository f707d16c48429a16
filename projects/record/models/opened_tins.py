"""Tins that were opened: when, what remains in them, whether the lid is shut; and until when their paint keeps."""

from datetime import date, timedelta
from functools import cached_property
from typing import ClassVar, Self

from django.db import models
from django.db.models import OuterRef, Q, Subquery
from django.utils import timezone

from finishing.science.units import Quantity
from finishing.site.fields import QuantityField, number
from finishing.site.models import WorkshopQuerySet, WorkshopRow


class OpenedTinQuerySet(WorkshopQuerySet["OpenedTin"]):
    def standing(self) -> Self:
        """With paint in them, as far as anybody has said."""
        latest = TinLook.objects.filter(tin=OuterRef("pk")).order_by("-entered_at").values("found")[:1]
        return self.annotate(last_found=Subquery(latest)).filter(Q(last_found=None) | ~Q(last_found__in=TinLook.ENDS))

    def told(self) -> Self:
        """With what its words name, and all that was seen of it since."""
        return self.select_related("coating", "workshop", "by").prefetch_related("looks__by")


class OpenedTin(WorkshopRow):
    """A tin from the day on which its lid came off. Never changed: what is seen of it later is a TinLook."""

    append_only = True

    coating = models.ForeignKey("finishing.Coating", on_delete=models.PROTECT, related_name="opened_tins")
    opened_on = models.DateField("opened on")
    litres = QuantityField(
        "in it then", unit="L", minimum=0.01, maximum=250, null=True, blank=True, help_text="Empty: nobody looked."
    )
    note = models.CharField(max_length=300, blank=True, help_text="Its batch, or on which shelf it stands.")
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, related_name="+", editable=False)
    entered_at = models.DateTimeField(default=timezone.now, editable=False)

    objects: ClassVar = OpenedTinQuerySet.as_manager()

    class Meta:
        ordering = ["opened_on", "entered_at"]

    def __str__(self) -> str:
        return f"{self.coating}, opened {self.opened_on:%-d %b %Y}"

    @cached_property
    def look(self) -> "TinLook | None":
        """The latest, which says how it stands."""
        return max(self.looks.all(), key=lambda look: look.entered_at, default=None)

    @property
    def standing(self) -> bool:
        """Paint is in it, as far as anybody has said."""
        return self.look is None or self.look.found not in TinLook.ENDS

    @property
    def lid_off(self) -> bool:
        return self.look is not None and self.look.found == TinLook.Found.LID_OFF

    @property
    def remains(self) -> Quantity | None:
        """As last said; None where nobody has."""
        if not self.standing:
            return None
        told = [look for look in self.looks.all() if look.litres is not None]
        return max(told, key=lambda look: look.entered_at).litres if told else self.litres

    @property
    def keeps_until(self) -> date | None:
        """The last day of the time that its sheet gives an opened tin; None where its sheet says nothing."""
        days = number(self.coating, "keeps_opened")
        return None if days is None else self.opened_on + timedelta(days=int(days))

    def over(self, day: date) -> bool:
        """Past its keeping time, which counts with the lid pressed home alone."""
        return self.standing and (self.lid_off or bool(self.keeps_until and self.keeps_until < day))


class TinLook(WorkshopRow):
    """Somebody looked at an opened tin. The latest says how it stands; none is changed."""

    append_only = True

    class Found(models.TextChoices):
        SHUT = "shut", "the lid is pressed home"
        LID_OFF = "lid off", "the lid was not shut tight"
        USED_UP = "used up", "it is used up"
        THROWN_AWAY = "thrown away", "it was thrown away"
        MISTAKE = "mistake", "it was never opened: entered by mistake"

    ENDS = (Found.USED_UP, Found.THROWN_AWAY, Found.MISTAKE)

    tin = models.ForeignKey(OpenedTin, on_delete=models.CASCADE, related_name="looks", editable=False)
    found = models.CharField("how it stands", max_length=12, choices=Found, default=Found.SHUT)
    litres = QuantityField("remains in it", unit="L", minimum=0, maximum=250, null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, related_name="+", editable=False)
    entered_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ["entered_at"]

    def __str__(self) -> str:
        return f"{self.tin}: {self.get_found_display()}"
