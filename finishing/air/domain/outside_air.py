"""The air of a workshop and of each of its places: what was read or said there, then what is foretold."""

from collections.abc import Container, Hashable, Iterable
from copy import copy
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from uuid import UUID

from django.db.models import Count, Max, Q, Sum

from finishing.air.models.weather import Forecast, Reading
from finishing.science.hours import Hours, utc
from finishing.site.fields import columns_of
from finishing.weather.observations import Observation, apart_from_rain, hours_held, hours_observed
from finishing.workshops.models.workshops import Place, Workshop

AHEAD = timedelta(days=16)
REACH = timedelta(days=16)  # how far ahead a forecast may speak, so how old one may still cover the beginning


@dataclass
class WorkshopAir:
    """Air from `begin` to 16 days after `until`, which is `now` where nothing is said; what nobody told is not known.

    member: of an ensemble, whose hours stand before the forecasts'.
    """

    workshop: Workshop
    begin: datetime
    now: datetime
    member: Hours | None = None
    until: datetime | None = None
    _places: dict[tuple[UUID, bool], Hours] = field(default_factory=dict, init=False, repr=False)
    _stays: bool = field(default=False, init=False, repr=False)

    @cached_property
    def staying(self) -> "WorkshopAir":
        """The same, as if it stayed in each place as it was last known there."""
        other = copy(self)
        other._places, other._stays = {}, True
        return other

    def take_over(self, other: "WorkshopAir", places: Container[UUID]) -> None:
        """What another one, of the same hours and forecasts, has worked out already, for these places."""
        shared = ("_forecasts", "_foretold", "outdoor")
        vars(self).update({name: vars(other)[name] for name in shared if name in vars(other)})
        self._places |= {known: hours for known, hours in [*other._places.items()] if known[0] in places}

    @cached_property
    def forecast(self) -> Forecast | None:
        """The newest forecast, whose age is shown wherever it is used."""
        return next(iter(self._forecasts), None)

    @cached_property
    def _forecasts(self) -> list[Forecast]:
        told = Forecast.objects.told_to(self.workshop, min(self.now, self._end))
        return list(told.filter(fetched_at__gte=self.begin - REACH))

    @property
    def _end(self) -> datetime:
        return (self.until or self.now) + AHEAD

    @cached_property
    def outdoor(self) -> Hours:
        """The air outside as it is foretold: for each hour the newest forecast that covers it."""
        return self._joined(self._foretold)

    @cached_property
    def _foretold(self) -> list[Hours]:
        runs = [forecast.to_hours() for forecast in self._forecasts]
        return [self.member, *runs] if self.member else runs

    def of(self, place: Place) -> Hours:
        """The air at a place, with no more sun than it has and no warmer sky than is known."""
        return self._air(place, warmest=False)

    def in_full_sun(self, place: Place) -> Hours:
        """The same with all the warmth that sun and sky may bring there."""
        return self._air(place, warmest=True)

    def _air(self, place: Place, warmest: bool) -> Hours:
        if (place.pk, warmest) not in self._places:
            place.workshop = self.workshop  # so that no place reads it anew
            reckoned = place.reckoned_warmest if warmest else place.reckoned
            self._places[place.pk, warmest] = self._indoors(place, reckoned(self._outside(place)))
        return self._places[place.pk, warmest]

    def surfaces(self, place: Place) -> list[tuple[datetime, float]]:
        """When metal was measured there beside the air, and its temperature in °C."""
        read = self._readings.get(place.pk, ())
        return [(each.time, each.surface_temperature) for each in read if each.surface_temperature is not None]

    def _outside(self, place: Place) -> Hours:
        """What was read or said where the place takes its outside air from stands before the forecasts.

        What is only fresh fills what they leave; that no rain was seen does so too.
        """
        read = self._served(place, outdoors=True)
        told = _told(read)
        return self._joined([*told, *(self._foretold if told else [self.outdoor]), *_filling(read)])

    def _indoors(self, place: Place, reckoned: Hours) -> Hours:
        """What was read inside stands before what is reckoned."""
        read = [] if place.outdoors else self._served(place, outdoors=False)
        there = reckoned
        for told in reversed(_told(read)):
            there = told.under_roof().then(there)
        for filling in _filling(read):
            there = there.then(filling.under_roof())
        # A reading speaks for the hour before it too, and every place must keep to the same hours.
        there = there.between(reckoned.start, reckoned.end)
        return there.kept_on() if self._stays else there

    def _served(self, place: Place, outdoors: bool) -> list[Observation]:
        """Readings that serve a place: its own, and those of the place whose air it says that it shares."""
        taken_in = [other for other in (place, place.air_of) if other is not None and other.outdoors == outdoors]
        return sorted(each for other in taken_in for each in self._readings.get(other.pk, ()))

    @cached_property
    def _readings(self) -> dict[UUID, list[Observation]]:
        """By place, in order of time."""
        last = min(self.now, self._end)
        told = Reading.objects.of(self.workshop).filter(taken_at__lte=last)
        rows = told.filter(Q(taken_at__gte=self.begin) | Q(stays_until__gt=self.begin))
        return rows.observed(timedelta(minutes=self.workshop.reading_age_minutes))

    def _joined(self, runs: Iterable[Hours]) -> Hours:
        """Each hour by the first of the runs that knows it."""
        start, stop = utc(self.begin), utc(self._end)
        joined = Hours.from_arrays(start.astype("datetime64[h]"), temperature=[float("nan")])
        for run in runs:
            joined = joined.then(run)
        return joined.between(start, stop)


