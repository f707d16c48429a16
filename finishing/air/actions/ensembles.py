"""An ensemble kept beside the forecast: fetched with it, and never in its way."""

from datetime import UTC, datetime, timedelta

import numpy as np
from django.conf import settings
from django.core.cache import cache
from django.db import transaction

from finishing.air.domain.past_forecasts import errors_outside
from finishing.air.models import Ensemble, Forecast
from finishing.science.forecast_errors import draw_members
from finishing.science.hours import HOUR, Hours, utc
from finishing.weather import WeatherUnavailable, open_meteo
from finishing.workshops.models import Workshop

MODELS_RUN = timedelta(hours=6)  # ensembles are run every six or twelve hours
REMEMBERED = timedelta(hours=6)
LEARNED, DRAWN = "learned", 20  # the model's name of members drawn from past errors, and how many


def refresh_ensemble(workshop: Workshop, now: datetime, base_url: str = "") -> None:
    """Ask for the ensemble that the workshop has chosen, unless the last one is still new; what went wrong is kept in
    mind for last_trouble, and the forecast goes its way."""
    last = Ensemble.objects.told_to(workshop, now)
    still_new = last and last.model == workshop.weather_ensemble and now < last.fetched_at + MODELS_RUN
    if workshop.weather_ensemble and not still_new:
        cache.set(_trouble_key(workshop), _fetch(workshop, now, base_url), REMEMBERED.total_seconds())


def last_trouble(workshop: Workshop) -> str:
    """Why no ensemble came when one was last asked for."""
    return cache.get(_trouble_key(workshop), "")


def _trouble_key(workshop: Workshop) -> str:
    return f"ensemble-trouble-{workshop.pk}"


def _fetch(workshop: Workshop, now: datetime, base_url: str) -> str:
    """Fetch and keep it; why it did not come, empty where it did."""
    try:
        text = open_meteo.get_ensemble(
            *workshop.position,
            workshop.weather_ensemble,
            user_agent=settings.WEATHER_USER_AGENT,
            key=workshop.weather_key,
            base_url=base_url or open_meteo.ENSEMBLE_URL,
        )
        members = open_meteo.parse_ensemble(text)
    except WeatherUnavailable as error:
        return error.reason
    if min(map(_known_until, members)) <= now:
        return f"{open_meteo.NAME}: its ensemble does not hold the hours ahead."
    keep_ensemble(workshop, members, now, model=workshop.weather_ensemble)
    return ""


def draw_ensemble(workshop: Workshop, forecast: Forecast, now: datetime) -> Ensemble | None:
    """Where no service's ensemble speaks of the hours ahead: members drawn round the forecast from what past ones were
    off by here. None where too little was read beside them; the same forecast draws the same.
    """
    last = Ensemble.objects.told_to(workshop, now)
    served = workshop.weather_ensemble or workshop.weather_service == Workshop.WeatherService.INVENTED
    if served and last is not None and last.model != LEARNED:
        return None
    hours = forecast.to_hours()
    hours = hours.between(utc(now), max(hours.end, utc(now) + HOUR))
    known = int(np.argmin(np.append(hours.known, False)))
    errors = errors_outside(workshop, now) if known else None
    if errors is None:
        return None
    ahead = hours.between(hours.start, hours.start + known * HOUR)
    return keep_ensemble(workshop, draw_members(ahead, errors, DRAWN, workshop.pk.int % 2**32), now, model=LEARNED)


@transaction.atomic
def keep_ensemble(workshop: Workshop, members: list[Hours], now: datetime, model: str) -> Ensemble:
    """The newest takes the place of those before it."""
    Ensemble.objects.of(workshop).delete()
    return Ensemble.objects.create(
        workshop=workshop,
        service=workshop.weather_service,
        model=model,
        fetched_at=now,
        until=min(map(_known_until, members)),
        members=[Forecast.columns(member) for member in members],
    )


def _known_until(member: Hours) -> datetime:
    """The end of its last known hour."""
    end = member.times[np.flatnonzero(member.known)[-1]] + HOUR
    moment: datetime = end.astype("datetime64[s]").item()
    return moment.replace(tzinfo=UTC)
