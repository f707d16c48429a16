"""Open-Meteo: forecasts of sixteen days, ensembles of them, and an archive of past years from 1940 on.

Its terms: without a key for non-commercial use only; a business subscribes, and its key goes to servers of their
own (customer-…) as `apikey`. The data are CC BY 4.0 and their credit is a link beside them. The archive is made
of reanalyses, days behind the present; it wants one request at a time, and a year is one request.

Its JSON has for each variable a list as long as the list of times. Temperatures, wind and cloud are of that
instant; rain, its chance and the sun are of the hour that ends there, so they belong to our hour before it.

An ensemble is one model run many times from beginnings that differ a little. Its control run bears a variable's own
name, each other member the same with …_member01, 02 and so on behind. Rain of a member has no chance: it rains, or not.
"""

import json
import re
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from finishing.science.hours import HOUR, Floats, Hours

from . import ServiceHours, WeatherUnavailable
from .asking import Reply, ask

NAME = "Open-Meteo"
FORECAST_URL = "https://api.open-meteo.com/v1/forecast"
ARCHIVE_URL = "https://archive-api.open-meteo.com/v1/archive"
ENSEMBLE_URL = "https://ensemble-api.open-meteo.com/v1/ensemble"
ATTRIBUTION = "Weather data by Open-Meteo.com"
ATTRIBUTION_URL = "https://open-meteo.com/"
LICENCE = "Creative Commons Attribution 4.0 (CC BY 4.0)"
LICENCE_URL = "https://creativecommons.org/licenses/by/4.0/"
TERMS = "Free of charge for non-commercial use only; a business needs its own key."
TERMS_URL = "https://open-meteo.com/en/terms"

TIMEOUT = 30.0  # seconds of silence: a year of the archive is long in coming
LARGEST = 8_000_000  # bytes; a year is some 600 kB
LONGEST = 24 * 370  # hours from first to last
DAYS = 16
FIRST_YEAR = 1940


@dataclass(frozen=True)
class Variable:
    """What is asked for by name: our column, lowest and highest that can be true, unit there, and our part of it."""

    column: str
    low: float
    high: float
    unit: str
    share: float = 1.0
    ends_there: bool = False  # of the hour that ends at the time, not of the instant


VARIABLES = {
    "temperature_2m": Variable("temperature", -90, 60, "°C"),
    "relative_humidity_2m": Variable("humidity", 0, 100, "%"),
    "dew_point_2m": Variable("dew_point", -100, 60, "°C"),
    "wind_speed_10m": Variable("wind", 0, 120, "m/s"),
    "cloud_cover": Variable("cloud", 0, 100, "%", 0.01),
    "shortwave_radiation": Variable("sun", 0, 1600, "W/m²", ends_there=True),
    "precipitation": Variable("rain", 0, 500, "mm", ends_there=True),
    "precipitation_probability": Variable("rain_chance", 0, 100, "%", 0.01, ends_there=True),
}
OF_THE_PAST = [name for name in VARIABLES if name != "precipitation_probability"]
OF_A_MEMBER = [name for name in OF_THE_PAST if name != "dew_point_2m"]  # it follows from the humidity
MEMBER = re.compile(r"temperature_2m(_member\d+)?")

REFUSALS = {
    401: "it does not know this key: look at the key in the settings",
    403: "it refuses this caller: look at the key in the settings",
    429: "it was asked too often, or by several at once: try again later",
}


def get_forecast(
    latitude: float,
    longitude: float,
    altitude: float | None,
    user_agent: str,
    key: str = "",
    base_url: str = FORECAST_URL,
    timeout: float = TIMEOUT,
) -> str:
    """Ask for a place; WeatherUnavailable says why nothing came."""
    query = {"hourly": ",".join(VARIABLES), "forecast_days": str(DAYS)}
    return _get(base_url, _place(latitude, longitude, altitude) | query, user_agent, key, timeout)


