"""The strip of workable hours: flags by hour → what a page draws and reads out. Values in, values out; its words
and marks are in the template.

    strip(hours.start, refused, now, workshop.zone)      {% include "finishing/site/_strip.html" %}
"""

from collections.abc import Container
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from finishing.science.hours import HOUR, utc
from finishing.science.windows import Reason

ReasonFlags = NDArray[np.uint16]

ROW = 24  # hours side by side; a phone is no wider
CELL = 15.0  # the picture's own units
DAY_WORD = 70.0  # what the name of a day takes
TICK_HOURS = (6, 12, 18)


@dataclass(frozen=True)
class HourCell:
    """An hour; its flags say why it is refused, 0 is workable."""

    when: np.datetime64
    flags: int
    x: float
    width: float = CELL

    @property
    def dusk(self) -> bool:
        return bool(self.flags & Reason.OUTSIDE_WORKING_HOURS)


@dataclass(frozen=True)
class Tick:
    """A whole hour of the workshop's clock; at `midnight` a new day begins."""

    when: np.datetime64
    x: float
    hour: int
    midnight: bool


@dataclass(frozen=True)
class StripRow:
    cells: list[HourCell]
    ticks: list[Tick]
    days: list[Tick]  # where the name of a day is written
    now: float | None  # x of the present moment

    @property
    def width(self) -> float:
        return len(self.cells) * CELL


@dataclass(frozen=True)
class Stretch:
    """Hours on end that are workable, or refused for the same reasons."""

    begin: np.datetime64
    end: np.datetime64
    flags: int
    running: bool  # it has begun


@dataclass(frozen=True)
class Strip:
    rows: list[StripRow]
    workable: list[Stretch]
    refused: list[Stretch]
    flags: int  # every reason in the picture
    key: str  # one page's strips need different ones: their patterns have ids

    @property
    def count(self) -> int:
        return sum(len(row.cells) for row in self.rows)


def strip(
    start: np.datetime64,
    refused: ReasonFlags,
    now: datetime | np.datetime64,
    zone: tzinfo,
    first: np.datetime64 | None = None,
    count: int = 48,
    key: str = "strip",
) -> Strip:
    """`refused` by hour from `start` (UTC); hours that it does not cover are not known.

    `first` is the hour the picture begins with, without it the present one. A stretch is told to its real end,
    also where that lies beyond the picture.
    """
    moment = utc(now)
    begin = utc(moment if first is None else first).astype("datetime64[h]")
    flags = _flags(start, refused, begin, count)
    rows = [_row(begin + at * HOUR, flags[at : at + ROW], moment, zone) for at in range(0, count, ROW)]
    reach = _flags(start, refused, begin, max(count, int((start - begin) / HOUR) + len(refused)))
    stretches = [s for s in _stretches(begin, reach, moment) if s.begin < begin + count * HOUR]
    return Strip(
        rows,
        [s for s in stretches if not s.flags],
        [s for s in stretches if s.flags],
        int(np.bitwise_or.reduce(flags)),
        key,
    )


def _flags(start: np.datetime64, refused: ReasonFlags, begin: np.datetime64, count: int) -> ReasonFlags:
    wanted = int((begin - start) / HOUR) + np.arange(count)
    inside = (wanted >= 0) & (wanted < len(refused))
    covered = np.append(np.asarray(refused, np.uint16), np.uint16(Reason.NOT_KNOWN))
    return covered[np.where(inside, wanted, len(refused))]


def _row(begin: np.datetime64, flags: ReasonFlags, now: np.datetime64, zone: tzinfo) -> StripRow:
    cells = [HourCell(begin + at * HOUR, int(value), at * CELL) for at, value in enumerate(flags)]
    ticks = marks(begin, len(cells), zone, CELL)
    days = days_of(begin, ticks, (0.0, len(cells) * CELL))
    here = (now - begin) / HOUR
    return StripRow(cells, ticks, days, here * CELL if 0 <= here < len(cells) else None)


def marks(
    begin: np.datetime64, count: int, zone: tzinfo, width: float, hours: Container[int] = TICK_HOURS, left: float = 0.0
) -> list[Tick]:
    """Midnights and the named hours of the workshop's clock, in a picture that begins at `left` and gives each hour
    this width."""
    ticks = [_tick(begin + at * HOUR, begin, zone, width, left) for at in range(count)]
    return [tick for tick in ticks if tick.midnight or tick.hour in hours]


def _tick(hour: np.datetime64, begin: np.datetime64, zone: tzinfo, width: float, left: float) -> Tick:
    """The whole hour that the clock passes in this hour of UTC: zones of a half hour pass it half-way."""
    whole = hour + np.timedelta64((60 - _shown(hour, zone).minute) % 60, "m")
    shown, before = _shown(whole, zone), _shown(whole - HOUR, zone)
    # In some zones clocks go forward over midnight itself, so a new day is told by its date.
    return Tick(whole, left + float((whole - begin) / HOUR) * width, shown.hour, shown.date() != before.date())


def _shown(when: np.datetime64, zone: tzinfo) -> datetime:
    moment: datetime = when.astype("datetime64[s]").item()
    return moment.replace(tzinfo=UTC).astimezone(zone)


def days_of(begin: np.datetime64, ticks: list[Tick], sides: tuple[float, float], room: float = DAY_WORD) -> list[Tick]:
    """Where the names of days are written: at midnights and at the left side, each where its name has room."""
    left, right = sides
    days = [Tick(begin, left, 0, True), *(tick for tick in ticks if tick.midnight), Tick(begin, right, 0, True)]
    return [day for day, following in pairwise(days) if following.x - day.x >= room]


def _stretches(begin: np.datetime64, flags: ReasonFlags, now: np.datetime64) -> list[Stretch]:
    bounds = [0, *(np.flatnonzero(np.diff(flags.astype(int))) + 1).tolist(), len(flags)]
    return [
        Stretch(begin + a * HOUR, begin + b * HOUR, int(flags[a]), bool(begin + a * HOUR <= now))
        for a, b in pairwise(bounds)
    ]
