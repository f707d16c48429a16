"""Pictures of air by hour: air and dew point, humidity, rain; what is not known is hatched. Values in, values out."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import tzinfo
from itertools import pairwise

import numpy as np

from finishing.science.hours import Floats, Hours
from finishing.site.fields import METRIC, convert, shown_unit

from .scales import LEFT, STEP, WIDTH, Rectangle, ScaleLine, across, bounds, degrees, heights, lines, rectangles, scale
from .strips import DAY_WORD, TICK_HOURS, Tick, days_of, marks

AIR, HUMIDITY, RAIN = (18.0, 118.0), (132.0, 188.0), (196.0, 234.0)  # top and bottom of each panel
DAMP = 85.0  # %, drawn as a line: above it nobody blasts
WIDE = 4.0  # an hour wider than this leaves room for hours and long names of days
SHORT_DAY = 30.0
LEAST_RAIN = 2.0  # mm in the hour at the top of a dry day's scale


@dataclass(frozen=True)
class Chart:
    """Everything a template draws; lines as the `points` of polylines, broken where the air is not known."""

    air: list[str]
    dew: list[str]
    humidity: list[str]
    rain: list[Rectangle]
    unknown: list[Rectangle]
    coarse: list[Rectangle]
    degrees: list[ScaleLine]
    percents: list[ScaleLine]
    top_rain: str
    rain_unit: str
    ticks: list[Tick]
    days: list[Tick]
    unit: str
    wide: bool
    key: str
    start: np.datetime64
    end: np.datetime64


def chart(hours: Hours, zone: tzinfo, measures: str = METRIC, key: str = "chart") -> Chart:
    """`hours` is what shall be seen, from its first to its last hour."""
    x, step = across(len(hours))
    unit = shown_unit("°C", measures)
    air, dew = (degrees(values, unit) for values in (hours.temperature, hours.dew_point))
    low, high = bounds(np.append(air, dew), STEP[unit])
    ticks = marks(hours.start, len(hours), zone, step, TICK_HOURS if step > WIDE else (), LEFT)
    wettest = max(LEAST_RAIN, float(np.max(hours.rain, initial=0.0, where=~np.isnan(hours.rain))))
    return Chart(
        air=lines(x, heights(air, low, high, AIR)),
        dew=lines(x, heights(dew, low, high, AIR)),
        humidity=lines(x, heights(hours.humidity, 0, 100, HUMIDITY)),
        rain=_bars(x, step, hours.rain, wettest),
        unknown=rectangles(x, step, ~hours.known, (AIR[0], HUMIDITY[1]))
        + rectangles(x, step, np.isnan(hours.rain), RAIN),
        coarse=rectangles(x, step, hours.coarse, (RAIN[1] + 2, RAIN[1] + 5)),
        degrees=scale(low, high, unit, AIR),
        percents=[ScaleLine(float(heights(at, 0, 100, HUMIDITY)), f"{at:.0f}") for at in (50, DAMP)],
        top_rain=f"{convert(wettest, 'mm', shown_unit('mm', measures)):.2g}",
        rain_unit=shown_unit("mm", measures),
        ticks=ticks,
        days=days_of(hours.start, ticks, (LEFT, LEFT + WIDTH), DAY_WORD if step > WIDE else SHORT_DAY),
        unit=unit,
        wide=step > WIDE,
        key=key,
        start=hours.start,
        end=hours.end,
    )


def _bars(x: Floats, step: float, rain: Floats, top: float) -> list[Rectangle]:
    height = (RAIN[1] - RAIN[0]) * np.nan_to_num(rain) / top
    raining = np.flatnonzero(height > 0)
    return [Rectangle(float(x[i]), float(RAIN[1] - height[i]), step, float(height[i])) for i in raining]


@dataclass(frozen=True)
class Hour:
    """The air of one moment and its hour's rain in numbers, to a tenth: °C, %, mm."""

    when: np.datetime64
    temperature: float
    dew_point: float
    humidity: float
    rain: float

    @property
    def known(self) -> bool:
        return not np.isnan(self.temperature + self.dew_point)

    @property
    def rain_known(self) -> bool:
        return not np.isnan(self.rain)


def air_at(hours: Hours, when: np.datetime64) -> Hour:
    air = hours.at(when)
    return Hour(when, *(round(float(value), 1) for value in (air.temperature, air.dew_point, air.humidity, air.rain)))


@dataclass(frozen=True)
class DayOfAir:
    """A day of the workshop's calendar in numbers: °C, %, mm; NaN where nothing of it is known."""

    begin: np.datetime64
    coldest: float
    warmest: float
    dampest: float
    rain: float
    known: int  # hours with known air
    hours: int
    coarse: bool

    @property
    def rain_known(self) -> bool:
        return not np.isnan(self.rain)


def days(hours: Hours, zone: tzinfo) -> list[DayOfAir]:
    """DayOfAir by day; each begins at midnight of the workshop's clock, rounded to the hour of these hours."""
    midnights = [tick.when for tick in marks(hours.start, len(hours), zone, 1.0, ())]
    begins = [hours.start, *(at.astype("datetime64[h]") for at in midnights if at > hours.start), hours.end]
    return [_day(hours.between(a, b)) for a, b in pairwise(begins) if a < b]


def _day(hours: Hours) -> DayOfAir:
    return DayOfAir(
        begin=hours.start,
        coldest=_known(np.nanmin, hours.temperature),
        warmest=_known(np.nanmax, hours.temperature),
        dampest=_known(np.nanmax, hours.humidity),
        rain=_known(np.nansum, hours.rain),
        known=int(hours.known.sum()),
        hours=len(hours),
        coarse=bool(hours.coarse.any()),
    )


def _known(of: Callable[[Floats], float], values: Floats) -> float:
    return float("nan") if np.isnan(values).all() else round(float(of(values)), 1)
