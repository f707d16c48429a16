"""A piece carried from one air into another, at any hour: how long until it is dry-safe, and what that costs bare iron.

Cold iron wheeled into warm damp air sweats; the same iron an hour later may not. Each hour of the run is tried as the
hour of the move, all at once, so that a page can say until when and a planner can choose.
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from . import air, rust
from .heat import Course
from .hours import Flags, Floats, Hours
from .metal import GREY_IRON, Material, course
from .sources import OUR_JUDGEMENT
from .working import Working, decimals_to_reckon

MARGIN = 3.0  # °C above the dew point from which metal counts as settled; the gate of IMO-PSPC


@dataclass(frozen=True, eq=False)
class Moves:
    """For a move at each hour of the run (n), or (p, n) for p pieces: all NaN-free but coldest; not known is bad.

    settles: hours after the move until the margin holds, 0 where it holds on arrival, inf where not within the run
    coldest: least margin on the way there, °C (NaN where not known) · sweats: the metal comes to its dew point, or
    nobody knows · rust_spent: share of a bare piece's budget gone by then; 1 where it sweats.
    """

    settles: Floats
    coldest: Floats
    sweats: Flags
    rust_spent: Floats

    @property
    def safe(self) -> Flags:
        """The margin holds from the first moment on."""
        return np.asarray(self.settles == 0)


def moves(
    leaving: ArrayLike,
    there: Hours,
    length_m: ArrayLike,
    shelter: str,
    *,
    material: Material = GREY_IRON,
    margin: float = MARGIN,
    salt_shift: ArrayLike = rust.UNKNOWN.shift,
    sky: bool = False,
) -> Moves:
    """What becomes of a piece moved to another place, for each hour in which it may be moved.

    leaving: (n) or (p, n) °C, its metal's temperature at each hour where it stands now · there: the other place's
    hours, the same n · length_m (a number, or p), shelter, material, sky: as in metal.metal_temperature
    margin: °C that count as settled · salt_shift: a number, or p.

    Between two hours the margin is read along the chord: while cold metal warms that is late by some minutes at most,
    never early. An hour not known, here or there, is never safe.
    Source: the lumped model of [INCROPERA] ch. 5; the rest is [our judgement].

    >>> shop = Hours.from_arrays(np.datetime64("2025-03-01T08"), temperature=[18.0] * 6, humidity=50)
    >>> moved = moves([5.0] * 6, shop, 0.020, "still indoor")
    >>> round(float(moved.settles[0]), 1), bool(moved.sweats[0])
    (1.3, True)
    """
    start = np.atleast_2d(np.asarray(leaving, float))
    lengths, shift = (np.broadcast_to(np.asarray(each, float), len(start)) for each in (length_m, salt_shift))
    carried = _Carried(course(there, lengths, shelter, material=material, sky=sky), there, margin, shift, start)
    while len(carried.way):
        carried.after_another_hour()
    return carried.moves(np.shape(leaving))


def stretches(above: ArrayLike, allowed: ArrayLike = True) -> list[tuple[float, float]]:
    """When a value read at each hour (n) lies above 0: from … until, in hours after the first, along the chord.

    allowed: (n) for the hour that begins there; an hour not allowed, or with an end not known, is never in.

    >>> stretches([2.0, 1.0, -1.0, -1.0, 3.0])
    [(0.0, 1.5), (3.25, 4.0)]
    """
    values = np.asarray(above, float)
    may = np.broadcast_to(np.asarray(allowed, bool), values.shape)
    found: list[tuple[float, float]] = []
    for hour, (first, last) in enumerate(pairwise(values.tolist())):
        if not may[hour] or np.isnan(first + last) or (first <= 0 and last <= 0):
            continue
        crossed = hour + first / (first - last) if first * last < 0 else float(hour)
        begin, end = (crossed if first < 0 else hour), (crossed if last < 0 else hour + 1)
        if found and found[-1][1] == begin:
            begin = found.pop()[0]
        found.append((float(begin), float(end)))
    return found


def _minutes(before: float, after: float, level: float) -> float:
    """Past the full hour, along the chord; none where the margin stands still."""
    return 60 * (before - level) / (before - after) if before != after else 0.0


def stretch_working(before: Any, after: Any, level: Any) -> Working:
    """What a page opens behind a time at which a margin is used up or comes back; margins an hour apart, quantities.

    >>> from finishing.science.units import Quantity
    >>> margins = [Quantity(value, "delta_degC") for value in (4.0, 2.0, 3.0)]
    >>> stretch_working(*margins).result
    '30 min past the full hour'
    """
    first, last, asked = (value.to("delta_degC").magnitude for value in (before, after, level))
    decimals = decimals_to_reckon((first, last), lambda m_0, m_1: _minutes(m_0, m_1, asked), shown=0)
    return Working(
        name="When the margin is used up" if last < first else "When the margin is back",
        formula="t = (m_0 − m) / (m_0 − m_1) · 60 min",
        inputs=(
            ("margin at the full hour, m_0", f"{first:.{decimals}f} °C"),
            ("margin an hour later, m_1", f"{last:.{decimals}f} °C"),
            ("margin asked, m", f"{asked:g} °C"),
        ),
        result=f"{_minutes(first, last, asked):.0f} min past the full hour",
        source=OUR_JUDGEMENT,
        note="Between two hours the margin is read along the chord.",
    )


def move_working(leaving: Any, air_there: Any, dew_there: Any, least: Any, length: Any) -> Working:
    """What a page opens behind the least margin of a piece on its way to settle at another place; quantities in.

    >>> from finishing.science.units import Quantity
    >>> met = [Quantity(value, "degC") for value in (5, 18, 7.4)]
    >>> move_working(*met, Quantity(-2.4, "delta_degC"), Quantity(20, "mm")).result
    '2.4 °C under the dew point'
    """
    margin = least.to("delta_degC").magnitude
    return Working(
        name="Least margin after the move",
        formula="min (t_s − t_d) until it is 3 °C,  ρ·c·L·dt_s/dt = h·(t_a − t_s)",
        inputs=(
            ("metal as it leaves", f"{leaving.to('degC'):.1f~P}"),
            ("air there, t_a", f"{air_there.to('degC'):.1f~P}"),
            ("dew point there, t_d", f"{dew_there.to('degC'):.1f~P}"),
            ("L, volume by area", f"{length.to('mm').magnitude:.1f} mm"),
        ),
        result=f"{abs(margin):.1f} °C {'under' if margin < 0 else 'above'} the dew point",
        source="INCROPERA",
        note="Each hour is tried as the hour of the move. In the open, sky and sun take part as well.",
    )


class _Carried:
    """Pieces (p) carried at each hour (n), all on their way at once: those that have settled leave it."""

    def __init__(self, met: Course, there: Hours, margin: float, shift: Floats, start: Floats) -> None:
        self.met, self.there, self.margin, self.shift = met, there, margin, shift
        self.count, self.lag, self.way = start.shape[-1], 0, np.flatnonzero(~np.isnan(start))
        self.metal, self.doubt = start.ravel()[self.way], np.zeros(len(self.way))
        self.warmth = self.dew = self.before = np.full(len(self.way), np.nan)  # as the last hour began
        self.settles, self.spent = np.full(start.size, np.inf), np.zeros(start.size)
        self.coldest = np.where(np.isnan(start.ravel()), np.nan, np.inf)

    def after_another_hour(self) -> None:
        """Reads the margin of those on their way, and carries on those that need longer."""
        piece, hour = self.way // self.count, self.way % self.count + self.lag
        warmth, dew = self.met.told(self.metal, self.doubt, hour), self.there.dew_point[hour]
        above = np.asarray(air.margin.__wrapped__(warmth, dew))
        self.coldest[self.way] = np.minimum(self.coldest[self.way], above)
        if self.lag:
            damp = rust.humidity_through(self.warmth, warmth, self.dew, dew)
            self.spent[self.way] += rust.spend_per_hour(damp, self.shift[piece][:, None]).mean(axis=-1)
        holds = above >= self.margin
        self.settles[self.way[holds]] = self.lag - self._since(above)[holds]
        on = ~holds & (hour + 1 < self.count)
        self.warmth, self.dew, self.before = warmth[on], dew[on], above[on]
        self._carry_on(on, piece, hour)

    def _since(self, above: Floats) -> Floats:
        """By what part of the hour before this instant the margin was there already."""
        rise = above - self.before
        part = np.divide(above - self.margin, rise, out=np.zeros_like(above), where=rise > 0)
        return np.where(np.isnan(self.before), 0.0, part)

    def _carry_on(self, those: Flags, piece: Any, hour: Any) -> None:
        self.way, self.lag = self.way[those], self.lag + 1
        met = replace(self.met, store=self.met.store[piece[those]])
        self.metal, self.doubt = met.step(self.metal[those], self.doubt[those], hour[those])

    def moves(self, shape: tuple[int, ...]) -> Moves:
        """What came of it. Who has settled on arrival, or arrives as the run ends, has spent nothing on the way."""
        sweats = air.sweats(self.coldest) | np.isnan(self.coldest)
        arrives = np.arange(len(self.spent)) % self.count
        on_the_way = (self.settles > 0) & (arrives < self.count - 1)
        spent = np.where(sweats, 1.0, np.minimum(np.where(on_the_way, self.spent, 0.0), 1.0))
        settles, coldest, spent = (each.reshape(shape) for each in (self.settles, self.coldest, spent))
        return Moves(settles, coldest, sweats.reshape(shape), spent)
