"""Work of some slots on one kind of iron at one place: what follows from each start, for all racks that are alike."""

from collections.abc import Hashable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from finishing.science.drying import DryingStage, DryingTable, RecoatWindow
from finishing.science.hours import Floats
from finishing.science.scheduling.problem import MOST_MARGIN, Slots
from finishing.science.windows import Gates, Reason, Reasons
from finishing.workshops.models import Place

from .ground import Ground, Iron


@dataclass(frozen=True)
class PlacedWork:
    """gates, table: None where weather does not matter, and where nothing is to dry."""

    ground: Ground = field(compare=False, repr=False)
    place: Place
    iron: Iron
    slots: int
    gates: Gates | None
    table: DryingTable | None
    slower: float
    wheeled: int = 0  # no sooner than in this slot, where it is wheeled on
    _bare_until: dict[Hashable, Floats] = field(default_factory=dict, init=False, compare=False, repr=False)

    # -- when

    @property
    def hours(self) -> float:
        return self.slots * self.ground.grid.minutes / 60

    @cached_property
    def done(self) -> Floats:
        """Position at which it is done, by the slot of its start."""
        return self.ground.at + self.hours

    @cached_property
    def done_slots(self) -> Slots:
        return np.asarray(np.arange(self.ground.grid.count) + self.slots)

    def by_slot(self, refused: Reasons) -> Reasons:
        """What refuses a start, by slot, out of that by hour: nothing begins in a slot that has begun."""
        slots = self.ground.grid.refused(refused)
        slots[: self.ground.begun] |= np.uint16(Reason.OUTSIDE_WORKING_HOURS)
        return slots

    @cached_property
    def refused(self) -> Reasons:
        """By hour from slot 0 on: flags of Reason, what is below it apart."""
        return self.refused_over(None, None)

    def refused_over(self, deadline: float | None, below: RecoatWindow | None) -> Reasons:
        """The same on iron that is bare until a deadline, or over a coat with this window."""
        if self.gates is None:
            return np.zeros(self.ground.known, np.uint16)
        times = self._set_by_hour, self._left_by_hour
        return self.ground.refused(self.place, self.iron, self.gates, self.hours, *times, deadline, below)

    # -- drying there

    @cached_property
    def dry(self) -> Floats:
        """Position at which it may be handled: it is carried on only then."""
        return self.done if self.table is None else self.reached(self.table.first_given(DryingStage.HANDLE))

    @cached_property
    def dry_slots(self) -> Slots:
        return np.asarray(np.maximum(self.ground.not_before(self.dry), self.done_slots))

    @cached_property
    def margin(self) -> Slots | int:
        """By slot: tenths of a degree kept in hand until it may be left to the weather."""
        if self.gates is None:
            return MOST_MARGIN
        if self.table is None:
            return self.ground.margin(self.place, self.iron, self.gates.margin, self.done)
        asked = ((self.gates.margin, self.table.set_stage), (0.0, self.table.dew_safe_stage))
        each = [self.ground.margin(self.place, self.iron, above, self.reached(stage)) for above, stage in asked]
        return np.minimum(*each)

    @property
    def drying(self) -> DryingTable:
        assert self.table is not None  # asked only of what dries
        return self.table

    def reached(self, stage: DryingStage) -> Floats:
        return self.ground.dried(self.place, self.iron, self.drying, stage, self.done, self.slower)

    def letters_from(self, place: Place, share: float) -> Floats:
        """When a brush may letter over it, standing in this place from its last stroke on."""
        return self.ground.dried(place, self.iron, self.drying, DryingStage.RECOAT_FROM, self.done, self.slower, share)

    @cached_property
    def _set_by_hour(self) -> Floats | None:
        """When it no longer asks for its sheet's air, for starts on each hour of the run."""
        return None if self.table is None else self._reached_by_hour(self.table.set_stage)

    @cached_property
    def _left_by_hour(self) -> Floats | None:
        """When it bears dew and rain, for starts on each hour of the run."""
        return None if self.table is None else self._reached_by_hour(self.table.dew_safe_stage)

    def _reached_by_hour(self, stage: DryingStage) -> Floats:
        done = np.arange(len(self.ground.run(self.place)), dtype=float) + self.hours
        return self.ground.dried(self.place, self.iron, self.drying, stage, done, self.slower)

    # -- wheeled on

    @cached_property
    def carried(self) -> Slots:
        """Slot in which it is wheeled on: the first in which people are at work once it bears it."""
        at_work = np.flatnonzero(self.ground.present)
        found = np.searchsorted(at_work, self.ground.not_before(self.dry))
        return np.maximum(np.append(at_work, self.ground.grid.count + 1)[found], self.wheeled)

    @cached_property
    def carried_at(self) -> Floats:
        slots = np.asarray(self.carried, float)
        return np.where(
            slots < self.ground.grid.count, self.ground.first + slots * self.ground.grid.minutes / 60, np.inf
        )

    def reached_on(self, then: Place, stage: DryingStage) -> Floats:
        """A stage of drying where it is wheeled on to another place as soon as it bears it."""
        places = (self.place, then)
        return self.ground.dried_carried_on(
            places, self.iron, self.drying, stage, self.done, self.carried_at, self.slower
        )

    # -- bare

    def bare_until(self, among: list[Place], then: Place | None, wet: bool) -> Floats:
        """By when its first coat must be on, standing in any of these places, or wheeled on to one of them."""
        key = frozenset(place.pk for place in among), then.pk if then else None, wet
        if key not in self._bare_until:
            self._bare_until[key] = self._bare(among, then, wet)
        return self._bare_until[key]

    def _bare(self, among: list[Place], then: Place | None, wet: bool) -> Floats:
        if then is None:
            return self.ground.bare_until_among(among, self.iron, self.done, wet)
        places = [then, *(place for place in among if place != then)]
        return self.ground.bare_until_carried(self.place, places, self.iron, self.done, self.carried_at, wet)
