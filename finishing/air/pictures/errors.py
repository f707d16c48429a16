"""A picture of how far forecasts were off, by hours ahead: their bias and spread. Values in, values out."""

from dataclasses import dataclass

import numpy as np

from finishing.science.forecast_errors import LeadErrors
from finishing.science.hours import Floats
from finishing.science.working import true_minus
from finishing.site.fields import convert, shown_unit
from finishing.site.pictures.scales import LEFT, WIDTH, ScaleLine, heights, lines

PANEL = (16.0, 136.0)
STEPS = (1.0, 2.0, 5.0, 10.0)  # degrees between the lines of the scale
MOST_LINES = 4  # to either side of nought
DAY_STEPS = (1, 2, 4)
MOST_DAYS = 8


@dataclass(frozen=True)
class DayMark:
    """So many days ahead."""

    x: float
    days: int


@dataclass(frozen=True)
class ErrorPicture:
    """The `points` of bands (bias less and more its spread, as polygons) and of the biases' lines."""

    air_band: str
    dew_band: str
    air: list[str]
    dew: list[str]
    nought: float
    lines: list[ScaleLine]
    marks: list[DayMark]
    unit: str


def error_picture(errors: LeadErrors, measures: str) -> ErrorPicture:
    """Of the hours ahead that are known."""
    reach, unit = max(errors.reach, 2), shown_unit("delta°C", measures)
    columns = (errors.air_bias, errors.air_spread, errors.dew_bias, errors.dew_spread)
    factor = convert(1.0, "delta°C", unit)
    air, air_off, dew, dew_off = (factor * column[:reach] for column in columns)
    most = max(1.0, *(float(np.nanmax(abs(bias) + off)) for bias, off in ((air, air_off), (dew, dew_off))))
    step = next((step for step in STEPS if most / step <= MOST_LINES), STEPS[-1])
    top = np.ceil(most / step) * step
    x = np.linspace(LEFT, LEFT + WIDTH, reach)
    between = next((days for days in DAY_STEPS if reach / 24 / days <= MOST_DAYS), DAY_STEPS[-1])
    return ErrorPicture(
        air_band=_band(x, air, air_off, top),
        dew_band=_band(x, dew, dew_off, top),
        air=lines(x, heights(air, -top, top, PANEL)),
        dew=lines(x, heights(dew, -top, top, PANEL)),
        nought=float(heights(0.0, -top, top, PANEL)),
        lines=[ScaleLine(float(heights(at, -top, top, PANEL)), true_minus(f"{at:g}"))
               for at in np.arange(-top, top + step / 2, step)],
        marks=[DayMark(float(x[min(24 * days, reach - 1)]), days) for days in range(between, reach // 24 + 1, between)],
        unit=unit,
    )  # fmt: skip


def _band(x: Floats, bias: Floats, spread: Floats, top: float) -> str:
    upper, lower = (heights(bias + sign * spread, -top, top, PANEL) for sign in (1, -1))
    corners = [*zip(x, upper, strict=True), *zip(x[::-1], lower[::-1], strict=True)]
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in corners)