def get_archive(
    latitude: float,
    longitude: float,
    altitude: float | None,
    year: int,
    user_agent: str,
    key: str = "",
    base_url: str = ARCHIVE_URL,
    timeout: float = TIMEOUT,
) -> str:
    """Ask for one past year of a place, and the first day of the next: what falls in the last hour stands there."""
    if year < FIRST_YEAR:
        raise ValueError(f"the archive begins with {FIRST_YEAR}")
    axis = {"start_date": f"{date(year, 1, 1)}", "end_date": f"{date(year + 1, 1, 1)}"}
    query = {"hourly": ",".join(OF_THE_PAST)} | axis
    return _get(base_url, _place(latitude, longitude, altitude) | query, user_agent, key, timeout)


def get_ensemble(
    latitude: float,
    longitude: float,
    altitude: float | None,
    model: str,
    user_agent: str,
    key: str = "",
    base_url: str = ENSEMBLE_URL,
    timeout: float = TIMEOUT,
) -> str:
    """Ask for all members of one model's ensemble at a place."""
    query = {"hourly": ",".join(OF_A_MEMBER), "forecast_days": str(DAYS), "models": model}
    return _get(base_url, _place(latitude, longitude, altitude) | query, user_agent, key, timeout)


def parse_archive(text: str, year: int) -> Hours:
    """A whole year from the archive's text; hours that it leaves out are not known."""
    start, end = (np.datetime64(f"{y}-01-01T00") for y in (year, year + 1))
    hours = parse_response(text).hours.between(start, end)
    if not hours.known.any():
        raise WeatherUnavailable(f"{NAME}: its archive holds no air for {year}.")
    return hours


def parse_response(text: str) -> ServiceHours:
    """The hours of a response's text and what was refused. Values that cannot be true are not known (NaN)."""
    hourly = _hourly(text)
    refused: list[str] = []
    hours = _hours(hourly, _time_axis(hourly["time"], refused), refused)
    if not hours.known.any():
        raise WeatherUnavailable(f"{NAME}: it sent no air temperature and humidity.")
    return ServiceHours(hours, tuple(refused))


def parse_ensemble(text: str) -> list[Hours]:
    """The hours of each member, the control run first; a member without any air is left out."""
    hourly = _hourly(text)
    axis = _time_axis(hourly["time"], [])
    suffixes = sorted(match[1] or "" for name in hourly if (match := MEMBER.fullmatch(name)))
    members = [_hours(hourly, axis, [], suffix) for suffix in suffixes]
    members = [member for member in members if member.known.any()]
    if len(members) < 2:
        raise WeatherUnavailable(f"{NAME}: it sent no ensemble.")
    # in a member it rains or not: there is no chance of it
    return [replace(member, rain_chance=np.where(np.isnan(member.rain), np.nan, 0.0)) for member in members]


# Asking


def _place(latitude: float, longitude: float, altitude: float | None) -> dict[str, str]:
    place = {"latitude": f"{latitude:.4f}", "longitude": f"{longitude:.4f}"}
    return place if altitude is None else place | {"elevation": f"{altitude:.0f}"}


def _get(base_url: str, query: dict[str, str], user_agent: str, key: str, timeout: float) -> str:
    query = query | {"timezone": "GMT", "wind_speed_unit": "ms"}
    if key:  # known only to the servers for those who pay
        query = query | {"apikey": key}
        if base_url in (FORECAST_URL, ARCHIVE_URL, ENSEMBLE_URL):
            base_url = base_url.replace("https://", "https://customer-")
    reply = ask(NAME, base_url, query, {"User-Agent": user_agent}, timeout=timeout, largest=LARGEST)
    if reply.status != 200:
        raise WeatherUnavailable(f"{NAME} answered {reply.status}: {_reason(reply, key)}.")
    return reply.text


