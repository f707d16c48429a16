"""The air of a workshop and of each of its places: what was read, then what is foretold."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any
from uuid import UUID

from finishing.air.models.weather import Forecast, Reading
from finishing.science.hours import Hours, utc
from finishing.workshops.models.workshops import Place, Workshop

AHEAD = timedelta(days=16)
REACH = timedelta(days=16)  # how far ahead a forecast may speak, so how old one may still cover the beginning


@dataclass
class WorkshopAir:
    """Air from `begin` to 16 days after `now`; hours that nobody read or foretold are not known.

    member: of an ensemble, whose hours stand before the forecasts'.
    """

    workshop: Workshop
    begin: datetime
    now: datetime
    member: Hours | None = None
    _places: dict[UUID, Hours] = field(default_factory=dict, init=False, repr=False)

    @cached_property
    def forecast(self) -> Forecast | None:
        """The newest forecast, whose age is shown wherever it is used."""
        return next(iter(self._forecasts), None)

    @cached_property
    def _forecasts(self) -> list[Forecast]:
        return list(Forecast.objects.told_to(self.workshop, self.now).filter(fetched_at__gte=self.begin - REACH))

    @cached_property
    def outdoor(self) -> Hours:
        """Outdoor readings first, then for each hour the newest forecast that covers it."""
        runs = [self._readings(place__kind__in=[Place.Kind.YARD, Place.Kind.ROOF]), self.member]
        runs += [forecast.to_hours() for forecast in self._forecasts]
        return self._joined([run for run in runs if run is not None])

    def of(self, place: Place) -> Hours:
        """The air at a place; a reading taken inside a shop stands before what the shop is reckoned to have."""
        if place.id not in self._places:
            self._places[place.id] = self._air_at(place)
        return self._places[place.id]

    def _air_at(self, place: Place) -> Hours:
        reckoned = place.reckoned(self.outdoor)
        if place.outdoors:
            return reckoned
        read = self._readings(place=place)
        if read is None:
            return reckoned
        # A reading speaks for the hour before it too, and every place must keep to the same hours.
        return read.under_roof().then(reckoned).between(reckoned.start, reckoned.end)

    def _readings(self, **where: Any) -> Hours | None:
        return Reading.objects.of(self.workshop).filter(**where).between(self.begin, self.now).to_hours()

    def _joined(self, runs: list[Hours]) -> Hours:
        """Each hour by the first of the runs that knows it."""
        start, stop = utc(self.begin), utc(self.now + AHEAD)
        joined = Hours.from_arrays(start.astype("datetime64[h]"), temperature=[float("nan")])
        for run in runs:
            joined = joined.then(run)
        return joined.between(start, stop)
