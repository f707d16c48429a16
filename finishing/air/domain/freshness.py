"""How old the forecast in use is, whose it is, and whether a newer one should be asked for."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.core.cache import cache

from finishing.air.models.weather import Forecast
from finishing.weather import met_norway, open_meteo
from finishing.workshops.models.workshops import Workshop

Service = Workshop.WeatherService

OLD = timedelta(hours=3)  # a forecast not confirmed for so long is called old


@dataclass(frozen=True)
class Credit:
    """What a service asks to be said of it wherever its data are shown."""

    words: str
    address: str
    licence: str
    licence_address: str


CREDITS: dict[str, Credit] = {
    service: Credit(source.ATTRIBUTION, source.ATTRIBUTION_URL, source.LICENCE, source.LICENCE_URL)
    for service, source in ((Service.MET_NORWAY, met_norway), (Service.OPEN_METEO, open_meteo))
}


@dataclass(frozen=True)
class Freshness:
    """The forecast in use, its age, and whether a newer one should be asked for."""

    forecast: Forecast | None
    served: bool  # the workshop has a service
    expired: bool
    ask: bool
    old: bool
    trouble: str  # why no newer forecast came, when it was last tried

    @property
    def credit(self) -> Credit | None:
        return CREDITS.get(self.forecast.service) if self.forecast else None

    @property
    def invented(self) -> bool:
        return self.forecast is not None and self.forecast.service == Service.INVENTED


def freshness(workshop: Workshop, now: datetime) -> Freshness:
    """For every page that uses the forecast, beside {% include "finishing/air/weather/_freshness.html" %}."""
    forecast = Forecast.objects.told_to(workshop, now).first()
    return Freshness(
        forecast,
        served=workshop.weather_service != Service.NONE,
        expired=forecast is None or not forecast.holds(now),
        ask=should_ask(workshop, forecast, now),
        old=forecast is not None and now - forecast.checked_at > OLD,
        trouble=cache.get(trouble_key(workshop), ""),
    )


def should_ask(workshop: Workshop, forecast: Forecast | None, now: datetime) -> bool:
    """Not while the last answer holds, nor again within minutes, however many look."""
    fresh = forecast is not None and forecast.is_for(workshop) and forecast.holds(now)
    return workshop.weather_service != Service.NONE and not fresh and not cache.get(asked_key(workshop))


def asked_key(workshop: Workshop) -> str:
    """Under which the cache remembers that the service was asked a moment ago."""
    return f"weather-asked-{workshop.pk}"


def trouble_key(workshop: Workshop) -> str:
    """Under which the cache remembers why no newer forecast came."""
    return f"weather-trouble-{workshop.pk}"
