"""Invented weather from our own generator: plausible and repeatable, and never a forecast or a reading.

It is for trying out, where no service may be asked. Whatever is shown of it carries ATTRIBUTION. An hour depends
only on the seed, the place and the hour itself, so runs that overlap agree. Its numbers are [our judgement], made
to look like a temperate climate; nothing may be concluded from them.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from finishing.science.hours import HOUR, Flags, Floats, Hours, utc

NAME = "invented"
ATTRIBUTION = "Invented weather from our own generator: no forecast, no reading"

DAY = 24
YEAR = 365.25
COLDEST_HOUR, WARMEST_HOUR = 5, 15  # by the sun
EARLIEST_DAY = 1_000_000  # keeps the day's number, part of its seed, positive


@dataclass(frozen=True)
class Spells:
    """What is drawn for the days by lot: four moods by day, holding at noon; flicker, rain and its chance by hour."""

    cloud: Floats
    warmth: Floats
    damp: Floats
    breeze: Floats
    flicker: Floats
    rain: Floats
    rain_chance: Floats


def invented_hours(
    start: datetime | np.datetime64 | str,
    count: int,
    seed: int,
    *,
    latitude: float = 52.0,
    longitude: float = 0.0,
    wetness: float = 0.4,
    first_day: datetime | np.datetime64 | str | None = None,
    season: int | None = None,
) -> Hours:
    """Hours of made-up air: days warm and cool, clear nights are damp, showers come out of cloud.

    wetness from 0 (hardly a cloud) to 1 (hardly a clear day). first_day is the midnight from which days are
    counted: give today, and the same weather stands round whatever day it is. season is the day of the year that
    first_day pretends to be; without it the calendar holds.
    """
    begin = utc(start).astype("datetime64[h]")
    zero = utc("1970-01-01" if first_day is None else first_day).astype("datetime64[h]")
    by_sun = (begin - zero) / HOUR + np.arange(count) + longitude / 15
    calendar = (zero - zero.astype("datetime64[Y]")) / HOUR / DAY + 1
    day_of_year = (calendar if season is None else season) + by_sun / DAY
    first = int(by_sun[0] // DAY) - 1
    spells = _spells(seed, wetness, range(first, int(by_sun[-1] // DAY) + 2))
    return Hours.from_arrays(begin, **_columns(spells, by_sun - first * DAY, latitude, day_of_year))


def _columns(spells: Spells, since: Floats, latitude: float, day_of_year: Floats) -> dict[str, Floats]:
    hour, warm = since.astype(int), _warm(since % DAY)
    rain, flicker, overcast = spells.rain[hour], spells.flicker[hour], _through_noons(spells.cloud, since)
    cloud = np.clip(overcast + 0.1 * flicker + 0.1 * warm, np.where(rain > 0, 0.85, 0), 1)
    mean = _season(latitude, day_of_year) + 2.5 * _through_noons(spells.warmth, since)
    damp, breeze = _through_noons(spells.damp, since), _through_noons(spells.breeze, since)
    swing = (1.2 + 5.0 * (1 - overcast)) * np.clip(0.4 + _height_of_sun(latitude, day_of_year, 12), 0.4, 1.2)
    temperature = (mean + swing * warm - 1.5 * (rain > 0)).round(1)
    return {
        "temperature": temperature,
        "dew_point": _dew_point(temperature, mean - 1.5 - 5.0 * (1 - overcast) + 1.2 * damp, rain > 0),
        "wind": np.clip(1.0 + 1.3 * breeze**2 + 0.9 * warm + 0.4 * flicker, 0.2, 18).round(1),
        "cloud": cloud.round(2),
        "sun": _sun(_height_of_sun(latitude, day_of_year, since % DAY), cloud).round(),
        "rain": rain,
        "rain_chance": spells.rain_chance[hour],
    }


def invented_members(hours: Hours, count: int, seed: int, **where: Any) -> list[Hours]:
    """An ensemble round invented hours: each member leaves them for weather of its own, all of it after ten days.

    Hour by hour a lot decides with which of the two it rains, ever oftener with its own.  [our judgement]
    """
    share = np.minimum(np.arange(len(hours)) / (10 * DAY), 1.0)
    others = (invented_hours(hours.start, len(hours), seed + 1 + number, **where) for number in range(count))
    return [_between(hours, other, share) for other in others]


def _between(hours: Hours, other: Hours, share: Floats) -> Hours:
    names = ("temperature", "dew_point", "wind", "cloud", "sun")
    mixed = {name: (1 - share) * getattr(hours, name) + share * getattr(other, name) for name in names}
    lots = np.random.default_rng([int(100 * value) for value in other.wind[:DAY]]).random(len(hours))
    rain = np.where(lots > share, hours.rain, other.rain)
    return Hours.from_arrays(hours.start, **mixed, rain=rain, rain_chance=0.0)


# What is drawn for the days


def _spells(seed: int, wetness: float, days: range) -> Spells:
    draws = np.array([_moods(seed, day) for day in range(days.start - 1, days.stop + 1)])
    # A day remembers its neighbours: weather comes in spells.
    moods = (draws[:-2] + 2 * draws[1:-1] + draws[2:]) / np.sqrt(6)
    grey, warmth, damp, breeze = moods.T
    cloud = 1 / (1 + np.exp(-1.6 * grey - 4 * (wetness - 0.5)))
    flicker, begins, amounts = np.array([_lots(seed, day) for day in days]).transpose(1, 0, 2).reshape(3, -1)
    by_hour = np.repeat(cloud, DAY)
    rain = _showers(begins, amounts, wetness * by_hour)
    return Spells(cloud, warmth, damp, breeze, flicker, rain, _chance(by_hour, rain > 0))


def _moods(seed: int, day: int) -> Floats:
    return np.random.default_rng([seed, EARLIEST_DAY + day, 0]).normal(size=4)


def _lots(seed: int, day: int) -> Floats:
    """By hour: a flicker of cloud and wind, a lot for a shower to begin and one for how much it rains."""
    random = np.random.default_rng([seed, EARLIEST_DAY + day, 1])
    return np.array([random.normal(size=DAY).clip(-2, 2), random.random(DAY), random.random(DAY)])


def _showers(begins: Floats, amounts: Floats, share: Floats) -> Floats:
    """Millimetres by hour; a shower lasts one hour, in cloudy weather two."""
    begun = begins < 0.3 * share
    raining = begun | (np.append(False, begun[:-1]) & (share > 0.25))
    return np.where(raining, (0.1 + 1.9 * amounts**2).round(1), 0.0)


def _chance(cloud: Floats, raining: Flags) -> Floats:
    beside = np.convolve(raining, [1, 1, 1], mode="same") > 0
    return np.where(raining, 0.8, np.where(beside, 0.45, 0.02 + 0.25 * cloud**2)).round(2)


def _through_noons(daily: Floats, since: Floats) -> Floats:
    """A day's mood holds at noon and runs straight to the next."""
    return np.interp(since, np.arange(len(daily)) * DAY + DAY / 2, daily)


