"""What pictures of hours share: a scale of degrees, lines broken where nothing is known, rectangles over hours."""

from dataclasses import dataclass

import numpy as np

from finishing.science.hours import Flags, Floats
from finishing.science.working import true_minus
from finishing.site.fields import convert

LEFT, WIDTH = 30.0, 340.0  # a picture's own units: a phone's width with room for the scale
STEP = {"°C": 5.0, "°F": 10.0}


@dataclass(frozen=True)
class ScaleLine:
    """A line of a scale, with its number."""

    y: float
    label: str


@dataclass(frozen=True)
class Rectangle:
    x: float
    y: float
    width: float
    height: float


def across(count: int) -> tuple[Floats, float]:
    """Where each of so many hours begins, and how wide it is."""
    return np.linspace(LEFT, LEFT + WIDTH, count, endpoint=False), WIDTH / count


def degrees(celsius: Floats, unit: str) -> Floats:
    return celsius if unit == "°C" else np.array([convert(value, "°C", unit) for value in celsius])


def bounds(values: Floats, step: float) -> tuple[float, float]:
    """The scale that holds all these values, at least two steps high."""
    known = values[~np.isnan(values)]
    if not known.size:
        return 0.0, 2 * step
    low, high = np.floor(known.min() / step) * step, np.ceil(known.max() / step) * step
    return float(low), float(max(high, low + 2 * step))


def heights(values: Floats | float, low: float, high: float, panel: tuple[float, float]) -> Floats:
    top, bottom = panel
    return np.asarray(bottom - (values - low) / (high - low) * (bottom - top))


def scale(low: float, high: float, unit: str, panel: tuple[float, float]) -> list[ScaleLine]:
    """The lines of a scale of degrees."""
    marks = np.arange(low, high + 1, STEP[unit])
    return [ScaleLine(float(heights(at, low, high, panel)), true_minus(f"{at:.0f}")) for at in marks]


def lines(x: Floats, y: Floats) -> list[str]:
    """The `points` of polylines."""
    return [" ".join(f"{x[i]:.1f},{y[i]:.1f}" for i in range(*run)) for run in runs(~np.isnan(y))]


def rectangles(x: Floats, step: float, where: Flags, panel: tuple[float, float]) -> list[Rectangle]:
    top, bottom = panel
    return [Rectangle(float(x[a]), top, (b - a) * step, bottom - top) for a, b in runs(where)]


def runs(where: Flags) -> list[tuple[int, int]]:
    """From and until of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], where, [False])).astype(int)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
