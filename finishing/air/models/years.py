"""Whole years of weather: past ones from an archive, and typical ones from files."""

from typing import ClassVar, Self

from django.db import models

from finishing.science.hours import Hours
from finishing.site.models import WorkshopQuerySet
from finishing.workshops.models.workshops import Workshop

from .weather import HoursRow

NEARLY_HERE = 0.01  # degrees: what rounding, or a step across the yard, may move a place


class YearQuerySet(WorkshopQuerySet["YearOfWeather"]):
    def past(self) -> Self:
        return self.filter(kind=YearOfWeather.Kind.PAST)

    def typical(self) -> Self:
        return self.filter(kind=YearOfWeather.Kind.TYPICAL)

    def here(self, workshop: Workshop) -> Self:
        """Past years of where the workshop stands now; it may have moved since they came. Invented ones are only for
        a workshop of invented weather, and fill no gap of another's."""
        latitude, longitude = workshop.latitude, workshop.longitude
        invented = Workshop.WeatherService.INVENTED
        made_up = models.Q(source=invented)
        return self.filter(
            made_up if workshop.weather_service == invented else ~made_up,
            latitude__range=(latitude - NEARLY_HERE, latitude + NEARLY_HERE),
            longitude__range=(longitude - NEARLY_HERE, longitude + NEARLY_HERE),
        )


class YearOfWeather(HoursRow):
    """A year by hour. A typical year stands in the year in which it was handed in, and is a record of none."""

    class Kind(models.TextChoices):
        PAST = "past", "past year"
        TYPICAL = "typical", "typical year"

    kind = models.CharField(max_length=10, choices=Kind)
    label = models.CharField(max_length=120)
    year = models.PositiveSmallIntegerField()
    source = models.CharField(max_length=40, help_text="The service, or the form of the file.")
    attribution = models.CharField("credit", max_length=200, blank=True)
    latitude = models.FloatField()
    longitude = models.FloatField()
    known = models.PositiveSmallIntegerField("hours known")
    notes = models.JSONField(default=list, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar = YearQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "-year", "label"]
        constraints = [
            models.UniqueConstraint(
                fields=["workshop", "year"], condition=models.Q(kind="past"), name="one_past_year_of_a_workshop"
            )
        ]

    def __str__(self) -> str:
        return self.label

    @property
    def invented(self) -> bool:
        return self.source == Workshop.WeatherService.INVENTED

    @property
    def count(self) -> int:
        """Hours that the year has."""
        return 8784 if self.year % 4 == 0 and (self.year % 100 or self.year % 400 == 0) else 8760

    @property
    def whole(self) -> bool:
        return self.known == self.count

    def keep(self, hours: Hours) -> None:
        self.hours, self.known = self.columns(hours), int(hours.known.sum())
