"""The demonstration's air: what was foretold each day, and what loggers and people read. All of it is invented."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np

from finishing.air.actions.ensembles import keep_ensemble
from finishing.air.actions.weather import add_reading, import_logger_file, keep_forecast
from finishing.air.actions.years import keep_past_year, progress
from finishing.air.domain.outside_air import WorkshopAir
from finishing.air.models import Reading
from finishing.science.hours import Hours
from finishing.weather.invented import NAME, invented_hours, invented_members
from finishing.workshops.models import Place, User, Workshop

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
FORETOLD_DAYS = 27  # a little more than the oldest entry of the log
FOUR_DAYS, AHEAD = 96, 240  # hours of a forecast of days gone by, and of the newest
OFF_FROM, OFF_BY = 24, 0.03  # hours ahead from which those were off, and by how many degrees for each hour more
MEMBERS = 10
FETCHED = time(5, 30)
EVENING_FROM, EVENING_CLEAR = time(15, 0), time(16, 20)
DAMP = {14: 74, 15: 82, 16: 83, 17: 83, 18: 83, 19: 83, 20: 80}  # % under the lean-to, by the workshop's clock
STEADY = {"Ice house": (4.5, 90), "Dry store": (18.0, 38)}  # °C and % that hardly change


@dataclass(frozen=True)
class Diary:
    """Moments of the demonstration: days are counted back in working days, clocks are the workshop's."""

    workshop: Workshop
    now: datetime

    @property
    def today(self) -> date:
        return self.workshop.day_of(self.now)

    def day(self, back: int) -> date:
        """The working day that many before today; 0 is today, worked or not."""
        day = self.today
        for _ in range(back):
            day -= DAY
            while not self.works(day):
                day -= DAY
        return day

    def works(self, day: date) -> bool:
        return self.workshop.usually_works(day)

    def on(self, day: date, clock: time) -> datetime:
        return self.workshop.at(day, clock).astimezone(UTC)

    @property
    def air(self) -> WorkshopAir:
        """What is known of the air since well before the last working evening."""
        return WorkshopAir(self.workshop, self.now.replace(minute=0, second=0, microsecond=0) - 6 * DAY, self.now)

    @property
    def evening(self) -> date:
        """The last working evening, once it has begun."""
        begun = self.works(self.today) and self.on(self.today, EVENING_CLEAR) <= self.now
        return self.today if begun else self.day(1)

    def worked(self, days: int, every: int = 10) -> Iterator[datetime]:
        """Every few minutes of the last days' work, up to a little before now."""
        for back in range(days, -1, -1):
            day = self.day(back)
            moment = self.on(day, self.workshop.work_from)
            until = min(self.on(day, self.workshop.work_until), self.now) - timedelta(minutes=10)
            while self.works(day) and moment <= until:
                yield moment
                moment += timedelta(minutes=every)


@dataclass(frozen=True)
class Weather:
    """The same invented days stand round whatever day it is."""

    diary: Diary
    seed: int
    wetness: float
    season: int

    def hours(self, start: datetime, count: int) -> Hours:
        return invented_hours(start, count, self.seed, **self._settings)

    def members(self, hours: Hours) -> list[Hours]:
        return invented_members(hours, MEMBERS, self.seed, **self._settings)

    @property
    def _settings(self) -> dict[str, Any]:
        return {
            "latitude": self.diary.workshop.latitude,
            "wetness": self.wetness,
            "first_day": self.diary.on(self.diary.today, time(0)),
            "season": self.season,
        }


def store_forecasts(weather: Weather) -> None:
    """One forecast a day, as thinning would have left them, and the newest from now."""
    diary = weather.diary
    for back in range(FORETOLD_DAYS, 0, -1):
        fetched = diary.on(diary.today - back * DAY, FETCHED)
        _keep(weather, fetched, _off(weather.hours(fetched, FOUR_DAYS), seed=back))
    _keep(weather, diary.now, weather.hours(diary.now, AHEAD))
    keep_ensemble(diary.workshop, weather.members(weather.hours(diary.now, AHEAD)), diary.now, model=NAME)


def store_past_years(diary: Diary) -> None:
    """Which month? and the odds of a visit's day look back on years; their seasons are the calendar's."""
    for year in progress(diary.workshop, diary.now).wanted:
        keep_past_year(diary.workshop, year)


def _off(hours: Hours, seed: int) -> Hours:
    """As a forecast misses the air that came: the further ahead the more, and for hours on end."""
    random, ahead = np.random.default_rng(seed), np.arange(len(hours))
    day_to_day = np.interp(ahead, ahead[::12], random.normal(size=len(ahead[::12])))
    missed = day_to_day * np.where(ahead < OFF_FROM, 0.0, 0.5 + OFF_BY * (ahead - OFF_FROM))
    columns = {name: getattr(hours, name) for name in ("wind", "cloud", "sun", "rain", "rain_chance")}
    temperature = hours.temperature + missed
    dew_point = np.minimum(hours.dew_point - 0.5 * missed, temperature)
    return Hours.from_arrays(hours.start, temperature=temperature, dew_point=dew_point, **columns)


def _keep(weather: Weather, fetched: datetime, hours: Hours) -> None:
    keep_forecast(weather.diary.workshop, hours, fetched, issued_at=fetched, expires_at=fetched + 6 * HOUR)


def read_loggers(weather: Weather, places: dict[str, Place], loggers: list[dict[str, Any]], by: User) -> None:
    for logger in loggers:
        lines = [f"{at:%Y-%m-%d %H:%M},{air:.1f},{damp:.0f}" for at, air, damp in _logged(weather, **logger)]
        data = "\n".join(["Time,Temperature (°C),Humidity (%)", *lines]).encode()
        place, diary = places[logger["place"]], weather.diary
        import_logger_file(diary.workshop, place, data, zone="UTC", by=by, now=diary.now, day_first=False)


def _logged(weather: Weather, place: str, days: int, until: int = 0) -> Iterator[tuple[datetime, float, float]]:
    """Hour by hour to the full hour before now, or so many hours earlier where a logger was taken away."""
    last = weather.diary.now.replace(minute=0, second=0, microsecond=0) - until * HOUR
    foretold = weather.hours(last - days * DAY, days * 24 + 1)
    for hour in range(days * 24 + 1):
        moment = last - days * DAY + hour * HOUR
        outside = float(foretold.temperature[hour]), float(foretold.humidity[hour])
        yield moment, *_read_at(place, moment, outside, weather.diary)


def _read_at(place: str, moment: datetime, outside: tuple[float, float], diary: Diary) -> tuple[float, float]:
    if place in STEADY:
        return STEADY[place]
    clock = moment.astimezone(diary.workshop.zone)
    return outside[0], DAMP.get(clock.hour, outside[1]) if clock.date() == diary.evening else outside[1]


def type_readings(weather: Weather, places: dict[str, Place], typed: list[dict[str, Any]], by: User) -> None:
    """Readings taken by hand; those of a day not worked, or still to come, are left out."""
    diary = weather.diary
    for reading in typed:
        day, clock = diary.day(reading["day"]), time.fromisoformat(reading["clock"])
        taken_at = diary.on(day, clock)
        if not diary.works(day) or taken_at > diary.now:
            continue
        row = Reading(workshop=diary.workshop, place=places[reading["place"]], taken_at=taken_at, **reading["values"])
        add_reading(row, by=by)
