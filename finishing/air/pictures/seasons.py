"""Pictures of workable hours by week of the year: 52 bars with their spread, good weeks marked and named. Values in,
values out."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from finishing.science.hours import Floats
from finishing.science.seasons import WEEKS, Season
from finishing.site.pictures.scales import ScaleLine

LEFT, BAR, GAP = 30.0, 6.5, 1.0  # the picture's own units: a phone's width with room for the scale
TOP, BOTTOM, MARK = 16.0, 96.0, 8.0
STEPS = (10, 20, 50)  # hours between the lines of the scale
MOST_LINES = 5
ANY_YEAR = 2023  # a common year: dates are told without one


@dataclass(frozen=True)
class WeekBar:
    """A week: its middle year, and from where to where eight of ten years lie."""

    week: int
    x: float
    y: float
    height: float
    low_y: float
    high_y: float
    good: bool

    @property
    def middle(self) -> float:
        return self.x + (BAR - GAP) / 2


@dataclass(frozen=True)
class MonthLabel:
    x: float
    label: str


@dataclass(frozen=True)
class Weeks:
    """Good weeks on end, from the first day to the last."""

    first: date
    last: date
    x: float
    width: float

    @property
    def whole_year(self) -> bool:
        return (self.first, self.last) == (week_begins(0), week_ends(WEEKS - 1))


@dataclass(frozen=True)
class SeasonPicture:
    bars: list[WeekBar]
    unknown: list[WeekBar]
    best: list[Weeks]
    lines: list[ScaleLine]
    months: list[MonthLabel]
    most: float  # of the middle years, hours in seven days
    spread: bool  # several years, so that there is one


def season_picture(season: Season, top: float) -> SeasonPicture:
    """`top`: hours at the top of the scale, one for all pictures of a page."""
    scale = (BOTTOM - TOP) / max(top, 1.0)
    step = next((step for step in STEPS if top / step <= MOST_LINES), STEPS[-1])
    good = {week for first, last in season.best for week in range(first, last + 1)}
    known = ~np.isnan(season.median)
    bars = [_bar(week, season, scale, week in good) for week in range(WEEKS) if known[week]]
    return SeasonPicture(
        bars=bars,
        unknown=[WeekBar(w, _x(w), TOP, BOTTOM - TOP, BOTTOM, BOTTOM, False) for w in range(WEEKS) if not known[w]],
        best=[_weeks(*run) for run in season.best],
        lines=[ScaleLine(BOTTOM - hours * scale, f"{hours:.0f}") for hours in np.arange(0, top + 0.1, step)],
        months=[MonthLabel(_x(when.timetuple().tm_yday / 7), f"{when:%b}"[0]) for when in months()],
        most=float(np.max(season.median, initial=0.0, where=known)),
        spread=bool(season.years.max() > 1),
    )


def _bar(week: int, season: Season, scale: float, good: bool) -> WeekBar:
    low, median, high = (float(values[week]) * scale for values in (season.low, season.median, season.high))
    return WeekBar(week, _x(week), BOTTOM - median, median, BOTTOM - low, BOTTOM - high, good)


def _x(week: float) -> float:
    return LEFT + week * BAR


def _weeks(first: int, last: int) -> Weeks:
    return Weeks(week_begins(first), week_ends(last), _x(first), (last - first + 1) * BAR - GAP)


def week_begins(week: int) -> date:
    return date(ANY_YEAR, 1, 1) + timedelta(weeks=week)


def week_ends(week: int) -> date:
    return date(ANY_YEAR, 12, 31) if week == WEEKS - 1 else week_begins(week) + timedelta(days=6)


def months() -> list[date]:
    return [date(ANY_YEAR, month, 1) for month in range(1, 13)]


@dataclass(frozen=True)
class WeeklyHours:
    """WeeklyHours in seven days: the middle year, and from where to where eight of ten years lie; None is not known."""

    low: int | None
    median: int | None
    high: int | None


def by_month(season: Season) -> list[WeeklyHours]:
    """Each month the mean of its weeks, a week being of the month that its middle day is in."""
    of = np.array([(week_begins(week) + timedelta(days=3)).month for week in range(WEEKS)])
    rows = season.low, season.median, season.high
    return [_hours(*(values[of == month.month] for values in rows)) for month in months()]


def by_week(season: Season) -> list[WeeklyHours]:
    return [_hours(*values) for values in zip(season.low, season.median, season.high, strict=True)]


def _hours(*values: Floats | float) -> WeeklyHours:
    means = [float(np.mean(part)) for part in values]
    return WeeklyHours(*(None if np.isnan(mean) else round(mean) for mean in means))
