"""Observations of the air, by a logger or by hand, and the hours that they tell of."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from finishing.science import air
from finishing.science.hours import HOUR, Floats, Hours, Origin, utc

Moments = NDArray[np.datetime64]

BETWEEN = timedelta(minutes=90)  # between two observations no further apart, the air is taken to run straight
SOME_RAIN = 0.1  # mm in the hour in which rain was seen: it is wet, however little that was
NEAR = timedelta(minutes=30)  # an observation alone speaks for the hour no further away


class Observation(NamedTuple):
    """Air at one moment: UTC, °C, %, and the temperature of the metal where somebody took it.

    holds: until when the air may be taken to stay so; None: no longer than it is near · said: somebody said so
    raining: whether rain was seen; None where nobody looked.
    """

    time: datetime
    temperature: float
    humidity: float
    surface_temperature: float | None = None
    holds: datetime | None = None
    said: bool = False
    raining: bool | None = None


def hours_observed(observations: Iterable[Observation]) -> Hours:
    """The air at each whole hour as the observations tell it; hours that no observation is near to are not known.

    Basis: [our judgement] for how far an observation reaches.
    """
    in_order = sorted(observations)
    if not in_order:
        raise ValueError("there are no readings")
    times = np.array([utc(observation.time) for observation in in_order], "datetime64[s]")
    near = np.timedelta64(NEAR)
    start, last = (times[0] - near).astype("datetime64[h]"), (times[-1] + near).astype("datetime64[h]")
    hour = start + np.arange(int((last - start) / HOUR) + 1) * HOUR
    temperature, humidity = np.array([observation[1:3] for observation in in_order], float).T
    dew_point = np.asarray(air.dew_point.__wrapped__(temperature, humidity / 100))
    rain = np.full(len(hour), np.nan)
    rain[((times[[bool(each.raining) for each in in_order]] - start) / HOUR).astype(int)] = SOME_RAIN
    warmth, wet_below = (_at(hour, times, values) for values in (temperature, dew_point))
    return Hours.from_arrays(start, temperature=warmth, dew_point=wet_below, rain=rain, origin=Origin.READ)


def hours_held(observations: Iterable[Observation]) -> Hours:
    """The air of observations for as long as each holds, but not beyond the next one: at each whole hour in that time,
    and at the one before it. Where no rain was seen, none falls meanwhile.
    """
    in_order = sorted(observations)
    times = np.array([utc(each.time) for each in in_order], "datetime64[s]")
    holds = np.array([utc(each.holds or each.time) for each in in_order], "datetime64[s]")
    holds = np.maximum(np.minimum(holds, np.append(times[1:], holds[-1:])), times)
    start = times[0].astype("datetime64[h]")
    first, last = ((moments - start) / HOUR for moments in (times, holds))
    run = int(last.max()) + 1
    columns = {name: np.full(run, np.nan) for name in ("temperature", "humidity", "rain")}
    lasts, origin = np.zeros(run), np.full(run, int(Origin.READ))
    another = np.diff(first.astype(int), prepend=-1, append=run) > 0
    telling = np.flatnonzero(another[:-1] | another[1:])  # the first and the last of each hour: a logger has sixty
    for at in telling[::-1]:
        each, begin, end = in_order[at], first[at], last[at]
        span = slice(int(begin), int(end) + 1)
        columns["temperature"][span], columns["humidity"][span] = each.temperature, each.humidity
        columns["rain"][span] = np.nan if each.raining is None or each.raining else 0.0
        origin[span] = int(Origin.SAID if each.said else Origin.READ)
        lasts[int(end)] = max(lasts[int(end)], end % 1)
    return Hours.from_arrays(start, **columns, lasts=lasts, origin=origin)


def apart_from_rain(hours: Hours) -> Hours:
    """The same hours, saying nothing of rain."""
    return replace(hours, rain=np.full(len(hours), np.nan))


def _at(hour: Moments, times: Moments, values: Floats) -> Floats:
    after = np.searchsorted(times, hour).clip(0, len(times) - 1)
    before = (np.searchsorted(times, hour, side="right") - 1).clip(0)
    close = times[after] - times[before] <= np.timedelta64(BETWEEN)
    between = (times[before] <= hour) & (hour <= times[after]) & close
    nearest = np.where(abs(hour - times[before]) <= abs(times[after] - hour), before, after)
    alone = np.where(abs(times[nearest] - hour) <= np.timedelta64(NEAR), values[nearest], np.nan)
    straight = np.interp(hour.astype("datetime64[s]").astype(float), times.astype(float), values)
    return np.where(between, straight, alone)