@dataclass(frozen=True)
class AirStamp:
    """What the air of a workshop rests on, in short; another one after a forecast, reading or setting."""

    everywhere: Hashable
    places: tuple[tuple[UUID, Hashable], ...]

    def same_places(self, other: "AirStamp") -> set[UUID]:
        """The ids of the places that have the same air by both; none where something else differs."""
        if self.everywhere != other.everywhere:
            return set()
        there = dict(other.places)
        return {pk for pk, rests_on in self.places if there.get(pk) == rests_on}


def air_stamp(workshop: Workshop, begin: datetime, now: datetime) -> AirStamp:
    """Of the air since `begin`.

    The hours of a forecast and the values of a reading are never written anew; where one reading goes and another
    comes, number, times or sums are others.
    """
    told = Forecast.objects.told_to(workshop, now).filter(fetched_at__gte=begin - REACH)
    read = Reading.objects.of(workshop).filter(taken_at__lte=now).order_by("place_id").values_list("place_id")
    read = read.filter(Q(taken_at__gte=begin) | Q(stays_until__gt=begin))
    sums = (Sum(name) for name in ("temperature", "humidity", "surface_temperature"))
    rain = {"seen": Count("pk", filter=Q(raining=True)), "none": Count("pk", filter=Q(raining=False))}
    read_there = {
        place: what for place, *what in read.annotate(Count("pk"), Max("taken_at"), Max("stays_until"), *sums, **rain)
    }
    places = Place.objects.of(workshop).select_related("air_of").order_by("pk")
    return AirStamp(
        (columns_of(workshop), tuple(workshop.days_off), tuple(told.values_list("pk", flat=True))),
        tuple(
            (
                place.pk,
                tuple(
                    (columns_of(other), *read_there.get(other.pk, ()))
                    for other in (place, place.air_of)
                    if other is not None
                ),
            )
            for place in places
        ),
    )


def _told(read: list[Observation]) -> list[Hours]:
    """What was read near an hour, and what somebody said would stay; rain only where it was seen."""
    said = [each for each in read if each.said]
    return [*([hours_observed(read)] if read else []), *([apart_from_rain(hours_held(said))] if said else [])]


def _filling(read: list[Observation]) -> list[Hours]:
    return [hours_held(read)] if read else []
