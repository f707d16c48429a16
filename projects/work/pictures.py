"""A piece's metal through the hours: its air and dew point, the hours in which it is wet, what was measured."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from finishing.air.models import Reading
from finishing.science.air import TOUCHING
from finishing.science.hours import HOUR, Flags, Floats, utc
from finishing.science.moving import MARGIN, stretches
from finishing.site.fields import METRIC, shown_unit
from finishing.site.pictures.scales import (
    LEFT,
    STEP,
    WIDTH,
    Rectangle,
    ScaleLine,
    across,
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
from projects.work.domain.outlook import Outlook
from projects.work.domain.paths import Path

BEHIND, AHEAD = 24, 72  # hours
NOON = (12,)
DEGREES, STATE = (18.0, 158.0), (163.0, 179.0)  # top and bottom of the panel, and of the band below that says wet


@dataclass(frozen=True)
class Dot:
    """A surface that was measured: on the piece itself, or on something else at its place."""

    when: datetime
    celsius: float
    own: bool
    x: float = 0.0
    y: float = 0.0


@dataclass(frozen=True)
class Arrival:
    """It was moved to another place."""

    x: float
    place: Place


@dataclass(frozen=True)
class MetalHour:
    """One instant in numbers, °C to a tenth, and what its hour is; NaN where not known."""

    when: np.datetime64
    air: float
    dew_point: float
    metal: float
    margin: float
    sweats: bool
    rained_on: bool
    place: Place | None = None  # said where the piece came to another one

    @property
    def known(self) -> bool:
        return not np.isnan(self.metal + self.dew_point)

    @property
    def near(self) -> bool:
        return self.margin < MARGIN


@dataclass(frozen=True)
class Spell:
    """A time in which it is wet, and why: it sweats, or it stands in the rain."""

    begin: datetime
    end: datetime
    sweats: bool
    running: bool


@dataclass(frozen=True)
class MetalPicture:
    air: list[str]
    dew: list[str]
    metal: list[str]
    wet: list[Rectangle]
    near: list[Rectangle]
    unknown: list[Rectangle]
    dots: list[Dot]
    arrivals: list[Arrival]
    now: float
    degrees: list[ScaleLine]
    unit: str
    ticks: list[Tick]
    days: list[Tick]
    hours: list[MetalHour]
    spells: list[Spell]  # from now on
    known_ahead: Flags  # by hour from now on: metal, dew point and rain
    key: str = "metal"

    @property
    def all_known(self) -> bool:
        return bool(self.known_ahead.all())

    @property
    def some_known(self) -> bool:
        return bool(self.known_ahead.any())


def metal_picture(outlook: Outlook, measures: str = METRIC) -> MetalPicture:
    """The day behind and the three days ahead of a piece."""
    path, zone = outlook.path, outlook.piece.workshop.zone
    first = outlook.hour - BEHIND
    start = path.hours.start + first * HOUR
    x, step = across(BEHIND + AHEAD)
    unit = shown_unit("°C", measures)
    seen = [_cut(values, first) for values in (path.hours.temperature, path.hours.dew_point, path.metal)]
    wet, near = (_cut(flags, first, False) for flags in (path.wet, path.margin < MARGIN))
    dots = measured(outlook, start)
    drawn = [degrees(values, unit) for values in (*seen, np.array([dot.celsius for dot in dots]))]
    low, high = bounds(np.concatenate(drawn), STEP[unit])
    ticks = marks(start, len(x), zone, step, NOON, LEFT)
    air, dew, metal, dot_heights = (heights(values, low, high, DEGREES) for values in drawn)
    return MetalPicture(
        air=lines(x, air),
        dew=lines(x, dew),
        metal=lines(x, metal),
        wet=rectangles(x, step, wet, STATE),
        near=rectangles(x, step, near & ~wet, STATE),
        unknown=rectangles(x, step, np.isnan(seen[1] + seen[2]), (DEGREES[0], STATE[1])),
        dots=[
            replace(dot, x=LEFT + float((utc(dot.when) - start) / HOUR) * step, y=float(y))
            for dot, y in zip(dots, dot_heights, strict=True)
        ],
        arrivals=[Arrival(LEFT + (stay.first - first) * step, stay.place) for stay in path.trail if stay.first > first],
        now=LEFT + (outlook.at - first) * step,
        degrees=scale(low, high, unit, DEGREES),
        unit=unit,
        ticks=ticks,
        days=days_of(start, ticks, (LEFT, LEFT + WIDTH)),
        hours=[_hour(path, first + at) for at in range(len(x)) if 0 <= first + at < len(path.metal)],
        spells=_spells(outlook),
        known_ahead=~np.isnan(_cut(path.margin + path.hours.rain, first)[BEHIND:]),
    )


def measured(outlook: Outlook, start: np.datetime64) -> list[Dot]:
    """Surfaces measured since `start`, on the piece and on whatever stood where it stands, in order of time."""
    dots = [Dot(when, celsius, True) for when, celsius in outlook.state.measured]
    path, begin = outlook.path, outlook.instant(max(0.0, outlook.at - BEHIND))
    taken = Reading.objects.of(outlook.piece.workshop).filter(surface_temperature__isnull=False)
    for reading in taken.between(begin, outlook.now):
        stay = path.stay_at(int(path.hours.position(reading.taken_at)))
        if reading.place_id == stay.place.pk and reading.surface_temperature is not None:
            dots.append(Dot(reading.taken_at, reading.surface_temperature.to("degC").magnitude, False))
    return sorted((dot for dot in dots if utc(dot.when) >= start), key=lambda dot: dot.when)


def _cut(values: NDArray[Any], first: int, otherwise: float = np.nan) -> NDArray[Any]:
    """The hours of the picture out of the run; `otherwise` where the run has none."""
    wanted = np.arange(first, first + BEHIND + AHEAD)
    inside = (wanted >= 0) & (wanted < len(values))
    return np.where(inside, values[np.clip(wanted, 0, len(values) - 1)], otherwise)


def _hour(path: Path, at: int) -> MetalHour:
    def tenth(by_hour: Floats) -> float:
        return round(float(by_hour[at]), 1)

    stay = path.stay_at(at)
    return MetalHour(
        path.hours.times[at],
        air=tenth(path.hours.temperature),
        dew_point=tenth(path.hours.dew_point),
        metal=tenth(path.metal),
        margin=tenth(path.margin),
        sweats=bool(path.sweats[at]),
        rained_on=bool(path.rained_on[at]),
        place=stay.place if 0 < stay.first == at else None,
    )


def _spells(outlook: Outlook) -> list[Spell]:
    """From now on, the earliest first; sweating is read along the chord between two hours."""
    ahead = slice(outlook.hour, outlook.hour + AHEAD + 1)
    sweating, rain = stretches(TOUCHING - outlook.path.margin[ahead]), runs(outlook.path.rained_on[ahead])
    spells = []
    for sweats, spans in ((True, sweating), (False, rain)):
        for span in spans:
            begin, end = (outlook.instant(outlook.hour + position) for position in span)
            if end > outlook.now:
                spells.append(Spell(begin, end, sweats, running=begin <= outlook.now))
    return sorted(spells, key=lambda spell: spell.begin)
