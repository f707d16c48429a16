"""The outside air as it was foretold and as it was read."""

from collections import defaultdict
from datetime import datetime, timedelta
from typing import Any, ClassVar, Self
from uuid import UUID

import numpy as np
from django.db import models

from finishing.science import air
from finishing.science.hours import COLUMNS, Hours
from finishing.science.units import Quantity
from finishing.site.fields import QuantityField
from finishing.site.models import WorkshopQuerySet, WorkshopRow
from finishing.weather.observations import Observation
from finishing.workshops.models.workshops import Place, Workshop


class HoursRow(WorkshopRow):
    """A row that keeps science's Hours by column, lists with null for what is not known."""

    hours = models.JSONField()

    class Meta:
        abstract = True

    @staticmethod
    def columns(hours: Hours) -> dict[str, Any]:
        """Hours as JSON can keep them."""
        columns = ((name, getattr(hours, name)) for name in COLUMNS)
        kept = {
            name: np.where(np.isnan(column), np.array(None), np.round(column, 4)).tolist() for name, column in columns
        }
        return {"start": str(hours.start), "coarse": hours.coarse.tolist(), **kept}

    def to_hours(self) -> Hours:
        return hours_of(self.hours)


def hours_of(kept: dict[str, Any]) -> Hours:
    """Hours again from what JSON kept of them."""
    columns = {name: np.array(kept[name], dtype=float) for name in COLUMNS}
    return Hours.from_arrays(np.datetime64(kept["start"]), coarse=kept["coarse"], **columns)


class ForecastQuerySet(WorkshopQuerySet["Forecast"]):
    def told_to(self, workshop: Workshop, now: datetime) -> Self:
        """The workshop's forecasts up to now, newest first; invented weather only where it is chosen.

        A clock set back must not wait for its own future.
        """
        own = self.of(workshop).filter(fetched_at__lte=now).order_by("-fetched_at")
        invented = Workshop.WeatherService.INVENTED
        return own if workshop.weather_service == invented else own.exclude(service=invented)


class Forecast(HoursRow):
    """One forecast as fetched."""

    service = models.CharField(max_length=20)
    fetched_at = models.DateTimeField()
    issued_at = models.DateTimeField(null=True, blank=True)
    checked_at = models.DateTimeField(help_text="When the service last said that this is still its newest.")
    expires_at = models.DateTimeField(null=True, blank=True)
    last_modified = models.CharField(max_length=60, blank=True)
    relied_on = models.BooleanField(default=False, help_text="A log entry's verdict came from it, so it is kept.")

    objects: ClassVar = ForecastQuerySet.as_manager()

    class Meta:
        ordering = ["-fetched_at"]
        indexes = [models.Index(fields=["workshop", "-fetched_at"])]

    def __str__(self) -> str:
        return f"{self.service}, {self.fetched_at:%Y-%m-%d %H:%M}"

    def holds(self, now: datetime) -> bool:
        """Not expired; a forecast checked in the future was checked by a clock that was wrong."""
        return self.checked_at <= now and self.expires_at is not None and now < self.expires_at

    def is_for(self, workshop: Workshop) -> bool:
        """By the service that it has now, for where it stands now."""
        return self.service == workshop.weather_service and self.hours.get("place") == list(workshop.position)


class EnsembleQuerySet(WorkshopQuerySet["Ensemble"]):
    def told_to(self, workshop: Workshop, now: datetime) -> "Ensemble | None":
        """The newest of the service that the workshop has chosen, while it still speaks of hours to come."""
        own = self.of(workshop).filter(service=workshop.weather_service, fetched_at__lte=now)
        newest = own.order_by("-fetched_at").first()
        return newest if newest and newest.until > now else None


class Ensemble(WorkshopRow):
    """One model run many times from beginnings that differ a little: how sure a forecast is. The newest is kept."""

    service = models.CharField(max_length=20)
    model = models.CharField(max_length=40)
    fetched_at = models.DateTimeField()
    until = models.DateTimeField(help_text="The hour up to which every member knows the air.")
    members = models.JSONField(help_text="Each member's hours by column.")

    objects: ClassVar = EnsembleQuerySet.as_manager()

    class Meta:
        ordering = ["-fetched_at"]

    def __str__(self) -> str:
        return f"{self.model}, {len(self.members)} members, {self.fetched_at:%Y-%m-%d %H:%M}"

    def ahead(self, now: datetime) -> list[Hours]:
        """Each member's hours from now on: what is gone by was the same for all."""
        return [member.between(now, member.end) for member in map(hours_of, self.members)]


