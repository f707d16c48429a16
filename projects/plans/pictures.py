"""A plan as a picture over its weather: hours across; places, visits, racks and people down; and as a list by day."""

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta, tzinfo
from itertools import pairwise
from math import ceil
from typing import Generic, TypeVar
from urllib.parse import urlencode
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from finishing.science.hours import HOUR, Flags, Floats, Hours, utc
from finishing.science.metal import metal_temperature
from finishing.science.sky import clear_sky_sun
from finishing.science.windows import Gates, Reasons, refusals
from finishing.site.fields import METRIC, shown_unit
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
from finishing.workshops.models import Place
from projects.record.domain.latest_ends import latest_ends, same_step
from projects.record.models import Plan, Slot, Visit
from projects.record.models.plans import fill_in
from projects.work.domain.kept_air import Run

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
TAKEN_IN, A_PAGE = 120, 50  # tasks that are shown whole; of a larger plan, at once
STRIP_WIDTH, STRIP_NAMES, STRIP_ROW = 334.0, 64.0, 18.0  # of a day's strip on a phone
NOBODY = "contractor"  # whose people are not ours
WORDS, TAIL = 11.0, 5.0  # heights of what stands above a bar, and of a drying tail
WORDED = ("rack", "person")
HEIGHTS = {"place": 14.0, "visits": 16.0, "rack": 27.0, "person": 24.0}

USUAL_WALL = 0.005  # m, volume by area of a casting of 10 mm: whose metal a place's hours are judged by
AN_HOUR = 1.0
BEFORE = timedelta(days=2)  # air before the first task, so that metal is in balance when it counts

# -- what is drawn


@dataclass(frozen=True)
class DrawnTask:
    """A task in its place and time; `was` is where it stood in the plan that is kept."""

    key: UUID | str
    rack: str
    label: str
    kind: str
    place: str
    people: tuple[str, ...]
    begin: datetime
    end: datetime
    dry: datetime | None = None
    colour: str = ""
    broken: str = ""
    was: tuple[datetime, datetime] | None = None
    slot: Slot | None = None  # what it stands for, for the words of a list
    log_query: str = ""
    done: bool = False


@dataclass(frozen=True)
class BareTime:
    """Bare iron of a rack, from its blasting to when it must be coated."""

    rack: str
    begin: datetime
    until: datetime


@dataclass(frozen=True)
class PlaceHours:
    """The hours of a place: why each is refused, 0 where it is workable; one value for each hour of the weather."""

    place: str
    refused: Reasons


@dataclass(frozen=True)
class VisitOnOffer:
    """A day that is on offer, and whether this plan takes it; nothing dries on it, and it stood nowhere else."""

    key: UUID | str
    name: str
    begin: datetime
    end: datetime
    booked: bool
    dry: None = None
    was: None = None


Drawn = DrawnTask | VisitOnOffer

# -- the picture


@dataclass(frozen=True)
class PlaceStretch:
    """Hours on end of a place with the same reasons."""

    x: float
    width: float
    flags: int
    begin: np.datetime64
    end: np.datetime64


@dataclass(frozen=True)
class TaskBar:
    """A task in a lane: its work, the tail until it is dry, and the words that have room beside it."""

    task: Drawn
    x: float
    width: float
    tail: float = 0.0
    words: str = ""
    words_x: float = 0.0
    was_x: float | None = None
    was_width: float = 0.0

    @property
    def end_x(self) -> float:
        """Where the tail begins, also of work that lies before this band."""
        return self.x + self.width


@dataclass(frozen=True)
class BareLine:
    """The time bare, as a line that ends at the deadline; the deadline itself only where it lies in this band."""

    deadline: BareTime
    x: float
    until_x: float
    ends: bool


@dataclass(frozen=True)
class Lane:
    sort: str  # "place", "visits", "rack" or "person"
    name: str
    y: float
    bars: list[TaskBar] = field(default_factory=list)
    cells: list[PlaceStretch] = field(default_factory=list)
    bare: list[BareLine] = field(default_factory=list)

    @property
    def height(self) -> float:
        return HEIGHTS[self.sort]

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


@dataclass(frozen=True)
class PlanBand:
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
class PlanPicture:
    bands: list[PlanBand]
    flags: int  # every reason in it
    kinds: list[tuple[str, str, str]]  # colour, kind and what it is called, as met first

    @property
    def broken(self) -> bool:
        return any(bar.task.broken for bar in self._bars if isinstance(bar.task, DrawnTask))

    @property
    def moved(self) -> bool:
        return any(bar.was_x is not None for bar in self._bars)

    @property
    def bare(self) -> bool:
        return any(lane.bare for band in self.bands for lane in band.lanes)

    @property
    def _bars(self) -> list[TaskBar]:
        return [bar for band in self.bands for lane in band.lanes for bar in lane.bars]


