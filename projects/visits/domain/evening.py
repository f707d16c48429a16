"""The evening before a visit: go, postpone, or split; what each costs by its terms, and until when to say so.

And further ahead, where no forecast reaches: how often in past years such a day would have done.
"""

from collections.abc import Iterable
from copy import copy
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import numpy as np

from finishing.air.models import YearOfWeather
from finishing.science import rust
from finishing.science.metal import metal_temperature
from finishing.science.windows import Gates, refusals
from projects.money.contractor import cancellation
from projects.record.models.visits import Visit
from projects.work.domain.blasting import BlastSheet

from .blast_sheet import LineAhead as Line
from .blast_sheet import blast_sheet

LEAST_YEARS = 3  # below it a share of years says nothing


@dataclass(frozen=True)
class Course:
    """One way to decide: what it costs, and what would be blasted on the day."""

    word: str  # "go", "postpone" or "split"
    cost: Decimal
    minutes: int
    lines: tuple[Line, ...] = ()
    in_vain: tuple[Line, ...] = ()  # blasted, and no hour for the first coat before they rust
    wasted: Decimal = Decimal(0)  # of the cost, what is paid for them

    @property
    def possible(self) -> bool:
        return self.word == "postpone" or bool(self.lines)


@dataclass(frozen=True, eq=False)
class Evening:
    """What to know before the contractor sets out; `advised` is the course that wastes least."""

    visit: Visit
    sheet: BlastSheet
    go: Course
    postpone: Course
    split: Course
    call_off_by: datetime  # for nothing until then
    owed_late: Decimal  # what is owed after it

    @property
    def courses(self) -> tuple[Course, ...]:
        return self.go, self.split, self.postpone

    @property
    def advised(self) -> Course:
        if not self.go.in_vain and self.go.lines:
            return self.go
        return self.split if self.split.lines else self.postpone


def evening_before(visit: Visit, now: datetime) -> Evening:
    sheet = blast_sheet(visit, now)
    late = now > visit.cancelled_for_nothing_until
    good = [line for line in sheet.lines if not in_vain(line)]
    spoilt = tuple(line for line in sheet.lines if in_vain(line))
    kept = BlastSheet(visit, good)
    wasted = sum((sheet.shares[line.row.pk] for line in spoilt), Decimal(0))
    owed = cancellation(sheet.cost, Decimal(visit.cancel_share))
    return Evening(
        visit,
        sheet,
        go=Course("go", sheet.cost, sheet.minutes, tuple(sheet.lines), spoilt, wasted),
        split=Course("split", kept.cost if good else Decimal(0), kept.minutes, tuple(good if spoilt else ())),
        postpone=Course("postpone", owed if late else Decimal(0), 0),
        call_off_by=visit.cancelled_for_nothing_until,
        owed_late=owed,
    )


def in_vain(line: Line) -> bool:
    """Its air is known, and between its blasting and its rusting no hour lets the first coat on."""
    following = line.following
    if following is None or not following.known:
        return False
    coat, before = following.coat_from, following.coat_before
    return coat is None or (before is not None and coat >= before)


# -- beyond the forecast


@dataclass(frozen=True)
class Odds:
    """In how many of the past years a day like this would have done."""

    day: date
    good: int
    years: int

    @property
    def share(self) -> float | None:
        return self.good / self.years if self.years >= LEAST_YEARS else None


def odds(visit: Visit, days: Iterable[date], place: Any, piece: Any) -> list[Odds]:
    """For each day: years in which most of the visit's hours let iron be blasted and the first coat follow in time.

    The day itself and the three on either side are asked in each year: weather keeps no calendar.
    """
    rows = [row.to_hours() for row in YearOfWeather.objects.of(visit.workshop).past().here(visit.workshop)]
    runs = [(hours, _workable(visit, hours, place, piece)) for hours in rows]
    return [_odds(visit, day, runs) for day in days]


def _odds(visit: Visit, day: date, runs: list[Any]) -> Odds:
    asked = [good for hours, workable in runs for good in _each_year(visit, day, hours, workable)]
    return Odds(day, sum(asked), len(asked))


def _each_year(visit: Visit, day: date, hours: Any, workable: Any) -> list[bool]:
    year = int(str(hours.start)[:4])
    found = []
    for offset in range(-3, 4):
        there = _same_day(day, year) + timedelta(days=offset)
        begin, end = (
            datetime.combine(there, clock, tzinfo=visit.workshop.zone) for clock in (visit.begins, visit.ends)
        )
        first, last = (round(float(hours.position(when))) for when in (begin, end))
        if 0 <= first < last <= len(workable) and not np.isnan(workable[first:last]).any():
            found.append(bool(workable[first:last].mean() >= 0.5))
    return found


def _same_day(day: date, year: int) -> date:
    return day.replace(year=year, day=28) if (day.month, day.day) == (2, 29) else day.replace(year=year)


def _workable(visit: Visit, outside: Any, place: Any, piece: Any) -> Any:
    """By hour of a past year: blasting may end there and the first coat follow before it rusts; NaN where not known."""
    there = place.reckoned(outside)
    body, coating = piece.part.body, next(iter(piece.part.system.coats)).coating
    metal = metal_temperature(there, [body.length_m], None, place.shelter, material=body.material, sky=True)[0]
    always = np.ones(len(there), bool)
    daily = copy(visit.workshop)
    daily.work_days = "1111111"  # the day that is asked about is worked, whatever weekday it was that year
    at_work = daily.usual_hours(there.times)
    coat = refusals(there, metal, coating.gates(), working=at_work, application_h=1.0)
    blast = refusals(there, metal, Gates(humidity_max=None), working=always, application_h=1.0)
    level = rust.SALT_LEVELS[piece.salt or visit.workshop.salt]
    exposure = rust.Exposure(salt_shift=level.shift, tightening=visit.workshop.rust_tightening)
    ends = np.arange(len(there)) + 1.0
    until = rust.coat_before(there, metal, exposure, ends).finish_by
    starts = np.append(np.flatnonzero(coat == 0), len(there) + 999)
    following = starts[np.searchsorted(starts, ends)]
    good = (blast == 0) & (following + 1 <= until)
    return np.where(np.isnan(metal + there.dew_point), np.nan, good.astype(float))
