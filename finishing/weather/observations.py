"""Observations of the air, by a logger or by hand, and the hours that they tell of."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from finishing.science import air
from finishing.science.hours import HOUR, Floats, Hours, utc

Moments = NDArray[np.datetime64]

BETWEEN = timedelta(minutes=90)  # between two observations no further apart, the air is taken to run straight
NEAR = timedelta(minutes=30)  # an observation alone speaks for the hour no further away


class Observation(NamedTuple):
    """Air at one moment: UTC, °C, %, and the temperature of the metal where somebody took it."""

    time: datetime
    temperature: float
    humidity: float
    surface_temperature: float | None = None


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
    return Hours.from_arrays(start, temperature=_at(hour, times, temperature), dew_point=_at(hour, times, dew_point))


def _at(hour: Moments, times: Moments, values: Floats) -> Floats:
    after = np.searchsorted(times, hour).clip(0, len(times) - 1)
    before = (np.searchsorted(times, hour, side="right") - 1).clip(0)
    close = times[after] - times[before] <= np.timedelta64(BETWEEN)
    between = (times[before] <= hour) & (hour <= times[after]) & close
    nearest = np.where(abs(hour - times[before]) <= abs(times[after] - hour), before, after)
    alone = np.where(abs(times[nearest] - hour) <= np.timedelta64(NEAR), values[nearest], np.nan)
    straight = np.interp(hour.astype("datetime64[s]").astype(float), times.astype(float), values)
    return np.where(between, straight, alone)
