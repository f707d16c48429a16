"""Bare iron that stands in more than one place: by when its first coat must be on.

The budget of `rust` is spent where the iron stands. Iron that is carried keeps what it spent before; on the way it
settles, which spends too. Of several bodies that hang together the one that fares worst counts.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from .hours import Floats, Hours
from .moving import Moves
from .rust import IN_HAND, BareCourse, Exposure, RustWindow, used_between, used_up


@dataclass(frozen=True, eq=False)
class StandingIron:
    """Bodies (p) in one place: its hours (n), and the temperature of their metal there, (p, n) °C."""

    hours: Hours
    metal: Floats
    _courses: dict[tuple[float, ...], BareCourse] = field(default_factory=dict, init=False, repr=False)
    _windows: dict[tuple[tuple[float, ...], bytes], RustWindow] = field(default_factory=dict, init=False, repr=False)

    def coat_before(self, iron: Exposure, begin: ArrayLike) -> RustWindow:
        """As `rust.coat_before`; of what the air does to this iron here nothing is worked out twice."""
        key = tuple(float(np.asarray(value)) for value in vars(iron).values())
        if key not in self._courses:
            self._courses[key] = BareCourse(self.hours, self.metal, iron)
        asked = key, np.asarray(begin, float).tobytes()
        if asked not in self._windows:
            self._windows[asked] = self._courses[key].coat_before(begin)
        return self._windows[asked]


def finish_by(place: StandingIron, iron: Exposure, begin: ArrayLike) -> Floats:
    """When the last stroke of the first coat must be done, for iron that is bare from `begin` on and stays there.

    begin: one number, or (m) starts; hours after the start of the run, as the answer. Valid as `rust.coat_before`.
    """
    return np.asarray(place.coat_before(iron, begin).finish_by.min(axis=0))


def finish_by_among(
    places: Sequence[StandingIron],
    iron: Exposure,
    begin: Floats,
    spent: ArrayLike | None = None,
    bare_for: ArrayLike = 0.0,
) -> Floats:
    """The same where it may stand in any of these places, now in one and then in another: (m), one for each start.

    ∫ max over places(spend) dt = 1 − spent, the first wet or doubtful moment of any place, or the hard cap: whichever
    comes first. Each moment takes what it takes in the worst of the places, so the answer holds however it is carried.
    spent: share of the budget gone by each start, else that of `iron` · bare_for: hours bare before each start.
    All places have the same run of hours.  Basis: [our judgement].

    >>> def at_20(*damp):
    ...     hours = Hours.from_arrays(np.datetime64("2025-05-01T08"), temperature=[20.0] * 48, humidity=damp, rain=0)
    ...     return StandingIron(hours, hours.temperature[None])
    >>> yard, shop = at_20(*[55.0] * 5, *[38.0] * 43), at_20(*[38.0] * 5, *[55.0] * 43)
    >>> clean = Exposure(salt_shift=0)
    >>> [round(float(finish_by_among(where, clean, np.array([0.0]))[0]), 2) for where in ([shop], [yard, shop])]
    [12.31, 8.08]
    """
    gone = iron.spent_at_begin if spent is None else np.asarray(spent, float)
    fresh = [place.coat_before(replace(iron, spent=0.0, wet_work=False), begin) for place in places]
    spend = np.max([window.spend for window in fresh], axis=0)
    before = np.min([window.coat_before for window in fresh], axis=0)
    budget = np.array([used_up(body, 1 - gone, begin) for body in spend])
    capped = begin + np.maximum(iron.longest - np.asarray(bare_for, float), 0.0)
    return np.asarray(np.minimum(np.minimum(before, budget), capped).min(axis=0) - IN_HAND.value)


def finish_by_carried(
    here: StandingIron,
    then: Sequence[StandingIron],
    iron: Exposure,
    begin: Floats,
    carried: Floats,
    hours_carried: float,
    arriving: Moves,
) -> Floats:
    """The same where it is carried away, and may then stand in any of the other places: (m), one for each start.

    begin, carried: when it becomes bare here and is carried, (m) hours after the start of the run; inf: never carried
    hours_carried: how long that takes · arriving: what becomes of it at the first other place, by the hour (n) in which
    it comes there.

    spent = here until it is carried + there until it has settled;  from then on as `finish_by_among`
    The minutes of carrying themselves spend nothing, but count towards the hard cap.
    Where it sweats there, has spent its budget by then, or is never carried, it ends as it begins: at `begin`.
    Basis: [our judgement].
    """
    comes = carried + hours_carried
    hour = np.clip(np.nan_to_num(np.ceil(comes), posinf=0), 0, len(arriving.settles) - 1).astype(int)
    spent = np.minimum(_spent_between(here, iron, begin, carried) + arriving.rust_spent[hour], 1.0)
    settled = np.where(np.isfinite(comes), comes + np.nan_to_num(arriving.settles[hour], posinf=0.0), 0.0)
    until = finish_by_among(then, iron, settled, spent, np.maximum(settled - begin, 0.0))
    lost = (spent >= 1) | arriving.sweats[hour] | ~np.isfinite(comes)
    return np.where(lost, begin, until)


def _spent_between(place: StandingIron, iron: Exposure, begin: Floats, until: Floats) -> Floats:
    """Share of the budget gone there between two positions, by the worst body; 1 once coat-before has passed."""
    window = place.coat_before(iron, begin)
    gone = np.max([used_between(body, begin, until) for body in window.spend], axis=0)
    over = until >= window.coat_before.min(axis=0)
    return np.where(over, 1.0, np.minimum(iron.spent_at_begin + gone, 1.0))
