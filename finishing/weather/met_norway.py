"""MET Norway's Locationforecast 2.0: open, world-wide, no key.

The service asks of each caller (its Terms of Service): an identifying User-Agent with a way to be reached,
coordinates of at most four decimals, no request before `Expires`, `If-Modified-Since` with the very string of
`Last-Modified`, and credit for the data. Its JSON (described there as "point forecast JSON") has an instant for
each hour, and after some days only for each sixth; rain stands in blocks that begin at the instant.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from math import isfinite, nan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from finishing.science.hours import HOUR, RUNS_STRAIGHT, Flags, Floats, Hours

from . import ServiceHours, WeatherUnavailable
from .asking import Reply, ask

NAME = "MET Norway"
BASE_URL = "https://api.met.no/weatherapi/locationforecast/2.0/complete"
ATTRIBUTION = "Based on data from MET Norway"
ATTRIBUTION_URL = "https://api.met.no/"
LICENCE = "Norwegian Licence for Open Government Data (NLOD) 2.0 and Creative Commons Attribution 4.0 (CC BY 4.0)"
LICENCE_URL = "https://creativecommons.org/licenses/by/4.0/"

TIMEOUT = 15.0  # seconds of silence
LARGEST = 4_000_000  # bytes; a forecast is some 60 kB
LONGEST = 24 * 31  # hours from first to last; a forecast has about ten days
BLOCK = 6  # hours

# name there → lowest and highest that can be true, in the unit it must have
INSTANT = {
    "air_temperature": (-60, 60, "celsius"),
    "relative_humidity": (0, 100, "%"),
    "wind_speed": (0, 100, "m/s"),
    "cloud_area_fraction": (0, 100, "%"),
}
PERIOD = {
    "precipitation_amount": (0, 500, "mm"),
    "probability_of_precipitation": (0, 100, "%"),
}
POSSIBLE = INSTANT | PERIOD

REFUSALS = {
    400: "it did not understand the place asked for",
    403: "it refuses this caller: look at the contact address in the settings, and ask less often",
    404: "it has no such forecast",
    422: "it has no forecast for this place",
    429: "it was asked too often",
}


@dataclass(frozen=True)
class Response:
    """What the service sent, as it stands; `last_modified` goes back with the next request letter for letter."""

    text: str  # empty when not modified
    expires: datetime | None
    last_modified: str | None
    not_modified: bool
    deprecated: bool = False  # the service's way (203) to say that this version will end


def get_forecast(
    latitude: float,
    longitude: float,
    altitude: float | None,
    user_agent: str,
    last_modified: str | None = None,
    base_url: str = BASE_URL,
    timeout: float = TIMEOUT,
) -> Response:
    """Ask for a place; WeatherUnavailable says why nothing came."""
    if not user_agent.strip():
        raise ValueError("MET Norway asks each caller for an identifying User-Agent: give a contact address.")
    headers = {"User-Agent": user_agent, "If-Modified-Since": last_modified or ""}
    reply = ask(
        NAME,
        base_url,
        _place(latitude, longitude, altitude),
        {name: value for name, value in headers.items() if value},
        timeout=timeout,
        largest=LARGEST,
    )
    return _response(reply, last_modified)


def parse_response(text: str) -> ServiceHours:
    """The hours of a response's text and what is known about them.

    Where instants are six hours apart, temperature and dew point run straight between them, the block's rain is
    spread evenly over its hours, each hour has the whole block's chance, and the hours are marked coarse. An hour
    of its own without a chance takes that of the six hours it begins, which is never less. Hours between instants
    further apart, and values that cannot be true, are not known (NaN).
    """
    properties = _properties(text)
    refused: list[str] = []
    entries = _by_hour(properties["timeseries"], refused)
    start, end = min(entries), max(entries)
    if (end - start) / HOUR > LONGEST:
        raise WeatherUnavailable(f"{NAME}: the hours of its forecast lie further apart than a forecast reaches.")
    at = {int((when - start) / HOUR): data for when, data in sorted(entries.items())}
    hours = _hours(start, at, refused)
    if not np.isfinite(hours.dew_point).any():
        raise WeatherUnavailable(f"{NAME}: its forecast holds no air temperature and humidity.")
    return ServiceHours(hours, tuple(refused), _utc(_inside(properties, "meta").get("updated_at")))


# Asking


def _place(latitude: float, longitude: float, altitude: float | None) -> dict[str, str]:
    place = {"lat": f"{latitude:.4f}", "lon": f"{longitude:.4f}"}
    return place if altitude is None else place | {"altitude": f"{altitude:.0f}"}


def _response(reply: Reply, asked_since: str | None) -> Response:
    not_modified = reply.status == 304
    if reply.status not in (200, 203, 304):
        reason = REFUSALS.get(reply.status, "it cannot answer just now")
        raise WeatherUnavailable(f"{NAME} answered {reply.status}: {reason}.")
    return Response(
        text="" if not_modified else reply.text,
        expires=_moment(reply.headers.get("Expires")),
        last_modified=reply.headers.get("Last-Modified") or (asked_since if not_modified else None),
        not_modified=not_modified,
        deprecated=reply.status == 203,
    )


def _moment(header: str | None) -> datetime | None:
    try:
        moment = parsedate_to_datetime(header or "")
    except ValueError:
        return None
    return moment.replace(tzinfo=moment.tzinfo or UTC).astimezone(UTC)


# Understanding


def _properties(text: str) -> dict[str, Any]:
    try:
        properties = json.loads(text)["properties"]
        if not (isinstance(properties["timeseries"], list) and properties["timeseries"]):
            raise TypeError
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise WeatherUnavailable(f"{NAME} sent something that is no forecast.") from error
    _check_units(_inside(properties, "meta", "units"))
    return dict(properties)


def _check_units(units: Mapping[str, Any]) -> None:
    for name, (_, _, unit) in POSSIBLE.items():
        if units.get(name, unit) != unit:
            raise WeatherUnavailable(f"{NAME} gives {name} in {units[name]}, not in {unit} as documented.")


def _inside(data: object, *names: str) -> dict[str, Any]:
    """The object at the end of these names; an empty one where the way breaks off."""
    for name in names:
        data = data.get(name) if isinstance(data, dict) else None
    return data if isinstance(data, dict) else {}


def _by_hour(series: list[Any], refused: list[str]) -> dict[np.datetime64, dict[str, Any]]:
    entries: dict[np.datetime64, dict[str, Any]] = {}
    for entry in series:
        moment = _utc(entry.get("time") if isinstance(entry, dict) else None)
        if moment is None or moment.minute or moment.second or moment.microsecond:
            refused.append("an entry without a whole hour")
        else:
            entries[np.datetime64(moment.replace(tzinfo=None), "h")] = _inside(entry, "data")
    if not entries:
        raise WeatherUnavailable(f"{NAME} sent a forecast without hours.")
    return entries


def _utc(text: object) -> datetime | None:
    try:
        moment = datetime.fromisoformat(str(text))
        return moment.replace(tzinfo=moment.tzinfo or UTC).astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def _value(details: dict[str, Any], name: str, when: np.datetime64, refused: list[str]) -> float:
    value = details.get(name)
    if value is None:
        return nan
    low, high, unit = POSSIBLE[name]
    if isinstance(value, (int, float)) and not isinstance(value, bool) and low <= value <= high:
        return float(value)
    refused.append(f"{when} UTC: {name} {str(value)[:20]} {unit}")
    return nan


def _hours(start: np.datetime64, at: dict[int, dict[str, Any]], refused: list[str]) -> Hours:
    instants = np.array(list(at))
    count = instants[-1] + 1
    temperature, humidity, wind, cloud = _instants(start, at, count, refused)
    own = Hours.from_arrays(start, temperature=temperature, humidity=humidity, wind=wind, cloud=cloud / 100)
    rain, chance, spread = _rain(start, at, count, refused)
    straight = {name: _straight(instants, getattr(own, name)) for name in RUNS_STRAIGHT}
    between = ~np.isin(np.arange(count), instants)
    return Hours.from_arrays(start, **straight, rain=rain, rain_chance=chance, coarse=between | spread)


def _instants(start: np.datetime64, at: dict[int, dict[str, Any]], count: int, refused: list[str]) -> Floats:
    """Rows of INSTANT by hour; where one value of the air cannot be true its whole instant is doubted."""
    table = np.full((len(INSTANT), count), nan)
    for hour, data in at.items():
        before, details = len(refused), _inside(data, "instant", "details")
        values = [_value(details, name, start + hour * HOUR, refused) for name in INSTANT]
        if len(refused) == before:
            table[:, hour] = values
    return table


def _straight(instants: NDArray[np.int_], values: Floats) -> Floats:
    """Straight lines between instants at most a block apart; NaN between instants further apart or unknown."""
    hour = np.arange(len(values))
    behind = instants[np.searchsorted(instants, hour, side="right") - 1]
    ahead = instants[np.searchsorted(instants, hour)]
    return np.where(ahead - behind <= BLOCK, np.interp(hour, instants, values[instants]), nan)


def _rain(
    start: np.datetime64, at: dict[int, dict[str, Any]], count: int, refused: list[str]
) -> tuple[Floats, Floats, Flags]:
    """Rain, chance, and whether they come from a block: first each block, the later over the earlier, then hours."""
    rain, chance = np.full(count, nan), np.full(count, nan)
    spread = np.zeros(count, dtype=bool)
    for period, length in (("next_6_hours", BLOCK), ("next_1_hours", 1)):
        for hour, data in at.items():
            details = _inside(data, period, "details")
            amount, percent = (_value(details, name, start + hour * HOUR, refused) for name in PERIOD)
            block = slice(hour, hour + length)
            if isfinite(amount):
                rain[block], spread[block] = amount / length, length > 1
            if isfinite(percent):
                chance[block] = percent / 100
    return rain, chance, spread