def _reason(reply: Reply, key: str) -> str:
    """The service says in its own words what was wrong with a question; a key is never repeated."""
    if reply.status in REFUSALS:
        return REFUSALS[reply.status]
    try:
        said = " ".join(str(json.loads(reply.text)["reason"]).split())[:200].rstrip(".")
    except (ValueError, KeyError, TypeError, RecursionError):
        return "it cannot answer just now"
    return f"“{said.replace(key, '…') if key else said}”"


# Understanding


def _hourly(text: str) -> dict[str, Any]:
    """The lists by variable, and that of their times."""
    try:
        response = json.loads(text)
        times = response["hourly"]["time"]
        if not (isinstance(times, list) and times):
            raise TypeError
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise WeatherUnavailable(f"{NAME} sent something that is no weather.") from error
    if response.get("utc_offset_seconds", 0) != 0:
        raise WeatherUnavailable(f"{NAME} gives its times on a local clock, not in GMT as it was asked.")
    _check_units(response.get("hourly_units"))
    return dict(response["hourly"])


def _check_units(units: object) -> None:
    """Of every member too: what stands behind a variable's name says only whose it is."""
    for name, unit in units.items() if isinstance(units, dict) else ():
        variable = VARIABLES.get(re.sub(r"_member\d+$", "", name))
        if variable and unit != variable.unit:
            raise WeatherUnavailable(f"{NAME} gives {name} in {str(unit)[:20]}, not in {variable.unit} as documented.")


@dataclass(frozen=True)
class TimeAxis:
    """Where the rows of a response stand in a run of hours without gaps."""

    start: np.datetime64
    rows: list[int]
    places: NDArray[np.int_]
    count: int


def _time_axis(times: list[Any], refused: list[str]) -> TimeAxis:
    at = _positions(times, refused)
    start = min(at.values())
    count = int((max(at.values()) - start) / HOUR) + 1
    if count > LONGEST:
        raise WeatherUnavailable(f"{NAME}: its hours lie further apart than was asked for.")
    return TimeAxis(start, list(at), np.array([int((when - start) / HOUR) for when in at.values()]), count)


def _hours(hourly: dict[str, Any], axis: TimeAxis, refused: list[str], suffix: str = "") -> Hours:
    columns = {
        variable.column: _column(name + suffix, variable, hourly, axis, refused) for name, variable in VARIABLES.items()
    }
    return Hours.from_arrays(axis.start, **columns)


def _positions(times: list[Any], refused: list[str]) -> dict[int, np.datetime64]:
    """Row → its whole hour, UTC."""
    hours = {}
    for row, text in enumerate(times):
        hour = _whole_hour(text)
        if hour is None:
            refused.append("a time that is no whole hour")
        else:
            hours[row] = hour
    if not hours:
        raise WeatherUnavailable(f"{NAME} sent weather without hours.")
    return hours


def _whole_hour(text: object) -> np.datetime64 | None:
    try:
        moment = datetime.fromisoformat(str(text))
        moment = moment.replace(tzinfo=moment.tzinfo or UTC).astimezone(UTC)
    except (ValueError, OverflowError):
        return None
    whole = not (moment.minute or moment.second or moment.microsecond)
    return np.datetime64(moment.replace(tzinfo=None), "h") if whole else None


def _column(name: str, variable: Variable, hourly: dict[str, Any], axis: TimeAxis, refused: list[str]) -> Floats:
    values = hourly.get(name)
    values = values if isinstance(values, list) else []
    # one more: what ended at the first time fell before the run, and lands behind the end
    column = np.full(axis.count + 1, np.nan)
    numbers = [_number(values[row] if row < len(values) else None, name, variable, refused) for row in axis.rows]
    column[axis.places - variable.ends_there] = numbers
    return column[: axis.count] * variable.share


def _number(value: object, name: str, variable: Variable, refused: list[str]) -> float:
    if value is None:
        return np.nan
    if isinstance(value, (int, float)) and not isinstance(value, bool) and variable.low <= value <= variable.high:
        return float(value)
    refused.append(f"{name} {str(value)[:20]} {variable.unit}")
    return np.nan
