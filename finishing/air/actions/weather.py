"""The weather a workshop keeps: forecasts fetched and thinned out, readings added, a logger's file taken in."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.core.cache import cache
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError
from django.dispatch import Signal

from finishing.air.domain.freshness import asked_key, trouble_key
from finishing.air.models import Forecast, Reading
from finishing.science.hours import Hours, utc
from finishing.weather import WeatherUnavailable, invented, met_norway, open_meteo
from finishing.weather.logger import LoggerFile, LoggerUnreadable, parse_logger
from finishing.weather.observations import Observation
from finishing.workshops.models import Place, User, Workshop

from .ensembles import draw_ensemble, keep_ensemble, refresh_ensemble

Service = Workshop.WeatherService

ASK_AGAIN = timedelta(minutes=30)  # where the service does not say when
MODELS_RUN = timedelta(hours=1)  # Open-Meteo says nothing of expiry; what it is made from is renewed so often at most
NEVER_LATER = timedelta(days=1)  # an expiry beyond this is a mistake, here or there
BETWEEN_PAGES = timedelta(minutes=5)
REMEMBERED = timedelta(hours=1)
INVENTED_AHEAD = 10 * 24  # hours
INVENTED_FOR = timedelta(hours=6)
INVENTED_MEMBERS = 10
UNTHINNED = timedelta(days=2)  # bare iron of yesterday is still reckoned by what was foretold from hour to hour
CLOCKS_APART = timedelta(minutes=10)  # a logger's clock is never set to the second
LOGGER = "logger"
BATCH = 500  # rows in one statement
MOST = 50_000  # readings at once, a month by the minute: others wait while they are written


# Of a workshop, many at once, before the transaction ends: rows made so send no signal of their own.
readings_imported = Signal()


@dataclass(frozen=True)
class Fetched:
    """The forecast that holds now, whether it is a new one, and why none came, in words for a person."""

    forecast: Forecast | None
    news: bool = False
    trouble: str = ""
    left_out: int = 0  # values that could not be true


# Forecasts


def fetch_forecast(workshop: Workshop, now: datetime, base_url: str = "") -> Fetched:
    """Ask the workshop's service, unless its last answer still holds; whatever goes wrong, the last one stays."""
    last = Forecast.objects.told_to(workshop, now).first()
    if workshop.weather_service == Service.NONE:
        return Fetched(last, trouble="No weather service is chosen: only readings tell the air.")
    known = last if last and last.is_for(workshop) else None
    if known and known.holds(now):
        return Fetched(known)
    try:
        fetched = _new(workshop, now, known, base_url)
    except WeatherUnavailable as error:
        return Fetched(last, trouble=error.reason)
    if fetched.news and fetched.forecast is not None:
        thin_forecasts(workshop, now)
        draw_ensemble(workshop, fetched.forecast, now)
    return fetched


def refresh_forecast(workshop: Workshop, now: datetime) -> Fetched:
    """Fetch for a page that somebody looks at: however many look, the service is asked at most every few minutes."""
    if not cache.add(asked_key(workshop), True, BETWEEN_PAGES.total_seconds()):
        last = Forecast.objects.told_to(workshop, now).first()
        return Fetched(last, trouble=cache.get(trouble_key(workshop), ""))
    fetched = fetch_forecast(workshop, now)
    cache.set(trouble_key(workshop), fetched.trouble, REMEMBERED.total_seconds())
    return fetched


def keep_forecast(workshop: Workshop, hours: Hours, now: datetime, **facts: Any) -> Forecast:
    """A forecast as it came, with the place and service it is for."""
    facts = {"service": workshop.weather_service, "checked_at": now, "expires_at": now + ASK_AGAIN, **facts}
    columns = {**Forecast.columns(hours), "place": list(workshop.position)}
    return Forecast.objects.create(workshop=workshop, fetched_at=now, hours=columns, **facts)


@transaction.atomic
def thin_forecasts(workshop: Workshop, now: datetime) -> int:
    """Of days gone by, keep what a log entry relied on and the newest of each day; the newest of all always stays."""
    seen, dropped = set(), 0
    newest_first = Forecast.objects.of(workshop).filter(fetched_at__lte=now).defer("hours").order_by("-fetched_at")
    for forecast in newest_first:
        day = workshop.day_of(forecast.fetched_at)
        if day in seen and now - forecast.fetched_at > UNTHINNED and not forecast.relied_on:
            dropped += _drop(forecast)
        seen.add(day)
    return dropped


def _drop(forecast: Forecast) -> int:
    try:
        return forecast.delete()[0]
    except ProtectedError:  # an entry refers to it, so it is relied on
        Forecast.objects.filter(pk=forecast.pk).update(relied_on=True)
        return 0


def _new(workshop: Workshop, now: datetime, known: Forecast | None, base_url: str) -> Fetched:
    match workshop.weather_service:
        case Service.INVENTED:
            return _invent(workshop, now, known)
        case Service.OPEN_METEO:
            return _ask_open_meteo(workshop, now, base_url or open_meteo.FORECAST_URL)
    return _ask_met_norway(workshop, now, known, base_url or met_norway.BASE_URL)


