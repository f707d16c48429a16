"""How good the forecasts were at a place: the last one of each day held against what was read there afterwards."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np

from finishing.air.models.weather import Forecast, Reading
from finishing.science.forecast_errors import REACH, LeadErrors, hours_ahead, lead_errors
from finishing.science.hours import HOUR, Floats, Hours, utc
from finishing.science.metal import metal_temperature
from finishing.science.windows import Gates, weather_reasons
from finishing.weather.observations import Observation, hours_observed
from finishing.workshops.models.workshops import Place, Workshop

LEARNED_FROM = timedelta(days=90)  # an older forecast was made by an older model, and in another season
JUDGED = 30  # newest of them by which it is said how often workable came true: metal takes long to reckon
USUAL_WALL = 0.005  # m, volume by area of a casting of 10 mm: whose metal a place's hours are judged by


@dataclass(frozen=True, eq=False)
class Told:
    """A forecast as it was told, by the hour."""

    at: np.datetime64
    hours: Hours


def forecasts_told(workshop: Workshop, now: datetime) -> list[Told]:
    """The last of each day that the service it has now told for where it stands now, the newest first."""
    rows = Forecast.objects.told_to(workshop, now).filter(
        service=workshop.weather_service, fetched_at__gte=now - LEARNED_FROM
    )
    by_day: dict[str, Forecast] = {}
    for row in rows.defer("last_modified"):
        if row.is_for(workshop):
            by_day.setdefault(str(workshop.day_of(row.fetched_at)), row)
    return [Told(utc(row.issued_at or row.fetched_at), row.to_hours()) for row in by_day.values()]


@dataclass(frozen=True, eq=False)
class PastForecasts:
    """Forecasts for a place beside what was read there, or where it takes its air from."""

    place: Place
    told: Sequence[Told]
    now: datetime

    @cached_property
    def read(self) -> list[Observation]:
        """What was read there; not what was only said to stay."""
        rows = Reading.objects.of(self.place.workshop).filter(
            place=self.place, taken_at__gt=self.now - LEARNED_FROM, taken_at__lte=self.now
        )
        by_place = rows.observed(timedelta(minutes=self.place.workshop.reading_age_minutes))
        return [each for each in by_place.get(self.place.pk, []) if not each.said]

    @cached_property
    def _runs(self) -> list[tuple[Hours, Hours]]:
        """Of each forecast the air it foretold here, beside that which was read, from the hour it was told in."""
        if not self.read:
            return []
        observed = hours_observed(self.read)
        here = [(told.at, self.place.reckoned(told.hours)) for told in self.told if told.at < observed.end]
        return [hours_ahead(run, observed, at) for at, run in here]

    @cached_property
    def errors(self) -> LeadErrors:
        shape = (max(1, len(self._runs)), REACH)
        air, dew, rain, seen = (np.full(shape, np.nan) for _ in range(4))
        for row, (run, read) in enumerate(self._runs):
            air[row], dew[row] = run.temperature - read.temperature, run.dew_point - read.dew_point
            rain[row] = np.where(np.isnan(run.rain), np.nan, run.rain > 0)
            seen[row] = self._rain_seen(read.start)
        return lead_errors(air, dew, rain, seen)

    def _rain_seen(self, begin: np.datetime64) -> Floats:
        """By hour from there on: 1 where rain was seen, 0 where somebody looked and saw none."""
        times, rained = self._looked
        at = ((times - begin) / HOUR).astype(int)
        inside = (at >= 0) & (at < REACH)
        seen = np.full(REACH, np.nan)
        np.fmax.at(seen, at[inside], rained[inside])
        return seen

    @cached_property
    def _looked(self) -> tuple[np.ndarray, Floats]:
        looked = [each for each in self.read if each.raining is not None]
        times = np.array([utc(each.time) for each in looked], "datetime64[s]").astype("datetime64[h]")
        return times, np.array([float(bool(each.raining)) for each in looked])

    @cached_property
    def workable(self) -> tuple[Floats, Floats]:
        """By hour ahead: of how many hours foretold as workable the air was read, and in how many it was workable.

        For a usual casting at the usual gates. Sun, wind and rain are the forecast's in both: they are not read here;
        but rain that somebody saw counts.
        """
        foretold, came_true = np.zeros(REACH), np.zeros(REACH)
        for run, read in self._runs[:JUDGED]:
            metal = metal_temperature(run, USUAL_WALL, shelter=self.place.shelter, sky=True)
            then = read.then(run) if run.under_sky else read.under_roof().then(run)
            told = weather_reasons(run, metal, Gates()) == 0
            warmer = metal + then.temperature - run.temperature  # or colder: as far from its air as it was foretold
            true = (weather_reasons(then, warmer, Gates()) == 0) & (self._rain_seen(run.start) != 1)
            foretold += told & read.known
            came_true += told & read.known & true
        return foretold, came_true


def past_forecasts(workshop: Workshop, now: datetime) -> list[PastForecasts]:
    """Of each place, in order."""
    told = forecasts_told(workshop, now)
    places = list(Place.objects.of(workshop))
    for place in places:
        place.workshop = workshop
    return [PastForecasts(place, told, now) for place in places]


def errors_outside(workshop: Workshop, now: datetime) -> LeadErrors | None:
    """Learned at the place under the open air where most was read; None where that is too little anywhere."""
    outside = [past for past in past_forecasts(workshop, now) if past.place.outdoors]
    most = max(outside, key=lambda past: len(past.read), default=None)
    return most.errors if most is not None and most.errors.enough else None