def draw(
    hours: Hours,
    night: Flags,
    tasks: Sequence[DrawnTask],
    *,
    zone: tzinfo,
    now: datetime,
    places: Sequence[PlaceHours] = (),
    deadlines: Sequence[BareTime] = (),
    visits: Sequence[VisitOnOffer] = (),
    measures: str = METRIC,
) -> PlanPicture:
    """From the midnight before the first task to the one after the last is dry; `night` by hour, as `hours`."""
    first = min((task.begin for task in tasks), default=now)
    last = max((task.dry or task.end for task in tasks), default=now) + timedelta(days=1)
    begin, end = (utc(_midnight(day, zone)).astype("datetime64[h]") for day in (first, last))
    count = max(LEAST_HOURS, int((end - begin) / HOUR))
    # Bands of whole days and of one width, so that a day looks alike in all of them.
    wide = count if count <= MOST_HOURS + 1 else 24 * ceil(count / 24 / ceil(count / MOST_HOURS))
    drawing = _BandDrawing(hours, night, tasks, zone, now, places, deadlines, visits, measures, wide, begin)
    bands = [replace(drawing, begin=begin + at * HOUR).band() for at in range(0, count, wide)]
    # a paint's bars have its own colour, and are called by the first that has it
    labels = {(task.colour, task.kind): task.label for task in reversed(tasks)}
    kinds = [(colour, kind, label if colour else kind) for (colour, kind), label in reversed(labels.items())]
    return PlanPicture(bands, int(np.bitwise_or.reduce([band.flags for band in bands])), kinds)


def _midnight(moment: datetime, zone: tzinfo) -> datetime:
    return moment.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)


