"""One way to do a task of a rack: at a place, perhaps wheeled to another to dry, and what follows from each start."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from finishing.science.drying import RecoatWindow, Stage
from finishing.science.hours import Flags, Floats
from finishing.science.scheduling.problem import Mode, TimeWindow
from finishing.science.windows import Reasons
from projects.record.models.plans import Slot
from projects.work.domain.outlook import REFERENCE

from .ground import Ground
from .stints import Stint

Kind = Slot.Kind


@dataclass(frozen=True, eq=False)
class Way:
    """A task at a place, perhaps wheeled to another to dry: what follows from each start."""

    hung: Any
    task: Any
    place: Any
    then: Any = None

    @property
    def ground(self) -> Ground:
        return self.hung.ground

    @cached_property
    def stint(self) -> Stint:
        """What it shares with the same work on other racks."""
        return self.hung.stint(self.task, self.place)

    @cached_property
    def option(self) -> Mode:
        stint = self.stint
        return Mode(
            self.place.name, self.may_start, None if stint.table is None else stint.dry_slots,
            stands_in=self.then.name if self.then else "",
            carried=None if self.then is None else np.maximum(stint.carried, stint.done_slots),
            cost=self._cost(), margin=stint.margin,
        )  # fmt: skip

    @cached_property
    def may_start(self) -> Flags:
        return self.stint.allowed(self.refused)

    @cached_property
    def refused(self) -> Reasons:
        """By hour from slot 0 on: flags of Reason."""
        deadline, below = self._deadline(), self._below()
        if deadline is None and below is None:
            return self.stint.refused
        return self.stint.refused_over(deadline, below)

    def _deadline(self) -> Any:
        """Of iron that is bare already: the first coat of each bare side must be on by then."""
        if self.hung.to_be_blasted or not self.hung.state.is_bare or self.task not in self.hung.first_coats:
            return None
        ends = [outlook.coat_before for outlook in self.hung.outlooks]
        if self.place != self.hung.stands_in:
            now, spent = self.hung.outlooks[0].at, max(outlook.rust_spent for outlook in self.hung.outlooks)
            ends.append(float(self.ground.bare_until(self.place, self.hung.iron, now, False, spent)))
        return min(ends)

    def _below(self) -> RecoatWindow | None:
        """The window over a coat that is on already, for what comes next on it."""
        coats = [t for t in self.hung.tasks if t.kind in (Kind.COAT, Kind.LETTER)]
        before = [o.recoat for o in self.hung.outlooks if o.recoat is not None]
        if self.hung.to_be_blasted or not before or not coats:
            return None
        if self.task is coats[0]:
            return _narrowest(before)
        ahead = self.hung.tasks[: self.hung.tasks.index(coats[0])]
        opens = max(float(window.opens) for window in before)
        return RecoatWindow(opens, np.nan, np.nan, np.nan) if self.task in ahead else None

    def _cost(self) -> Any:
        """Holding a place while it is used, work and drying, in cents by start."""
        cents = self.ground.terms.holding_cents(self.then or self.place)
        if not cents:
            return 0
        dry = np.where(np.isfinite(self.stint.dry), self.stint.dry, self.stint.done)
        hours = np.minimum(dry, self.ground.first + self.ground.known)
        return np.ceil(cents * (hours - self.ground.at)).astype(np.int64)

    # -- windows

    def _reached(self, stage: Stage) -> Floats:
        return self.stint.reached(stage) if self.then is None else self.stint.reached_on(self.then, stage)

    @property
    def _waited(self) -> Floats:
        """When the wait that the system asks for after this layer is over."""
        return self.stint.done + (self.task.layer.wait.to("hour").magnitude if self.task.layer else 0.0)

    def _opens(self, position: Floats) -> Any:
        return np.maximum(self.ground.not_before(np.maximum(position, self._waited)), self.stint.done_slots)

    def waited(self) -> TimeWindow:
        return TimeWindow(self._opens(self.stint.done))

    def opens_window(self) -> TimeWindow:
        return TimeWindow(self._opens(self._reached(Stage.RECOAT_FROM)))

    def recoat_window(self) -> TimeWindow:
        gives = self.stint.table.gives
        ends = {
            name: self.ground.not_after(self._reached(stage))
            for name, stage in (("closes", Stage.RECOAT_UNTIL), ("closed_from", Stage.CLOSED_FROM))
            if gives(stage)
        }
        if gives(Stage.CLOSED_UNTIL):
            ends["closed_until"] = self.ground.not_before(self._reached(Stage.CLOSED_UNTIL))
        return TimeWindow(self._opens(self._reached(Stage.RECOAT_FROM)), **ends)

    def letters_window(self) -> TimeWindow:
        """Where it stands while it waits: dried on elsewhere it waits for the slower of the two."""
        stint, coating = self.stint, self.task.coating
        waits = [
            self.ground.letters_from(place, self.hung.iron, coating, stint.done, stint.slower, REFERENCE)
            for place in (self.place, self.then)
            if place
        ]
        return TimeWindow(self._opens(np.max(waits, axis=0)))

    def rust_window(self, group: Any = None) -> TimeWindow:
        """It may stand in any of its places, and be carried between them."""
        until = self.stint.bare_until(group or self.hung.bare_places, self.then, self.hung.wet_blast)
        return TimeWindow(self.stint.done_slots, self.ground.not_after(until))


def _narrowest(windows: list[RecoatWindow]) -> RecoatWindow:
    def over(name: str, pick: Any) -> Any:
        values = np.array([float(getattr(window, name)) for window in windows])
        return np.nan if np.isnan(values).all() else pick(values)

    return RecoatWindow(
        max(float(window.opens) for window in windows),
        over("closed_from", np.nanmin), over("closed_until", np.nanmax), over("closes", np.nanmin),
    )  # fmt: skip