def _ask_met_norway(workshop: Workshop, now: datetime, known: Forecast | None, base_url: str) -> Fetched:
    answer = met_norway.get_forecast(
        *workshop.position,
        user_agent=settings.WEATHER_USER_AGENT,
        last_modified=known.last_modified if known else None,
        base_url=base_url,
    )
    expires_at = now + ASK_AGAIN if answer.expires is None else min(answer.expires, now + NEVER_LATER)
    if answer.not_modified and known:
        known.checked_at, known.expires_at = now, expires_at
        known.save(update_fields=["checked_at", "expires_at"])
        return Fetched(known)
    read = met_norway.parse_response(answer.text)
    _check_reach(read.hours, now, met_norway.NAME)
    forecast = keep_forecast(
        workshop,
        read.hours,
        now,
        issued_at=read.issued,
        expires_at=expires_at,
        last_modified=answer.last_modified or "",
    )
    return Fetched(forecast, news=True, left_out=len(read.refused))


def _ask_open_meteo(workshop: Workshop, now: datetime, base_url: str) -> Fetched:
    text = open_meteo.get_forecast(
        *workshop.position, user_agent=settings.WEATHER_USER_AGENT, key=workshop.weather_key, base_url=base_url
    )
    read = open_meteo.parse_response(text)
    _check_reach(read.hours, now, open_meteo.NAME)
    refresh_ensemble(workshop, now, "" if base_url == open_meteo.FORECAST_URL else base_url)
    forecast = keep_forecast(workshop, read.hours, now, expires_at=now + MODELS_RUN)
    return Fetched(forecast, news=True, left_out=len(read.refused))


def _check_reach(hours: Hours, now: datetime, service: str) -> None:
    if hours.end <= utc(now) or hours.start > utc(now + NEVER_LATER):
        raise WeatherUnavailable(
            f"{service} sent hours from {hours.start} to {hours.end} UTC, which are not the hours ahead:"
            " is the clock of this computer right?"
        )


def _invent(workshop: Workshop, now: datetime, known: Forecast | None) -> Fetched:
    """What was invented before stays as it was told; new hours only follow it."""
    seed, latitude, longitude = workshop.pk.int % 2**32, workshop.latitude, workshop.longitude
    fresh = invented.invented_hours(now, INVENTED_AHEAD, seed, latitude=latitude, longitude=longitude)
    hours = known.to_hours().between(fresh.start, fresh.end).then(fresh) if known else fresh
    members = invented.invented_members(hours, INVENTED_MEMBERS, seed, latitude=latitude, longitude=longitude)
    keep_ensemble(workshop, members, now, model=invented.NAME)
    return Fetched(keep_forecast(workshop, hours, now, expires_at=now + INVENTED_FOR), news=True)


# Readings


def add_reading(reading: Reading, *, by: User) -> None:
    reading.by = by
    try:
        with transaction.atomic():
            reading.save(force_insert=True)
    except IntegrityError:
        pass  # the same form came twice at once: the reading is there


@dataclass(frozen=True)
class Imported:
    """What a logger's file gave: how much of it is new, and how much of it a wrong clock set in the future."""

    file: LoggerFile
    observed: list[Observation]
    added: int = 0
    in_future: int = 0

    @property
    def known_before(self) -> int:
        return len(self.observed) - self.added


def import_logger_file(
    workshop: Workshop,
    place: Place,
    data: bytes,
    *,
    zone: str,
    by: User,
    now: datetime,
    day_first: bool | None = None,
) -> Imported:
    """Every good line once, however often the file comes; nothing where day and month must first be told apart."""
    file = parse_logger(data, zone, day_first)
    observed = [seen for seen in file.readings if seen.time <= now + CLOCKS_APART]
    if file.ambiguous_dates:
        return Imported(file, observed)
    if len(observed) > MOST:
        raise LoggerUnreadable(f"The file holds {len(observed):,} readings, more than {MOST:,}: take a shorter time.")
    rows = [
        Reading(
            workshop=workshop,
            place=place,
            by=by,
            source=LOGGER,
            taken_at=seen.time,
            temperature=seen.temperature,
            humidity=seen.humidity,
            surface_temperature=seen.surface_temperature,
        )
        for seen in observed
    ]
    return Imported(file, observed, _add_unknown(place, rows), len(file.readings) - len(observed))


@transaction.atomic
def _add_unknown(place: Place, rows: list[Reading]) -> int:
    logged = Reading.objects.of(place.workshop).filter(place=place, source=LOGGER)
    known = set(logged.values_list("taken_at", flat=True))
    new = [row for row in rows if row.taken_at not in known]
    Reading.objects.bulk_create(new, batch_size=BATCH, ignore_conflicts=True)
    if new:
        readings_imported.send(Reading, workshop_id=place.workshop_id)
    return len(new)
