"""One way to do a task of a rack: at a place, perhaps wheeled to another to dry, and what follows from each start."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from finishing.science.drying import RecoatWindow, Stage
from finishing.science.hours import Floats
from finishing.science.planning.problem import MOST, Option, Window
from finishing.science.windows import Gates

from .outlook import REFERENCE
from .plan_ground import Ground
from .plans import Slot

Kind = Slot.Kind
NEAR = Gates(margin=3.0, humidity_max=None)  # what metal asks that is blasted, wiped or rubbed down


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
    def _table(self) -> Any:
        return self.task.coating.drying_table() if self.task.coating else None

    @cached_property
    def slower(self) -> float:
        return float(self.task.layer.slower if self.task.layer else self.task.coating.slower())

    @cached_property
    def done(self) -> Floats:
        return self.hung.done(self.task)

    @cached_property
    def gates(self) -> Gates | None:
        """None where weather does not matter."""
        if self.task.coating:
            return self.task.coating.gates()
        return NEAR if self.task.kind in (Kind.BLAST, Kind.CLEAN, Kind.PREPARE) else None

    @property
    def _handled(self) -> Any:
        table = self._table
        return Stage.HANDLE if table.gives(Stage.HANDLE) else Stage.RECOAT_FROM

    @cached_property
    def dry(self) -> Floats:
        """Position at which it may be handled: it is carried on only then."""
        if self._table is None:
            return self.done
        return self.ground.dried(self.place, self.hung.iron, self._table, self._handled, self.done, self.slower)

    @cached_property
    def carried(self) -> Any:
        """Slot in which it is wheeled on: the first in which people are at work once it bears it."""
        if self.then is None:
            return None
        ready = self.ground.not_before(self.dry)
        present = self.ground.grid.present(self.ground.terms.present(self.ground.times))
        at_work = np.flatnonzero(present)
        found = np.searchsorted(at_work, ready)
        return np.append(at_work, self.ground.grid.count + 1)[found]

    @cached_property
    def carried_at(self) -> Floats:
        slots = np.asarray(self.carried, float)
        return np.where(
            slots < self.ground.grid.count, self.ground.first + slots * self.ground.grid.minutes / 60, np.inf
        )

    @cached_property
    def option(self) -> Option:
        dry = None if self._table is None else np.maximum(self.ground.not_before(self.dry), self._done_slots)
        return Option(
            self.place.name, self.may_start, dry,
            stands_in=self.then.name if self.then else "",
            carried=None if self.then is None else np.maximum(self.carried, self._done_slots),
            cost=self._cost(), margin=self._margin(),
        )  # fmt: skip

    @cached_property
    def may_start(self) -> Any:
        slots = np.arange(self.ground.grid.count)
        return self.ground.grid.allowed(self.refused == 0) & (slots >= self.ground.begun)

    @property
    def _done_slots(self) -> Any:
        return np.arange(self.ground.grid.count) + self.hung.slots(self.task)

    @cached_property
    def refused(self) -> Any:
        """By hour from slot 0 on: flags of Reason."""
        if self.gates is None:
            return np.zeros(self.ground.known, np.uint16)
        work_h = self.hung.slots(self.task) * self.ground.grid.minutes / 60
        left = self._left_by_hour(work_h)
        return self.ground.refused(
            self.place, self.hung.iron, self.gates, work_h, left, self._deadline(), self._below()
        )

    def _left(self, done: Floats) -> Floats:
        """When it may be left to the weather where it was worked."""
        stage = Stage.TOUCH if self._table.gives(Stage.TOUCH) else Stage.RECOAT_FROM
        return self.ground.dried(self.place, self.hung.iron, self._table, stage, done, self.slower)

    def _left_by_hour(self, work_h: float) -> Any:
        if self._table is None:
            return None
        return self._left(np.arange(len(self.ground.run(self.place))) + work_h)

    def _margin(self) -> Any:
        if self.gates is None:
            return MOST
        until = self.done if self._table is None else self._left(self.done)
        return self.ground.margin(self.place, self.hung.iron, self.gates, until)

    def _deadline(self) -> Any:
        """Of iron that is bare already: its first coat must be on by then."""
        first = next((t for t in self.hung.tasks if t.kind == Kind.COAT), None)
        if self.hung.to_be_blasted or not self.hung.state.is_bare or self.task is not first:
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
        hours = np.minimum(np.where(np.isfinite(self.dry), self.dry, self.done), self.ground.first + self.ground.known)
        return np.ceil(cents * (hours - self.ground.at)).astype(np.int64)

    # -- windows

    def _reached(self, stage: Stage) -> Floats:
        ground, iron = self.ground, self.hung.iron
        if self.then is None:
            return ground.dried(self.place, iron, self._table, stage, self.done, self.slower)
        places = (self.place, self.then)
        return ground.dried_on(places, iron, self._table, stage, self.done, self.carried_at, self.slower)

    @property
    def _waited(self) -> Floats:
        """When the wait that the system asks for after this layer is over."""
        return self.done + (self.task.layer.wait.to("hour").magnitude if self.task.layer else 0.0)

    def _opens(self, position: Floats) -> Any:
        return np.maximum(self.ground.not_before(np.maximum(position, self._waited)), self._done_slots)

    def waited(self) -> Window:
        return Window(self._opens(self.done))

    def opens_window(self) -> Window:
        return Window(self._opens(self._reached(Stage.RECOAT_FROM)))

    def recoat_window(self) -> Window:
        ends = {
            name: self.ground.not_after(self._reached(stage))
            for name, stage in (("closes", Stage.RECOAT_UNTIL), ("closed_from", Stage.CLOSED_FROM))
            if self._table.gives(stage)
        }
        if self._table.gives(Stage.CLOSED_UNTIL):
            ends["closed_until"] = self.ground.not_before(self._reached(Stage.CLOSED_UNTIL))
        return Window(self._opens(self._reached(Stage.RECOAT_FROM)), **ends)

    def letters_window(self) -> Window:
        """Where it stands while it waits: dried on elsewhere it waits for the slower of the two."""
        places = [place for place in (self.place, self.then) if place]
        waits = [
            self.ground.letters_from(place, self.hung.iron, self.task.coating, self.done, self.slower, REFERENCE)
            for place in places
        ]
        return Window(self._opens(np.max(waits, axis=0)))

    def _bare_until(self, place: Any) -> Floats:
        iron, wet = self.hung.iron, self.hung.wet_blast
        if place == self.then:
            return self.ground.bare_until_carried((self.place, place), iron, self.done, self.carried_at, wet)
        return np.asarray(self.ground.bare_until(place, iron, self.done, wet))

    def rust_window(self, group: Any = None) -> Window:
        """It may stand in any of its places: the one where its budget goes first counts."""
        known, ends = self.hung.bare_until, []
        for place in group or self.hung.bare_places:
            key = (self.place.pk, place.pk) if place == self.then else (place.pk,)
            if key not in known:
                known[key] = self._bare_until(place)
            ends.append(known[key])
        until = np.min(ends, axis=0)
        return Window(self._done_slots, self.ground.not_after(until))


def _narrowest(windows: list[RecoatWindow]) -> RecoatWindow:
    def over(name: str, pick: Any) -> Any:
        values = np.array([float(getattr(window, name)) for window in windows])
        return np.nan if np.isnan(values).all() else pick(values)

    return RecoatWindow(
        max(float(window.opens) for window in windows),
        over("closed_from", np.nanmin), over("closed_until", np.nanmax), over("closes", np.nanmin),
    )  # fmt: skip
