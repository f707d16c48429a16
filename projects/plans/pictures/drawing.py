"""A plan as a picture over its weather: hours across; places, visits, racks and people down. Values in, values out."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo
from itertools import pairwise
from math import ceil
from typing import Any

import numpy as np

from finishing.science.hours import HOUR, Flags, Hours, utc
from finishing.site.fields import shown_unit
from finishing.site.pictures.scales import (
    STEP,
    Rectangle,
    ScaleLine,
    bounds,
    degrees,
    heights,
    lines,
    rectangles,
    runs,
    scale,
)
from finishing.site.pictures.strips import Tick, days_of, marks

from .values import Deadline, Ground, Task, Visit

LEFT, WIDTH = 120.0, 1080.0  # the picture's own units: a desk's width with room for names
MOST_HOURS, LEAST_HOURS = 7 * 24, 2 * 24  # of one band
AIR, RAIN = (20.0, 74.0), (78.0, 96.0)  # top and bottom of each panel
FIRST = 104.0  # top of the first lane
GAP = 8.0  # between lanes of different sorts
LEAST_RAIN = 2.0  # mm in the hour at the top of a dry week's scale
LETTER = 6.0  # the room that a letter takes
LEAST_BAR = 3.0  # a bar thinner than this is hit by no finger
NAME_LETTERS = 16
GRID_HOURS = (6, 12, 18)


@dataclass(frozen=True)
class Cell:
    """Hours on end of a place with the same reasons."""

    x: float
    width: float
    flags: int
    begin: np.datetime64
    end: np.datetime64


@dataclass(frozen=True)
class Bar:
    """A task in a lane: its work, the tail until it is dry, and the words that have room beside it."""

    task: Any
    x: float
    width: float
    tail: float = 0.0
    words: str = ""
    words_x: float = 0.0
    was_x: float | None = None
    was_width: float = 0.0

    @property
    def end_x(self) -> float:
        return self.x + self.width

    @property
    def tail_x(self) -> float:
        """Where the tail begins, also of work that lies before this band."""
        return self.end_x


@dataclass(frozen=True)
class Bare:
    """The time bare, as a line that ends at the deadline; the deadline itself only where it lies in this band."""

    deadline: Deadline
    x: float
    until_x: float
    ends: bool


@dataclass
class Lane:
    sort: str  # "place", "visits", "rack" or "person"
    name: str
    y: float
    height: float
    bars: list[Bar] = field(default_factory=list)
    cells: list[Cell] = field(default_factory=list)
    bare: list[Bare] = field(default_factory=list)

    @property
    def short(self) -> str:
        return self.name if len(self.name) <= NAME_LETTERS else f"{self.name[: NAME_LETTERS - 1]}…"

    # Words stand above their bars: few steps take long enough to hold them.
    @property
    def bottom(self) -> float:
        return self.y + self.height

    @property
    def name_y(self) -> float:
        return self.bottom - 4

    @property
    def bar_y(self) -> float:
        return self.y + (WORDS if self.sort in WORDED else 1)

    @property
    def bar_height(self) -> float:
        return self.height - (WORDS + 4 if self.sort in WORDED else 2)

    @property
    def bar_foot(self) -> float:
        return self.bar_y + self.bar_height

    @property
    def words_y(self) -> float:
        return self.y + (WORDS - 2 if self.sort in WORDED else self.height - 4)

    @property
    def tail_y(self) -> float:
        return self.bar_foot - TAIL

    @property
    def foot(self) -> float:
        return self.bottom - 2


WORDS, TAIL = 11.0, 5.0  # heights of what stands above a bar, and of a drying tail
WORDED = ("rack", "person")
HEIGHTS = {"place": 14.0, "visits": 16.0, "rack": 27.0, "person": 24.0}


@dataclass(frozen=True)
class Band:
    """At most a week side by side."""

    lanes: list[Lane]
    air: list[str]
    dew: list[str]
    rain: list[Rectangle]
    unknown: list[Rectangle]
    night: list[Rectangle]
    degrees: list[ScaleLine]
    unit: str
    ticks: list[Tick]
    days: list[Tick]
    now: float | None
    height: float
    flags: int
    left: float = LEFT
    right: float = LEFT + WIDTH
    width: float = LEFT + WIDTH + 8

    @property
    def bottom(self) -> float:
        return self.height - 16


@dataclass(frozen=True)
class Picture:
    bands: list[Band]
    flags: int  # every reason in it
    kinds: list[tuple[str, str, str]]  # colour, kind and what it is called, as met first

    @property
    def broken(self) -> bool:
        return any(bar.task.broken for band in self.bands for lane in band.lanes for bar in _tasks_of(lane))

    @property
    def moved(self) -> bool:
        return any(bar.was_x is not None for band in self.bands for lane in band.lanes for bar in _tasks_of(lane))

    @property
    def bare(self) -> bool:
        return any(lane.bare for band in self.bands for lane in band.lanes)


def _tasks_of(lane: Lane) -> list[Bar]:
    return lane.bars if lane.sort in ("rack", "person") else []


def picture(
    hours: Hours,
    night: Flags,
    tasks: Sequence[Task],
    *,
    zone: tzinfo,
    now: datetime,
    grounds: Sequence[Ground] = (),
    deadlines: Sequence[Deadline] = (),
    visits: Sequence[Visit] = (),
    us: bool = False,
) -> Picture:
    """From the midnight before the first task to the one after the last is dry; `night` by hour, as `hours`."""
    begin, end = _span(tasks, zone, now)
    count = max(LEAST_HOURS, int((end - begin) / HOUR))
    # Bands of whole days and of one width, so that a day looks alike in all of them.
    wide = count if count <= MOST_HOURS + 1 else 24 * ceil(count / 24 / ceil(count / MOST_HOURS))
    drawing = _Drawing(hours, night, tasks, zone, now, grounds, deadlines, visits, us, wide)
    bands = [drawing.band(begin + at * HOUR) for at in range(0, count, wide)]
    return Picture(bands, int(np.bitwise_or.reduce([band.flags for band in bands])), _kinds(tasks))


def _span(tasks: Sequence[Task], zone: tzinfo, now: datetime) -> tuple[np.datetime64, np.datetime64]:
    first = min((task.begin for task in tasks), default=now)
    last = max((task.dry or task.end for task in tasks), default=now)
    midnight = first.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    behind = (last.astimezone(zone) + timedelta(days=1)).replace(hour=0, minute=0, second=0, microsecond=0)
    return utc(midnight).astype("datetime64[h]"), utc(behind).astype("datetime64[h]")


def _kinds(tasks: Sequence[Task]) -> list[tuple[str, str, str]]:
    """What the bars' colours stand for: a paint by its own colour, any other step by its kind."""
    found = {(task.colour, task.kind): task.label for task in reversed(tasks)}
    return [(colour, kind, label if colour else kind) for (colour, kind), label in reversed(found.items())]


