"""The evening before a visit: go, postpone, or split; what each costs by its terms, and until when to say so.

And further ahead, where no forecast reaches: how often in past years such a day would have done.
"""

from collections.abc import Iterable
from copy import copy
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

import numpy as np

from finishing.air.domain.seasons import coat_steps, with_rain_told
from finishing.air.models import YearOfWeather
from finishing.coatings.models import Coating
from finishing.science import rust
from finishing.science.hours import Floats, Hours
from finishing.science.metal import metal_temperature
from finishing.science.seasons import SeasonStep, Year, workable
from finishing.science.windows import Gates, refusals
from finishing.workshops.models import Place
from projects.money.contractor import cancellation
from projects.record.models.pieces import Piece
from projects.record.models.visits import Visit, VisitPiece
from projects.work.domain.outlook import AREA_ASSUMED

from .blast_sheet import LineAhead, SheetAhead, blast_sheet

LEAST_YEARS = 3  # below it a share of years says nothing


@dataclass(frozen=True)
class CourseOfAction:
    """One way to decide: what the day costs, and what would still be blasted on it."""

    word: str  # "go", "postpone" or "split"
    cost: Decimal
    lines: tuple[LineAhead, ...] = ()
    in_vain: tuple[LineAhead, ...] = ()  # no hour for the first coat before they rust, or not by the kept plan
    wasted: Decimal = Decimal(0)  # of the cost, what is paid for them

    @property
    def minutes(self) -> int:
        return sum(line.minutes for line in self.lines)

    @property
    def begins(self) -> datetime | None:
        return min((line.following.begins for line in self.lines if line.following), default=None)

    @property
    def ends(self) -> datetime | None:
        return max((line.following.ends for line in self.lines if line.following), default=None)

    @property
    def possible(self) -> bool:
        return self.word == "postpone" or bool(self.lines)


@dataclass(frozen=True, eq=False)
class Evening:
    """What to know before the contractor sets out; `advised` is the course that wastes least."""

    visit: Visit
    sheet: SheetAhead
    go: CourseOfAction
    postpone: CourseOfAction
    split: CourseOfAction
    call_off_by: datetime  # for nothing until then
    owed_late: Decimal  # what is owed after it

    @property
    def courses(self) -> tuple[CourseOfAction, ...]:
        return self.go, self.split, self.postpone

    @property
    def advised(self) -> CourseOfAction:
        if not self.go.in_vain and self.go.lines:
            return self.go
        return self.split if self.split.lines else self.postpone


def evening_before(visit: Visit, now: datetime) -> Evening:
    """Judged is what the kept plan does with each piece; where there is none, how each fares where it stands."""
    sheet = blast_sheet(visit, now)
    late = now > visit.cancelled_for_nothing_until
    waiting = [*sheet.waiting, *sheet.beside]
    good = [line for line in waiting if not line.in_vain]
    spoilt = tuple(line for line in waiting if line.in_vain)
    done = [line for line in sheet.lines if line.row.state == VisitPiece.State.BLASTED]  # paid for in any case
    whole, kept = SheetAhead(visit, [*done, *waiting]), SheetAhead(visit, [*done, *good])
    wasted = sum((whole.shares[line.row.pk] for line in spoilt), Decimal(0))
    owed = cancellation(sheet.cost, Decimal(visit.cancel_share))
    return Evening(
        visit,
        sheet,
        go=CourseOfAction("go", whole.cost, tuple(waiting), spoilt, wasted),
        split=CourseOfAction("split", kept.cost if good else Decimal(0), tuple(good if spoilt else ())),
        postpone=CourseOfAction("postpone", owed if late else Decimal(0)),
        call_off_by=visit.cancelled_for_nothing_until,
        owed_late=owed,
    )


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


def odds(visit: Visit, days: Iterable[date], place: Place, piece: Piece) -> list[Odds]:
    """For each day: years in which most of the visit's hours let iron be blasted and the first coat follow in time,
    dry so far that it bears its night.

    The day itself and the three on either side are asked in each year: weather keeps no calendar. Empty for a piece
    that gets no coat.
    """
    layers = piece.part.system.layers.all() if piece.part.system else ()
    coat = next(iter(coat_steps(layers, piece.part.square_metres or AREA_ASSUMED)), None)
    if coat is None:
        return []
    rows = [row.to_hours() for row in YearOfWeather.objects.of(visit.workshop).past().here(visit.workshop)]
    runs = [(hours, _workable(visit, hours, place, piece, coat.step)) for hours in rows]
    odds = []
    for day in days:
        would_do = [good for hours, workable in runs for good in _would_have_done(visit, day, hours, workable)]
        odds.append(Odds(day, sum(would_do), len(would_do)))
    return odds


def first_coating(piece: Piece) -> Coating | None:
    """What goes on bare iron first."""
    first = piece.part.system.first_coat if piece.part.system else None
    return first.coating if first else None


def _would_have_done(visit: Visit, day: date, hours: Hours, workable: Floats) -> list[bool]:
    """Of the day in that year, and of those around it whose air is known."""
    year = int(str(hours.start)[:4])
    same_day = day.replace(year=year, day=28) if (day.month, day.day) == (2, 29) else day.replace(year=year)
    would_do = []
    for offset in range(-3, 4):
        there = same_day + timedelta(days=offset)
        begin, end = (visit.workshop.at(there, clock) for clock in (visit.begins, visit.ends))
        first, last = (round(float(hours.position(when))) for when in (begin, end))
        if 0 <= first < last <= len(workable) and not np.isnan(workable[first:last]).any():
            would_do.append(bool(workable[first:last].mean() >= 0.5))
    return would_do


def _workable(visit: Visit, outside: Hours, place: Place, piece: Piece, coat: SeasonStep) -> Floats:
    """By hour of a past year: blasting may end there and the first coat follow before it rusts; NaN where not known.

    The coat is judged as in `science.seasons`: its air until it has set, no dew and no rain until it bears them.
    """
    there, _ = with_rain_told(place.reckoned(outside))
    body = piece.part.body
    metal = metal_temperature(there, [body.length_m], None, place.shelter, material=body.material, sky=True)[0]
    always = np.ones(len(there), bool)
    daily = copy(visit.workshop)
    daily.work_days = "1111111"  # the day that is asked about is worked, whatever weekday it was that year
    at_work = daily.usual_hours(there.times)
    blast = refusals(there, metal, Gates(humidity_max=None), working=always, application_h=1.0)
    level = rust.SALT_LEVELS[piece.salt or visit.workshop.salt]
    exposure = rust.Exposure(salt_shift=level.shift, tightening=visit.workshop.rust_tightening)
    ends = np.arange(len(there)) + 1.0
    until = rust.coat_before(there, metal, exposure, ends).finish_by
    may_coat = workable(Year(there, at_work, np.zeros(len(there), int)), metal, coat)
    starts = np.append(np.flatnonzero(may_coat), len(there) + 999)
    following = starts[np.searchsorted(starts, ends)]
    good = (blast == 0) & (following + coat.application_h <= until)
    return np.where(np.isnan(metal + there.dew_point), np.nan, good.astype(float))
