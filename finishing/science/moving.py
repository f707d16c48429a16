"""A piece carried from one air into another, at any hour: how long until it is dry-safe, and what that costs bare iron.

Cold iron wheeled into warm damp air sweats; the same iron an hour later may not. Each hour of the run is tried as the
hour of the move, all at once, so that a page can say until when and a planner can choose.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from . import air, rust
from .hours import Flags, Floats, Hours
from .metal import GREY_IRON, Material, metal_temperature
from .sources import OUR_JUDGEMENT
from .working import Working

MARGIN = 3.0  # °C above the dew point from which metal counts as settled; the gate of IMO-PSPC


@dataclass(frozen=True, eq=False)
class Moves:
    """For a move at each hour of the run (n): all NaN-free; what is not known counts as bad.

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
    length_m: float,
    shelter: str,
    *,
    material: Material = GREY_IRON,
    margin: float = MARGIN,
    salt_shift: float = rust.UNKNOWN.shift,
    sky: bool = False,
) -> Moves:
    """What becomes of a piece moved to another place, for each hour in which it may be moved.

    leaving: (n) °C, its metal's temperature at each hour where it stands now · there: the other place's hours, the
    same n · length_m, shelter, material, sky: as in metal.metal_temperature · margin: °C that count as settled.

    Between two hours the margin is read along the chord: while cold metal warms that is late by some minutes at most,
    never early. An hour not known, here or there, is never safe.
    Source: the lumped model of [INCROPERA] ch. 5; the rest is [our judgement].

    >>> shop = Hours.from_arrays(np.datetime64("2025-03-01T08"), temperature=[18.0] * 6, humidity=50)
    >>> moved = moves([5.0] * 6, shop, 0.020, "still indoor")
    >>> round(float(moved.settles[0]), 1), bool(moved.sweats[0])
    (1.3, True)
    """
    start = np.asarray(leaving, float)
    warmth = _warmth(start, there, length_m, shelter, material, sky)
    above = air.margin.__wrapped__(warmth, there.dew_point)
    settles = np.array([_settles(above[i, i:], margin) for i in range(len(start))])
    reach = _until(settles)
    coldest = np.where(reach, above, np.inf).min(axis=1)
    sweats = ~(coldest > 0)
    return Moves(settles, coldest, sweats, np.where(sweats, 1.0, _spent(warmth, there, reach, salt_shift)))


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


def stretch_working(before: Any, after: Any, level: Any) -> Working:
    """What a page opens behind a time at which a margin is used up or comes back; margins an hour apart, quantities.

    >>> from finishing.science.units import Quantity
    >>> margins = [Quantity(value, "delta_degC") for value in (4.0, 2.0, 3.0)]
    >>> stretch_working(*margins).result
    '30 min past the full hour'
    """
    first, last, asked = (value.to("delta_degC").magnitude for value in (before, after, level))
    minutes = 60 * (first - asked) / (first - last)
    return Working(
        name="When the margin is used up" if last < first else "When the margin is back",
        formula="t = (m_0 − m) / (m_0 − m_1) · 60 min",
        inputs=(
            ("margin at the full hour, m_0", f"{first:.1f} °C"),
            ("margin an hour later, m_1", f"{last:.1f} °C"),
            ("margin asked, m", f"{asked:g} °C"),
        ),
        result=f"{minutes:.0f} min past the full hour",
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


def _warmth(start: Floats, there: Hours, length_m: float, shelter: str, material: Material, sky: bool) -> Floats:
    """(moves, hours): one piece for each hour of moving, held to its temperature at that hour."""
    count = len(start)
    arrives = {float(i): np.where(np.arange(count) == i, start[i], np.nan) for i in range(count)}
    lengths = np.full(count, length_m)
    warmth = metal_temperature(there, lengths, None, shelter, material=material, sky=sky, pinned=arrives)
    # what left unknown metal behind arrives as unknown metal, whatever the air there
    return np.where(np.isnan(start)[:, None], np.nan, warmth)


def _settles(above: Floats, margin: float) -> float:
    holds = above >= margin
    if not holds.any():
        return float(np.inf)
    first = int(np.argmax(holds))
    if first == 0 or np.isnan(above[first - 1]):
        return float(first)
    return first - float((above[first] - margin) / (above[first] - above[first - 1]))


def _until(settles: Floats) -> Flags:
    """(moves, hours): the instants from the move until it has settled, the first one always."""
    count = len(settles)
    after = np.arange(count)[None, :] - np.arange(count)[:, None]
    return (after >= 0) & (after <= np.ceil(settles)[:, None])


def _spent(warmth: Floats, there: Hours, reach: Flags, salt_shift: float) -> Floats:
    damp = 100 * air.humidity_at_surface.__wrapped__(warmth, there.dew_point)
    spend = rust.spend_per_hour(damp, salt_shift)
    hours = np.maximum(reach.sum(axis=1) - 1, 0)  # instants enclose one hour less than they are
    first = np.cumsum(np.where(reach, spend, 0.0), axis=1)
    last = np.arange(len(hours)) + hours
    return np.asarray(np.minimum(first[np.arange(len(hours)), np.minimum(last, len(hours) - 1)] * (hours > 0), 1.0))