@dataclass(frozen=True)
class _Drawing:
    hours: Hours
    night: Flags
    tasks: Sequence[Task]
    zone: tzinfo
    now: datetime
    grounds: Sequence[Ground]
    deadlines: Sequence[Deadline]
    visits: Sequence[Visit]
    us: bool
    wide: int

    def band(self, begin: np.datetime64) -> Band:
        air = self.hours.between(begin, begin + self.wide * HOUR)
        step = WIDTH / self.wide
        x = LEFT + np.arange(self.wide) * step
        unit = shown_unit("°C", self.us)
        warm, dew = (degrees(values, unit) for values in (air.temperature, air.dew_point))
        low, high = bounds(np.append(warm, dew), STEP[unit])
        lanes = self._lanes(begin)
        bottom = lanes[-1].y + lanes[-1].height if lanes else FIRST
        ticks = marks(begin, self.wide, self.zone, step, GRID_HOURS, LEFT)
        now_x = LEFT + float((utc(self.now) - begin) / HOUR) * step
        return Band(
            lanes=lanes,
            air=lines(x, heights(warm, low, high, AIR)),
            dew=lines(x, heights(dew, low, high, AIR)),
            rain=_rain(x, step, air.rain),
            unknown=rectangles(x, step, ~air.known, (AIR[0], RAIN[1])),
            night=rectangles(x, step, self._night(begin), (AIR[0], bottom)),
            degrees=scale(low, high, unit, AIR)[:: 2 if high - low > 2 * STEP[unit] else 1],
            unit=unit,
            ticks=ticks,
            days=days_of(begin, ticks, (LEFT, LEFT + WIDTH)),
            now=now_x if LEFT <= now_x <= LEFT + WIDTH else None,
            height=bottom + 16,
            flags=int(np.bitwise_or.reduce([cell.flags for lane in lanes for cell in lane.cells] or [0])),
        )

    def _night(self, begin: np.datetime64) -> Flags:
        wanted = int((begin - self.hours.start) / HOUR) + np.arange(self.wide)
        inside = (wanted >= 0) & (wanted < len(self.night))
        return np.asarray(np.where(inside, self.night[np.clip(wanted, 0, len(self.night) - 1)], False), bool)

    def _lanes(self, begin: np.datetime64) -> list[Lane]:
        names = [("place", ground.place) for ground in self.grounds]
        names += [("visits", "visits")] if self.visits else []
        names += [("rack", rack) for rack in dict.fromkeys(task.rack for task in self.tasks)]
        people = sorted({name for task in self.tasks for name in task.people})
        names += [("person", person) for person in people]
        lanes, y, before = [], FIRST, None
        for sort, name in names:
            gap = GAP if before not in (None, sort) else 0
            lane = self._lane(Lane(sort, name, y + gap, HEIGHTS[sort]), begin)
            if sort not in WORDED or lane.bars or lane.bare:  # who has nothing in this band has no row in it
                lanes.append(lane)
                y, before = lane.bottom, sort
        return lanes

    def _lane(self, lane: Lane, begin: np.datetime64) -> Lane:
        if lane.sort == "place":
            ground = next(ground for ground in self.grounds if ground.place == lane.name)
            lane.cells = self._cells(ground, begin)
        elif lane.sort == "visits":
            lane.bars = self._bars(self.visits, begin, lambda visit: visit.name, inside=True)
        elif lane.sort == "rack":
            own = [task for task in self.tasks if task.rack == lane.name]
            lane.bars = self._bars(own, begin, lambda task: task.label)
            lane.bare = [
                bare for one in self.deadlines if one.rack == lane.name and (bare := self._bare(one, begin)) is not None
            ]
        else:
            own = [task for task in self.tasks if lane.name in task.people]
            lane.bars = self._bars(own, begin, lambda task: task.rack, tails=False)
        return lane

    def _cells(self, ground: Ground, begin: np.datetime64) -> list[Cell]:
        step, first = WIDTH / self.wide, int((begin - self.hours.start) / HOUR)
        wanted = first + np.arange(self.wide)
        known = (wanted >= 0) & (wanted < len(ground.refused))
        flags = np.asarray(ground.refused).astype(int)[np.clip(wanted, 0, len(ground.refused) - 1)]
        return [
            Cell(LEFT + a * step, (b - a) * step, int(flags[a]), begin + a * HOUR, begin + b * HOUR)
            for first_known, behind in runs(known)
            for a, b in _alike(flags, first_known, behind)
        ]

    def _x(self, when: datetime, begin: np.datetime64) -> float:
        """Where a moment lies, held inside the band."""
        x = LEFT + float((utc(when) - begin) / HOUR) * WIDTH / self.wide
        return min(max(x, LEFT), LEFT + WIDTH)

    def _bars(
        self, tasks: Sequence[Any], begin: np.datetime64, words: Any, tails: bool = True, inside: bool = False
    ) -> list[Bar]:
        """Words have room up to the next bar, or, inside, to the end of their own."""
        shown = sorted((t for t in tasks if self._seen(t, begin)), key=lambda task: task.begin)
        following = [self._x(task.begin, begin) for task in shown[1:]] + [LEFT + WIDTH]
        ends = [self._x(task.end, begin) for task in shown] if inside else following
        return [self._bar(task, begin, room, words(task), tails) for task, room in zip(shown, ends, strict=False)]

    def _seen(self, task: Any, begin: np.datetime64) -> bool:
        """Its work or tail lies in this band, or the place where it stood."""
        was = getattr(task, "was", None)
        here = self._overlaps(task.begin, getattr(task, "dry", None) or task.end, begin)
        return here or bool(was and self._overlaps(*was, begin))

    def _overlaps(self, first: datetime, last: datetime, begin: np.datetime64) -> bool:
        return bool(utc(first) < begin + self.wide * HOUR and utc(last) > begin)

    def _bar(self, task: Any, begin: np.datetime64, room: float, words: str, tails: bool) -> Bar:
        x, end = self._x(task.begin, begin), self._x(task.end, begin)
        width = max(end - x, LEAST_BAR) if self._overlaps(task.begin, task.end, begin) else 0.0
        dry = getattr(task, "dry", None)
        tail = max(0.0, self._x(dry, begin) - end) if dry and tails else 0.0
        was = getattr(task, "was", None) if tails else None
        was_x, was_end = (self._x(when, begin) for when in was) if was and self._overlaps(*was, begin) else (None, 0.0)
        fits = int((room - x - 2) / LETTER)
        said = words if len(words) <= fits else (f"{words[: fits - 1]}…" if fits >= 4 else "")
        said = said if width or tail else ""
        return Bar(task, x, width, tail, said, x, was_x, max(LEAST_BAR, was_end - was_x) if was_x is not None else 0.0)

    def _bare(self, deadline: Deadline, begin: np.datetime64) -> Bare | None:
        x, until = self._x(deadline.begin, begin), self._x(deadline.until, begin)
        here = begin <= utc(deadline.until) <= begin + self.wide * HOUR
        return Bare(deadline, x, until, bool(here)) if until > x or here else None


def _alike(flags: Any, first: int, behind: int) -> list[tuple[int, int]]:
    cuts = first + 1 + np.flatnonzero(np.diff(flags[first:behind]))
    return list(pairwise([first, *cuts.tolist(), behind]))


def _rain(x: Any, step: float, rain: Any) -> list[Rectangle]:
    known = np.nan_to_num(rain)
    height = (RAIN[1] - RAIN[0]) * known / max(LEAST_RAIN, float(known.max(initial=0.0)))
    raining = np.flatnonzero(height > 0)
    return [Rectangle(float(x[i]), float(RAIN[1] - height[i]), step, float(height[i])) for i in raining]


@dataclass(frozen=True)
class Day:
    """What is done on one day of the workshop's clock, in order: the plan as a phone shows it."""

    begin: datetime
    tasks: list[Task]
    due: bool = False  # the day has begun


def by_day(tasks: Sequence[Task], zone: tzinfo, now: datetime) -> list[Day]:
    days: dict[Any, list[Task]] = {}
    for task in sorted(tasks, key=lambda task: (task.begin, task.rack)):
        midnight = task.begin.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
        days.setdefault(midnight, []).append(task)
    return [Day(midnight, own, midnight <= now) for midnight, own in days.items()]
