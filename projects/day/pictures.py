"""The next day at the top of the day sheet, out of what the sheet has reckoned already: values in, geometry out."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from finishing.science.hours import HOUR
from finishing.science.moving import MARGIN
from finishing.site.pictures.scales import Rectangle, heights, lines, rectangles
from finishing.site.pictures.strips import Stretch, Strip, Tick, marks, strip
from projects.day.domain import DaySheet
from projects.work.domain.outlook import Outlook

AHEAD = 24  # hours
WIDTH = 360.0
STEP = WIDTH / AHEAD
HOURS, WET, CURVE = (16.0, 30.0), (32.0, 40.0), (42.0, 72.0)  # top and bottom of the three panels
MOST = 12.0  # °C above the dew point, at which the curve meets its ceiling
MOST_ENDS = 3
LABEL = 70.0  # the least between two labels


@dataclass(frozen=True)
class End:
    """What is over in these hours: bare iron's time, or a recoat window, of all pieces that lose it at once."""

    at: datetime
    x: float
    recoat: bool
    outlooks: list[Outlook]
    labelled: bool


@dataclass(frozen=True)
class NextDay:
    """How the air is for the most urgent coat where it waits: `strip` says which hours refuse it, and why."""

    outlook: Outlook
    strip: Strip
    workable: list[Rectangle]
    rain: list[Rectangle]
    rains: list[Stretch]
    margin: list[str]  # points of the curve
    near: float  # height of what paint asks for above the dew point
    near_celsius: float
    least: float | None  # °C, of the hours known
    least_at: np.datetime64
    ends: list[End]
    ticks: list[Tick]


def next_day(sheet: DaySheet, outlooks: list[Outlook], now: datetime) -> NextDay | None:
    """None where nothing waits for paint; its hours are those of the first coat on the sheet."""
    if not sheet.paint_jobs:
        return None
    outlook = sheet.paint_jobs[0].slowest
    path, zone, hour = outlook.path, outlook.piece.workshop.zone, outlook.hour
    begin = path.hours.start + hour * HOUR
    picture = strip(path.hours.start, outlook.weather_refused, now, zone, count=AHEAD, key="next-day")
    rained = strip(path.hours.start, path.rained_on.astype(np.uint16), now, zone, count=AHEAD)
    margin = np.full(AHEAD, np.nan)
    known = path.margin[hour : hour + AHEAD]
    margin[: len(known)] = known
    wet = np.zeros(AHEAD, bool)
    wet[: len(known)] = path.rained_on[hour : hour + AHEAD]
    refused = np.array([bool(cell.flags) for row in picture.rows for cell in row.cells])
    x = np.arange(0, WIDTH, STEP, dtype=np.float64)
    some = not np.isnan(margin).all()
    return NextDay(
        outlook,
        picture,
        rectangles(x, STEP, ~refused, HOURS),
        rectangles(x, STEP, wet, WET),
        [stretch for stretch in rained.refused if stretch.flags == 1],
        lines(x, heights(np.clip(margin, 0, MOST), 0, MOST, CURVE)),
        float(heights(MARGIN, 0, MOST, CURVE)),
        MARGIN,
        float(np.nanmin(margin)) if some else None,
        begin + int(np.nanargmin(margin)) * HOUR if some else begin,
        ends_within(outlooks, now, timedelta(hours=AHEAD)),
        marks(begin, AHEAD, zone, STEP),
    )


def ends_within(outlooks: list[Outlook], now: datetime, reach: timedelta) -> list[End]:
    """The first few, the soonest first."""
    alike: dict[tuple[datetime, bool], list[Outlook]] = defaultdict(list)
    for outlook in outlooks:
        for at, recoat in ((outlook.coat_before_at, False), (outlook.closes, True)):
            if at and now < at <= now + reach:
                alike[at.replace(second=0, microsecond=0), recoat].append(outlook)
    begin, label, ends = now.replace(minute=0, second=0, microsecond=0), -LABEL, []
    for (at, recoat), over in sorted(alike.items(), key=lambda end: end[0])[:MOST_ENDS]:
        x = (at - begin) / timedelta(hours=1) * STEP
        ends.append(End(at, x, recoat, over, labelled=x >= label + LABEL))
        label = x if ends[-1].labelled else label
    return ends