SENSOR = "sensor "  # begins the source of what a sensor sends


class ReadingQuerySet(WorkshopQuerySet["Reading"]):
    def between(self, begin: datetime, end: datetime) -> Self:
        return self.filter(taken_at__gte=begin, taken_at__lt=end)

    def removable(self) -> Self:
        return self.filter(models.Q(source="typed") | models.Q(source__startswith=SENSOR))

    def observed(self, fresh_for: timedelta) -> dict[UUID, list[Observation]]:
        """By place what was read there, in order of time; each holds while it is fresh, or as long as was said."""
        columns = "place", "taken_at", "temperature", "humidity", "surface_temperature", "stays_until", "raining"
        rows = self.order_by("taken_at").values_list(*columns)
        by_place: dict[UUID, list[Observation]] = defaultdict(list)
        for place, taken_at, air_read, damp, surface, stays_until, raining in rows:
            holds = stays_until or taken_at + fresh_for
            said = stays_until is not None
            by_place[place].append(Observation(taken_at, air_read, damp, surface, holds, said, raining))
        return by_place

    def fresh_at(self, place: Place, now: datetime) -> "Reading | None":
        """The latest reading of a place, if it is not older than the workshop says a reading may be.

        What somebody said would stay like that is fresh until then.
        """
        oldest = now - timedelta(minutes=place.workshop.reading_age_minutes)
        latest = self.filter(place=place).latest_before(now)
        fresh = latest is not None and (latest.taken_at >= oldest or (latest.stays_until or oldest) >= now)
        return latest if fresh else None

    def latest_of_each_place(self, now: datetime) -> Self:
        """The newest reading of every place that has one."""
        of_this_place = Reading.objects.filter(place=models.OuterRef("place"), taken_at__lte=now)
        newest = of_this_place.order_by("-taken_at").values("pk")[:1]
        return self.filter(pk=models.Subquery(newest)).select_related("place")

    def latest_before(self, moment: datetime) -> "Reading | None":
        return self.filter(taken_at__lte=moment).order_by("-taken_at").first()


class Reading(WorkshopRow):
    """Air as read at a place, by hand or by a logger."""

    place = models.ForeignKey("finishing.Place", on_delete=models.PROTECT, related_name="readings")
    taken_at = models.DateTimeField()
    temperature = QuantityField("air", unit="°C", minimum=-40, maximum=50)
    humidity = QuantityField("humidity", unit="%", minimum=1, maximum=100)
    surface_temperature = QuantityField("surface", unit="°C", minimum=-40, maximum=80, null=True, blank=True)
    raining = models.BooleanField("it rains there", null=True, blank=True, help_text="Not known where nobody looked.")
    stays_until = models.DateTimeField(
        "it stays like this until",
        null=True,
        blank=True,
        help_text="For a place whose air is held, as a heated shop: until then no forecast is needed there.",
    )
    source = models.CharField(max_length=80, default="typed")
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects: ClassVar = ReadingQuerySet.as_manager()

    class Meta:
        ordering = ["-taken_at"]
        constraints = [
            models.UniqueConstraint(fields=["place", "taken_at", "source"], name="one_reading_a_moment_and_source")
        ]

    def __str__(self) -> str:
        return f"{self.place} {self.taken_at:%Y-%m-%d %H:%M}"

    @property
    def removable(self) -> bool:
        """As `ReadingQuerySet.removable` has it."""
        return self.source == "typed" or self.source.startswith(SENSOR)

    @property
    def dew_point(self) -> Quantity:
        return air.dew_point(self.temperature, self.humidity)

    @property
    def margin(self) -> Quantity | None:
        """Metal above dew point; None where the metal was not measured."""
        return None if self.surface_temperature is None else air.margin(self.surface_temperature, self.dew_point)
