"""Years of weather: ten past ones fetched one after another, each kept as it comes; typical ones taken from files."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from django.conf import settings
from django.core.cache import cache
from django.db import transaction

from finishing.air.models import YearOfWeather
from finishing.science.hours import HOUR, Hours
from finishing.weather import WeatherUnavailable, invented, open_meteo
from finishing.weather.typical_file import parse_typical_year
from finishing.workshops.models import Workshop

YEARS_BACK = 10
ARCHIVE_LAGS = timedelta(days=8)  # reanalyses are made some five days behind the present
ONE_AT_A_TIME = timedelta(minutes=3)  # after this a request that never came back no longer holds up the next
ARCHIVE = "archive"
NO_SERVICE = "No weather service is chosen in the settings, so none is asked for past years."

Kind = YearOfWeather.Kind


@dataclass(frozen=True)
class Progress:
    """How far the past years are here, and why the last request brought none, in words for a person."""

    wanted: list[int]  # newest first
    missing: list[int]
    trouble: str = ""

    @property
    def here(self) -> int:
        return len(self.wanted) - len(self.missing)

    @property
    def done(self) -> bool:
        return not self.missing


def progress(workshop: Workshop, now: datetime, trouble: str = "") -> Progress:
    last = (now - ARCHIVE_LAGS).year - 1
    wanted = list(range(last, last - YEARS_BACK, -1))
    here = set(YearOfWeather.objects.of(workshop).past().here(workshop).values_list("year", flat=True))
    return Progress(wanted, [year for year in wanted if year not in here], trouble)


def fetch_next_year(workshop: Workshop, now: datetime, base_url: str = open_meteo.ARCHIVE_URL) -> Progress:
    """Fetch the newest year that is not here; what came before stays, so a row of requests may break off anywhere."""
    before = progress(workshop, now)
    if before.done:
        return before
    if workshop.weather_service == Workshop.WeatherService.NONE:
        return progress(workshop, now, NO_SERVICE)
    if not cache.add(_under_way(workshop), True, ONE_AT_A_TIME.total_seconds()):
        return progress(workshop, now, "A year is being fetched already; the archive wants one request at a time.")
    try:
        keep_past_year(workshop, before.missing[0], base_url)
    except WeatherUnavailable as error:
        return progress(workshop, now, error.reason)
    finally:
        cache.delete(_under_way(workshop))
    return progress(workshop, now)


def _under_way(workshop: Workshop) -> str:
    return f"year-under-way-{workshop.pk}"


def keep_past_year(workshop: Workshop, year: int, base_url: str = open_meteo.ARCHIVE_URL) -> YearOfWeather:
    """One past year of where the workshop stands; one from where it stood before makes room."""
    made_up = workshop.weather_service == Workshop.WeatherService.INVENTED
    hours = _invented_year(workshop, year) if made_up else _from_archive(workshop, year, base_url)
    row = YearOfWeather(
        workshop=workshop,
        kind=Kind.PAST,
        label=str(year),
        year=year,
        source=Workshop.WeatherService.INVENTED if made_up else ARCHIVE,
        attribution=invented.ATTRIBUTION if made_up else open_meteo.ATTRIBUTION,
        latitude=workshop.latitude,
        longitude=workshop.longitude,
    )
    row.keep(hours)
    if not row.whole:
        row.notes = [f"{row.known:,} of {row.count:,} hours are known; the others are left out."]
    with transaction.atomic():
        YearOfWeather.objects.of(workshop).past().filter(year=year).delete()
        row.save(force_insert=True)
    return row


def _from_archive(workshop: Workshop, year: int, base_url: str) -> Hours:
    text = open_meteo.get_archive(
        *workshop.position,
        year,
        user_agent=settings.WEATHER_USER_AGENT,
        key=workshop.weather_key,
        base_url=base_url,
    )
    return open_meteo.parse_archive(text, year)


def _invented_year(workshop: Workshop, year: int) -> Hours:
    start, end = (np.datetime64(f"{y}-01-01T00") for y in (year, year + 1))
    count, seed = int((end - start) / HOUR), workshop.pk.int % 2**32
    return invented.invented_hours(start, count, seed, latitude=workshop.latitude, longitude=workshop.longitude)


def keep_typical_year(row: YearOfWeather, data: bytes, now: datetime) -> None:
    """A file's year into a row made ready with its workshop; TypicalYearUnreadable says what is wrong with the file."""
    year = parse_typical_year(data)
    station = year.station
    row.kind, row.year, row.source = Kind.TYPICAL, now.year, year.form
    row.label = f"{station.name or 'Typical year'}, {year.form}"[:120]
    row.latitude, row.longitude, row.notes = station.latitude, station.longitude, list(year.notes)
    if moved := station.hours_behind(row.workshop.longitude):
        row.notes.append(f"Its hours are set by the sun of here, {abs(moved)} h {'later' if moved > 0 else 'earlier'}.")
    row.keep(year.in_year(now.year, row.workshop.longitude))
    row.save()