@dataclass(frozen=True)
class _BandDrawing:
    hours: Hours
    night: Flags
    tasks: Sequence[DrawnTask]
    zone: tzinfo
    now: datetime
    places: Sequence[PlaceHours]
    deadlines: Sequence[BareTime]
    visits: Sequence[VisitOnOffer]
    measures: str
    wide: int  # hours of the band
    begin: np.datetime64  # and its first one

    @property
    def step(self) -> float:
        return WIDTH / self.wide

    @property
    def end(self) -> np.datetime64:
        return self.begin + self.wide * HOUR

    def band(self) -> PlanBand:
        air = self.hours.between(self.begin, self.end)
        x: Floats = LEFT + np.arange(self.wide, dtype=np.float64) * self.step
        unit = shown_unit("°C", self.measures)
        warm, dew = (degrees(values, unit) for values in (air.temperature, air.dew_point))
        low, high = bounds(np.append(warm, dew), STEP[unit])
        lanes = self._lanes()
        bottom = lanes[-1].bottom if lanes else FIRST
        ticks = marks(self.begin, self.wide, self.zone, self.step, GRID_HOURS, LEFT)
        at, known = self._positions(len(self.night))
        return PlanBand(
            lanes=lanes,
            air=lines(x, heights(warm, low, high, AIR)),
            dew=lines(x, heights(dew, low, high, AIR)),
            rain=_rain(x, self.step, air.rain),
            unknown=rectangles(x, self.step, ~air.known, (AIR[0], RAIN[1])),
            night=rectangles(x, self.step, self.night[at] & known, (AIR[0], bottom)),
            degrees=scale(low, high, unit, AIR)[:: 2 if high - low > 2 * STEP[unit] else 1],
            unit=unit,
            ticks=ticks,
            days=days_of(self.begin, ticks, (LEFT, LEFT + WIDTH)),
            now=self._x(self.now) if self.begin <= utc(self.now) <= self.end else None,
            height=bottom + 16,
            flags=int(np.bitwise_or.reduce([cell.flags for lane in lanes for cell in lane.cells] or [0])),
        )

    def _positions(self, count: int) -> tuple[NDArray[np.int64], Flags]:
        """Where this band's hours stand in an array of so many hours of the weather, and which of them do."""
        hours = int((self.begin - self.hours.start) / HOUR) + np.arange(self.wide)
        return np.clip(hours, 0, count - 1), (hours >= 0) & (hours < count)

    def _lanes(self) -> list[Lane]:
        people = sorted({name for task in self.tasks for name in task.people})
        names = [
            *(("place", place.place) for place in self.places),
            *([("visits", "visits")] if self.visits else []),
            *(("rack", rack) for rack in dict.fromkeys(task.rack for task in self.tasks)),
            *(("person", person) for person in people),
        ]
        lanes: list[Lane] = []
        for sort, name in names:
            gap = GAP if lanes and lanes[-1].sort != sort else 0
            lane = self._lane(sort, name, (lanes[-1].bottom if lanes else FIRST) + gap)
            if sort not in WORDED or lane.bars or lane.bare:  # who has nothing in this band has no row in it
                lanes.append(lane)
        return lanes

    def _lane(self, sort: str, name: str, y: float) -> Lane:
        if sort == "place":
            refused = next(place.refused for place in self.places if place.place == name)
            return Lane(sort, name, y, cells=self._stretches(refused))
        if sort == "visits":
            return Lane(sort, name, y, bars=self._bars([(visit, visit.name) for visit in self.visits], inside=True))
        if sort == "rack":
            bars = self._bars([(task, task.label) for task in self.tasks if task.rack == name])
            bare = [self._bare(deadline) for deadline in self.deadlines if deadline.rack == name]
            return Lane(sort, name, y, bars=bars, bare=[line for line in bare if line.until_x > line.x or line.ends])
        own = [(task, task.rack) for task in self.tasks if name in task.people]
        return Lane(sort, name, y, bars=self._bars(own, tails=False))

    def _stretches(self, refused: Reasons) -> list[PlaceStretch]:
        at, known = self._positions(len(refused))
        flags = refused[at]
        changes = np.flatnonzero(np.diff(flags)) + 1
        cuts = [pairwise([a, *(int(at) for at in changes if a < at < b), b]) for a, b in runs(known)]
        return [
            PlaceStretch(
                LEFT + a * self.step, (b - a) * self.step, int(flags[a]), self.begin + a * HOUR, self.begin + b * HOUR
            )
            for run in cuts
            for a, b in run
        ]

    def _x(self, when: datetime) -> float:
        """Where a moment lies, held inside the band."""
        x = LEFT + float((utc(when) - self.begin) / HOUR) * self.step
        return min(max(x, LEFT), LEFT + WIDTH)

    def _overlaps(self, first: datetime, last: datetime) -> bool:
        return bool(utc(first) < self.end and utc(last) > self.begin)

    def _bars(self, tasks: Sequence[tuple[Drawn, str]], tails: bool = True, inside: bool = False) -> list[TaskBar]:
        """Each with its words, which have room up to the next bar, or, inside, to the end of their own."""
        seen = sorted((pair for pair in tasks if self._seen(pair[0])), key=lambda pair: pair[0].begin)
        ends = [self._x(task.end) for task, _ in seen] if inside else [
            *(self._x(task.begin) for task, _ in seen[1:]), LEFT + WIDTH
        ]  # fmt: skip
        return [self._bar(task, words, room, tails) for (task, words), room in zip(seen, ends, strict=False)]

    def _seen(self, task: Drawn) -> bool:
        """Its work or tail lies in this band, or the place where it stood."""
        return self._overlaps(task.begin, task.dry or task.end) or bool(task.was and self._overlaps(*task.was))

    def _bar(self, task: Drawn, words: str, room: float, tails: bool) -> TaskBar:
        x, end = self._x(task.begin), self._x(task.end)
        width = max(end - x, LEAST_BAR) if self._overlaps(task.begin, task.end) else 0.0
        tail = max(0.0, self._x(task.dry) - end) if task.dry and tails else 0.0
        letters = int((room - x - 2) / LETTER)
        if not width and not tail:
            words = ""
        elif len(words) > letters:
            words = f"{words[: letters - 1]}…" if letters >= 4 else ""
        bar = TaskBar(task, x, width, tail, words, x)
        if task.was and tails and self._overlaps(*task.was):
            was_x, was_end = (self._x(when) for when in task.was)
            return replace(bar, was_x=was_x, was_width=max(LEAST_BAR, was_end - was_x))
        return bar

    def _bare(self, deadline: BareTime) -> BareLine:
        ends = bool(self.begin <= utc(deadline.until) <= self.end)
        return BareLine(deadline, self._x(deadline.begin), self._x(deadline.until), ends)


