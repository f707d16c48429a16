"""Work on one kind of iron at one place: what follows from its completion, by minute, for all racks that are alike."""

from collections.abc import Hashable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from finishing.science.drying import DryingStage, DryingTable, RecoatWindow
from finishing.science.hours import Floats
from finishing.science.scheduling.problem import MOST_MARGIN, Minutes, TimeWindow
from finishing.science.windows import Gates, Reason, Reasons
from finishing.workshops.models import Place

from .ground import Ground, Iron


@dataclass(frozen=True)
class PlacedWork:
    """gates, table: None where weather does not matter, and where nothing is to dry.

    What follows from the work is by completion; what refuses its start is by start, for work of so many minutes.
    """

    ground: Ground = field(compare=False, repr=False)
    place: Place
    iron: Iron
    gates: Gates | None
    table: DryingTable | None
    slower: float
    wheeled: int = 0  # no sooner than in this minute, where it is wheeled on
    windows: dict[Hashable, TimeWindow] = field(default_factory=dict, init=False, compare=False, repr=False)
    _refused: dict[int, Reasons] = field(default_factory=dict, init=False, compare=False, repr=False)
    _margin: dict[int, Minutes] = field(default_factory=dict, init=False, compare=False, repr=False)

    # -- when it may start

    def refused(self, minutes: int) -> Reasons:
        """Flags of Reason, what is below it apart."""
        if minutes not in self._refused:
            self._refused[minutes] = self.refused_over(minutes, None, None)
        return self._refused[minutes]

    def refused_over(self, minutes: int, deadline: float | None, below: RecoatWindow | None) -> Reasons:
        """The same on iron that is bare until a deadline, or over a coat with this window.

        Nothing begins in a minute that has begun.
        """
        if self.gates is None:
            refused = np.zeros(self.ground.horizon.count, np.uint16)
        else:
            firm = left = None
            if self.table is not None:
                stages = self.table.set_stage, self.table.dew_safe_stage
                firm, left = (self._by_start(self.reached(stage), minutes) for stage in stages)
            refused = self.ground.refused(self.place, self.iron, self.gates, minutes / 60, firm, left, deadline, below)
        refused[0] |= np.uint16(Reason.OUTSIDE_WORKING_HOURS)
        return refused

    def margin(self, minutes: int) -> Minutes | int:
        """By start: tenths of a degree kept in hand until it may be left to the weather."""
        if self.gates is None:
            return MOST_MARGIN
        if minutes not in self._margin:
            asked = [(self.gates.margin, self.done)]
            if self.table is not None:
                stages = ((self.gates.margin, self.table.set_stage), (0.0, self.table.dew_safe_stage))
                asked = [(above, self.reached(stage)) for above, stage in stages]
            each = [self.ground.margin(self.place, self.iron, above, self._by_start(left, minutes))
                    for above, left in asked]  # fmt: skip
            self._margin[minutes] = np.min(each, axis=0)
        return self._margin[minutes]

    def _by_start(self, of_ends: Floats, minutes: int) -> Floats:
        """The same by start; what is not done within the horizon is never ready."""
        count = self.ground.horizon.count
        cut = self.ground.by_completion(of_ends)[min(minutes, count + 1) :][:count]
        return np.concatenate([cut, np.full(count - len(cut), np.inf)])

    # -- drying there

    @property
    def done(self) -> Floats:
        """Position at which it is done."""
        return self.ground.done

    @cached_property
    def dry(self) -> Floats:
        """Position at which it may be handled: it is carried on only then."""
        return self.done if self.table is None else self.reached(self.table.first_given(DryingStage.HANDLE))

    @cached_property
    def dry_minutes(self) -> Minutes:
        done = np.arange(self.ground.horizon.count + 1)
        if self.table is None:
            return done
        return np.maximum(self.ground.by_completion(self.ground.not_before(self.dry)), done)

    @property
    def drying(self) -> DryingTable:
        assert self.table is not None  # asked only of what dries
        return self.table

    def reached(self, stage: DryingStage) -> Floats:
        return self.ground.dried(self.place, self.iron, self.drying, stage, self.slower)

    def letters_from(self, place: Place, share: float) -> Floats:
        """When a brush may letter over it, standing in this place from its last stroke on."""
        return self.ground.dried(place, self.iron, self.drying, DryingStage.RECOAT_FROM, self.slower, share)

    # -- wheeled on

    @cached_property
    def carried(self) -> Minutes:
        """Minute in which it is wheeled on: the first in which people are at work once it bears it."""
        at_work = np.flatnonzero(self.ground.present)
        found = np.searchsorted(at_work, self.dry_minutes)
        return np.maximum(np.append(at_work, self.ground.horizon.count + 1)[found], self.wheeled)

    def carried_at(self, done: Minutes) -> Floats:
        """Position at which it is wheeled on that is done in these minutes."""
        carried = self.carried[done]
        return np.where(carried < self.ground.horizon.count, self.ground.positions(carried), np.inf)

    def reached_on(self, then: Place, stage: DryingStage) -> Floats:
        """A stage of drying where it is wheeled on to another place as soon as it bears it."""
        places = (self.place, then)
        carried = self.carried_at(self.ground.ends)
        return self.ground.dried_carried_on(places, self.iron, self.drying, stage, carried, self.slower)

    # -- bare

    def bare_until(self, among: list[Place], then: Place | None, wet: bool, done: Minutes) -> Floats:
        """By when its first coat must be on, done in these minutes, standing in any of these places, or wheeled on to
        one of them."""
        bare_from = self.ground.positions(done)
        if then is None:
            return self.ground.bare_until_among(among, self.iron, bare_from, wet)
        places = [then, *(place for place in among if place != then)]
        return self.ground.bare_until_carried(self.place, places, self.iron, bare_from, self.carried_at(done), wet)
