"""A thousand pieces through sixteen days of made-up spring weather, with a few gaps; and a stopwatch."""

from collections.abc import Callable
from time import perf_counter
from typing import Any

import numpy as np

from finishing.science.hours import Hours

PIECES, COUNT = 1000, 16 * 24
_draw = np.random.default_rng(2025)


def weather() -> Hours:
    hour = np.arange(COUNT)
    temperature = 12 + 7 * np.cos(2 * np.pi * (hour - 15) / 24) + np.cumsum(_draw.normal(0, 0.3, COUNT))
    humidity = np.clip(70 - 20 * np.cos(2 * np.pi * (hour - 15) / 24) + _draw.normal(0, 6, COUNT), 15, 100)
    temperature[_draw.integers(0, COUNT, 6)] = np.nan
    rain = np.where(_draw.random(COUNT) < 0.05, 0.4, 0.0)
    return Hours.from_arrays(np.datetime64("2025-04-01T00"), temperature=temperature, humidity=humidity, rain=rain)


def metal(hours: Hours) -> Any:
    """Each piece lags in its own way; how is no matter here."""
    return hours.temperature + _draw.uniform(-4, 4, (PIECES, 1)) + _draw.normal(0, 1, (PIECES, COUNT))


def timed(work: Callable[[], Any]) -> tuple[Any, float]:
    begin = perf_counter()
    answer = work()
    return answer, perf_counter() - begin


def report(subject: str, arrays: float, loop: float) -> None:
    print(f"\n{subject}: {arrays:.2f} s as arrays, {loop:.2f} s in a plain loop")
    print(f"figure science.{subject}.speedup {loop / arrays:.1f} x")