def _rain(x: Floats, step: float, rain: Floats) -> list[Rectangle]:
    known = np.nan_to_num(rain)
    height = (RAIN[1] - RAIN[0]) * known / max(LEAST_RAIN, float(known.max(initial=0.0)))
    raining = np.flatnonzero(height > 0)
    return [Rectangle(float(x[i]), float(RAIN[1] - height[i]), step, float(height[i])) for i in raining]


# -- the list by day


Task = TypeVar("Task", DrawnTask, Slot)


@dataclass(frozen=True)
class DayOfTasks(Generic[Task]):
    """What is done on one day of the workshop's clock, in order: the plan as a phone shows it."""

    begin: datetime
    tasks: list[Task]
    due: bool = False  # the day has begun


@dataclass(frozen=True)
class StripBar:
    """A task on the strip of its day."""

    task: DrawnTask
    x: float
    y: float
    width: float


@dataclass(frozen=True)
class StripHour:
    x: float
    hour: int


@dataclass(frozen=True)
class DayStrip:
    """A day's hours across, who works down: small enough for a phone, above the steps as lines."""

    names: list[tuple[str, float]]  # with the foot of each row
    bars: list[StripBar]
    hours: list[StripHour]
    height: float


def day_strip(day: DayOfTasks[DrawnTask]) -> DayStrip:
    """From the whole hour in which the first task begins to that in which the last one ends."""

    def since(when: datetime) -> float:
        return (when - day.begin).total_seconds() / 3600

    begin = int(min(since(task.begin) for task in day.tasks))
    end = max(ceil(max(since(task.end) for task in day.tasks)), begin + 1)
    step = (STRIP_WIDTH - STRIP_NAMES) / (end - begin)
    ours = sorted({name for task in day.tasks for name in task.people})
    who = [*ours, *([NOBODY] if any(not task.people for task in day.tasks) else [])]
    bars = [
        StripBar(
            task,
            STRIP_NAMES + (since(task.begin) - begin) * step,
            STRIP_ROW * who.index(name) + 3,
            max(LEAST_BAR, (since(task.end) - since(task.begin)) * step),
        )
        for task in day.tasks
        for name in task.people or (NOBODY,)
    ]
    every = next((hours for hours in (1, 2) if end - begin <= 6 * hours), 4)
    hours = [StripHour(STRIP_NAMES + (hour - begin) * step, hour % 24) for hour in range(begin, end + 1, every)]
    return DayStrip([(name, STRIP_ROW * (n + 1)) for n, name in enumerate(who)], bars, hours, STRIP_ROW * len(who))


def by_day(tasks: Iterable[Task], zone: tzinfo, now: datetime) -> list[DayOfTasks[Task]]:
    days: dict[datetime, list[Task]] = {}
    for task in sorted(tasks, key=lambda task: (task.begin, task.rack)):
        days.setdefault(_midnight(task.begin, zone), []).append(task)
    return [DayOfTasks(midnight, own, midnight <= now) for midnight, own in days.items()]


@dataclass(frozen=True)
class DaysShown(Generic[Task]):
    """Days of a plan that a page shows at once, and the days from which those before and after begin."""

    days: list[DayOfTasks[Task]]
    earlier: datetime | None = None
    later: datetime | None = None

    @property
    def tasks(self) -> list[Task]:
        return [task for day in self.days for task in day.tasks]

    @property
    def whole(self) -> bool:
        return not (self.earlier or self.later)


def days_shown(days: list[DayOfTasks[Task]], now: datetime, wanted: datetime | None = None) -> DaysShown[Task]:
    """All of a plan that can be taken in; of a larger one the days from `wanted`, else from today, with fifty tasks.

    What begins within 24 hours is never left to the next page.
    """
    if sum(len(day.tasks) for day in days) <= TAKEN_IN:
        return DaysShown(days)
    today = max((day.begin for day in days if day.begin <= now), default=days[0].begin)
    first = next((at for at, day in enumerate(days) if day.begin >= (wanted or today)), len(days) - 1)
    last = _after_fifty(days, range(first, len(days)))
    while (
        days[first].begin >= today
        and last + 1 < len(days)
        and now <= days[last + 1].tasks[0].begin <= now + timedelta(hours=24)
    ):
        last += 1
    before = _after_fifty(days, range(first - 1, -1, -1)) if first else None
    return DaysShown(
        days[first : last + 1],
        days[before].begin if before is not None else None,
        days[last + 1].begin if last + 1 < len(days) else None,
    )


def _after_fifty(days: list[DayOfTasks[Task]], order: range) -> int:
    """The day with which fifty tasks are together, or the last of these."""
    together = 0
    for at in order:
        together += len(days[at].tasks)
        if together >= A_PAGE:
            return at
    return order[-1]


