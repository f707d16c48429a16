"""An ensemble kept beside the forecast: fetched with it, and never in its way."""

from datetime import UTC, datetime, timedelta

import numpy as np
from django.conf import settings
from django.core.cache import cache
from django.db import transaction

from finishing.air.models import Ensemble, Forecast
from finishing.science.hours import Hours, utc
from finishing.weather import WeatherUnavailable, open_meteo
from finishing.workshops.models import Workshop

MODELS_RUN = timedelta(hours=6)  # ensembles are run every six or twelve hours
REMEMBERED = timedelta(hours=6)


def refresh_ensemble(workshop: Workshop, now: datetime, base_url: str = "") -> None:
    """Ask for the ensemble that the workshop has chosen, unless the last one is still new; what went wrong is kept in
    mind for last_trouble, and the forecast goes its way."""
    if workshop.weather_ensemble and not _still_new(workshop, now):
        cache.set(_trouble(workshop), _asked(workshop, now, base_url), REMEMBERED.total_seconds())


def last_trouble(workshop: Workshop) -> str:
    """Why no ensemble came when one was last asked for."""
    return cache.get(_trouble(workshop), "")


def _trouble(workshop: Workshop) -> str:
    return f"ensemble-trouble-{workshop.pk}"


def _still_new(workshop: Workshop, now: datetime) -> bool:
    last = Ensemble.objects.told_to(workshop, now)
    return bool(last and last.model == workshop.weather_ensemble and now < last.fetched_at + MODELS_RUN)


def _asked(workshop: Workshop, now: datetime, base_url: str) -> str:
    height = workshop.altitude.magnitude if workshop.altitude is not None else None
    try:
        text = open_meteo.get_ensemble(
            round(workshop.latitude, 4),
            round(workshop.longitude, 4),
            height,
            workshop.weather_ensemble,
            user_agent=settings.WEATHER_USER_AGENT,
            key=workshop.weather_key,
            base_url=base_url or open_meteo.ENSEMBLE_URL,
        )
        members = open_meteo.parse_ensemble(text)
    except WeatherUnavailable as error:
        return error.reason
    if min(_known_until(member) for member in members) <= utc(now):
        return f"{open_meteo.NAME}: its ensemble does not hold the hours ahead."
    keep_ensemble(workshop, members, now, model=workshop.weather_ensemble)
    return ""


@transaction.atomic
def keep_ensemble(workshop: Workshop, members: list[Hours], now: datetime, model: str) -> Ensemble:
    """The newest takes the place of those before it."""
    Ensemble.objects.of(workshop).delete()
    until = min(_known_until(member) for member in members)
    return Ensemble.objects.create(
        workshop=workshop,
        service=workshop.weather_service,
        model=model,
        fetched_at=now,
        until=until.item().replace(tzinfo=UTC),
        members=[Forecast.columns(member) for member in members],
    )


def _known_until(member: Hours) -> np.datetime64:
    """The end of its last known hour."""
    last = int(np.flatnonzero(member.known)[-1])
    return np.datetime64(member.times[last] + np.timedelta64(1, "h"), "m")
