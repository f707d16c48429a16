"""The outside air as it was foretold and as it was read."""

from typing import Any, Self

from django.db import models

from finishing.fields import QuantityField

from .base import WorkshopQuerySet, WorkshopRow


class ForecastQuerySet(WorkshopQuerySet):
    def latest_of(self, workshop: Any) -> Any:
        return self.of(workshop).order_by("-fetched_at").first()

    def not_relied_on(self) -> Self:
        return self.filter(relied_on=False)


class Forecast(WorkshopRow):
    """One forecast as fetched. `hours` is science's Hours by column, lists with null for what is not known."""

    service = models.CharField(max_length=20)
    fetched_at = models.DateTimeField()
    issued_at = models.DateTimeField(null=True, blank=True)
    checked_at = models.DateTimeField(help_text="When the service last said that this is still its newest.")
    expires_at = models.DateTimeField(null=True, blank=True)
    last_modified = models.CharField(max_length=60, blank=True)
    hours = models.JSONField()
    relied_on = models.BooleanField(default=False, help_text="A log entry's verdict came from it, so it is kept.")

    objects = ForecastQuerySet.as_manager()

    class Meta:
        ordering = ["-fetched_at"]
        indexes = [models.Index(fields=["workshop", "-fetched_at"])]

    def __str__(self) -> str:
        return f"{self.service}, {self.fetched_at:%Y-%m-%d %H:%M}"


class ReadingQuerySet(WorkshopQuerySet):
    def between(self, begin: Any, end: Any) -> Self:
        return self.filter(taken_at__gte=begin, taken_at__lt=end)

    def latest_before(self, moment: Any) -> Any:
        return self.filter(taken_at__lte=moment).order_by("-taken_at").first()


class Reading(WorkshopRow):
    """Air as read at a place, by hand or by a logger."""

    place = models.ForeignKey("finishing.Place", on_delete=models.PROTECT, related_name="readings")
    taken_at = models.DateTimeField()
    temperature = QuantityField("air", unit="°C", minimum=-40, maximum=50)
    humidity = QuantityField("humidity", unit="%", minimum=1, maximum=100)
    surface_temperature = QuantityField("surface", unit="°C", minimum=-40, maximum=80, null=True, blank=True)
    source = models.CharField(max_length=80, default="typed")
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects = ReadingQuerySet.as_manager()

    class Meta:
        ordering = ["-taken_at"]
        constraints = [
            models.UniqueConstraint(fields=["place", "taken_at", "source"], name="one_reading_a_moment_and_source")
        ]

    def __str__(self) -> str:
        return f"{self.place} {self.taken_at:%Y-%m-%d %H:%M}"