# What the air makes of it


def _warm(hour: Floats) -> Floats:
    """−1 at the coldest hour, 1 at the warmest; a morning warms faster than an evening cools."""
    since = (hour - COLDEST_HOUR) % DAY
    rise = WARMEST_HOUR - COLDEST_HOUR
    falling = np.cos(np.pi * (since - rise) / (DAY - rise))
    return np.where(since < rise, -np.cos(np.pi * since / rise), falling)


def _season(latitude: float, day_of_year: Floats) -> Floats:
    """Mean temperature of a day in °C, warmest in late July (north) or late January (south)."""
    through_year = np.copysign(1.0, latitude) * np.cos(2 * np.pi * (day_of_year - 205) / YEAR)
    return np.asarray(28 - 0.35 * abs(latitude) + 0.13 * abs(latitude) * through_year)


def _dew_point(temperature: Floats, dew_point: Floats, raining: Flags) -> Floats:
    """Rain fills the air with water; what is more than the air holds has fallen out as dew."""
    filled = np.where(raining, np.maximum(dew_point, temperature - 1.0), dew_point)
    return np.minimum(filled.round(1), temperature)


def _height_of_sun(latitude: float, day_of_year: Floats, hour: Floats | float) -> Floats:
    """Sine of the sun's height above the horizon; below 0 it is night."""
    declination = np.radians(23.45) * np.sin(2 * np.pi * (284 + day_of_year) / 365)
    phi, turn = np.radians(latitude), np.cos(np.radians(15) * (hour - 12))
    return np.asarray(np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * turn)


def _sun(height: Floats, cloud: Floats) -> Floats:
    """W/m²: a clear sky after Haurwitz, dimmed by cloud after Kasten & Czeplak (both from memory)."""
    up = np.maximum(height, 1e-3)
    clear = np.where(height > 0, 1098 * up * np.exp(-0.059 / up), 0)
    return clear * (1 - 0.75 * cloud**3.4)