# -- from rows


def plan_picture(
    plan: Plan,
    tasks: Sequence[DrawnTask],
    now: datetime,
    run: Run,
    visits: Iterable[Visit] = (),
    finish_by: Mapping[UUID, datetime] | None = None,
) -> PlanPicture:
    """Of these tasks of `plan`, which was read in short; the run's air is known_before() them."""
    workshop, air, slots = plan.workshop, run.air, list(plan.slots.all())
    booked = {slot.visit_id for slot in slots}
    blasted = {slot.rack: slot.end for slot in slots if slot.kind == Slot.Kind.BLAST}
    rusting = [latest for latest in latest_ends(slots, finish_by) if latest.what == "rust"]
    return draw(
        air.outdoor,
        clear_sky_sun(air.outdoor, workshop.latitude, workshop.longitude) <= 0,
        tasks,
        zone=workshop.zone,
        now=now,
        places=[
            place_hours(place, run)
            for place in sorted({slot.place for slot in slots}, key=lambda place: (not place.outdoors, place.name))
        ],
        deadlines=[BareTime(s.slot.rack, blasted.get(s.slot.rack, min(s.slot.begin, s.at)), s.at) for s in rusting],
        visits=[VisitOnOffer(v.pk, v.contractor, v.starts_at, v.ends_at, v.pk in booked) for v in visits],
        measures=workshop.units,
    )


def known_before(tasks: Iterable[Slot], now: datetime) -> datetime:
    """From when on the air must be known, so that metal is in balance when the first of them begins."""
    return min([now, *(task.begin for task in tasks)]) - BEFORE


def place_hours(place: Place, run: Run) -> PlaceHours:
    """An hour's work on a usual casting at the usual gates: a paint's own are told where its step is."""
    if place.pk not in run.usual_work:
        there = run.air.of(place)
        metal = metal_temperature(there, USUAL_WALL, shelter=place.shelter, sky=True)
        refused = refusals(there, metal, Gates(), working=run.working, application_h=AN_HOUR)
        run.usual_work[place.pk] = refused
    return PlaceHours(str(place), run.usual_work[place.pk])


def drawn_days(days: DaysShown[Slot], done: Set[UUID], kept: Plan | None = None) -> DaysShown[DrawnTask]:
    """These days of a plan that was read in short, each slot beside where it stands in the kept one.

    done: the ids of those that are logged.
    """
    fill_in(days.tasks)
    stood = {same_step(slot): (slot.begin, slot.end) for slot in kept.slots.all()} if kept else {}
    drawn = [
        DayOfTasks(
            day.begin, [_drawn(slot, stood.get(same_step(slot)), slot.pk in done) for slot in day.tasks], day.due
        )
        for day in days.days
    ]
    return DaysShown(drawn, days.earlier, days.later)


def _drawn(slot: Slot, was: tuple[datetime, datetime] | None, done: bool) -> DrawnTask:
    return DrawnTask(
        key=slot.pk,
        rack=slot.rack,
        label=slot.label,
        kind=slot.kind,
        place=str(slot.place),
        people=tuple(str(person) for person in slot.people.all()),
        begin=slot.begin,
        end=slot.end,
        dry=slot.dry_at,
        colour=_colour(slot),
        broken=slot.broken,
        was=was if was != (slot.begin, slot.end) else None,
        slot=slot,
        log_query="" if done else log_query(slot),
        done=done,
    )


def _colour(slot: Slot) -> str:
    """The paint's own; where nobody told it, that of the parts under their last coat."""
    if slot.kind == Slot.Kind.LETTER:
        return next((p.part.lettering_colour for p in slot.pieces.all() if p.part.lettering_colour), "")
    if slot.kind != Slot.Kind.COAT or not slot.layer or not slot.layer.coating:
        return ""
    own = next((p.part.colour for p in slot.pieces.all() if p.part.colour), "")
    return slot.layer.coating.colour or ("" if slot.layer.coating.is_primer else own)


def log_query(slot: Slot) -> str:
    """What the log form is asked with, for the entry that this step becomes; empty where the log has none."""
    if not slot.logged_as:
        return ""
    pieces = [("piece", str(piece)) for piece in slot.piece_ids]
    layer = [("layer", str(slot.layer_id))] if slot.layer_id else []
    return urlencode([*pieces, ("kind", slot.logged_as), ("place", str(slot.place_id)), *layer]) if pieces else ""
