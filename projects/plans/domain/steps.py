"""A rack's tasks: what its pieces' logs leave to do, how long each takes, where, and what waits for what.

A way is one place to do a task in, perhaps with another to dry in, and what follows there from each start.
"""

from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from uuid import UUID

import numpy as np

from finishing.coatings.models import Coating, Layer, turned_for
from finishing.science import exposure
from finishing.science.drying import DryingStage, RecoatWindow
from finishing.science.hours import Flags, Floats
from finishing.science.mixing import pot_life
from finishing.science.scheduling.problem import NEVER, Minutes, Mode, Task, TimeLag, TimeWindow, square_decimetres
from finishing.science.scheduling.racks import RackLoad
from finishing.science.units import Quantity
from finishing.science.windows import Reasons
from finishing.science.work_time import CARRIERS, lettering_minutes, wiping_minutes
from finishing.workshops.models import Place, Workshop
from projects.record.models.designs import Part
from projects.record.models.pieces import Piece
from projects.record.models.plans import Slot
from projects.record.models.stages import Next, PieceState
from projects.work.domain.outlook import Outlook

from .bound import Bound
from .ground import Ground, Iron
from .holding import holding_layer
from .placed_work import PlacedWork
from .scope import system_of
from .tasks import RackTask

Kind = Slot.Kind
HOUR = 60
SPENT_EVERY = 4  # minutes of completion for which one rust deadline is reckoned; spending is told in steps of five


@dataclass(eq=False)
class Hung:
    """A rack with the outlooks of its pieces, all of which wait for the same."""

    rack: RackLoad
    name: str
    outlooks: list[Outlook]
    ground: Ground
    places: list[Place]
    blast_minutes: float  # on the clock, all pieces
    repair_minutes: float = 0.0  # of the repairs that its pieces wait for
    wet_blast: bool = False
    over: frozenset[str] = frozenset()  # keys of what the log does not keep, and the kept plan says is over
    running: Slot | None = None  # the slot of the kept plan in which its first step is being done
    on_the_way: Slot | None = None  # or in which it is being carried
    bound: dict[str, Bound] = field(default_factory=dict)  # a kept plan's own ways, by the task's name
    tasks: list[RackTask] = field(init=False)

    def __post_init__(self) -> None:
        self._made: dict[tuple[str, UUID, UUID | None], Way] = {}
        self.tasks = list(self._tasks())

    @cached_property
    def pieces(self) -> list[Piece]:
        return [outlook.piece for outlook in self.outlooks]

    @cached_property
    def iron(self) -> Iron:
        return Iron.of(self.pieces)

    @property
    def state(self) -> PieceState:
        return self.outlooks[0].state

    @property
    def part(self) -> Part:
        return self.pieces[0].part

    @property
    def stands_in(self) -> Place:
        """Where work on it goes on, or it is being carried to: a move need not be logged while the work is."""
        return (self.running or self.on_the_way or self.outlooks[0].path).place

    @property
    def to_be_blasted(self) -> bool:
        return self.state.next == Next.BLAST

    @property
    def bare(self) -> bool:
        return self.to_be_blasted or self.state.is_bare

    @property
    def waits_for_visit(self) -> bool:
        return self.to_be_blasted and self.by_contractor

    @property
    def promised(self) -> date | None:
        days = [piece.project.promised_on for piece in self.pieces if piece.project.promised_on]
        return min(days, default=None)

    # -- what is to be done

    def _tasks(self) -> Iterator[RackTask]:
        area, rates = self.rack.area, self._workshop.rates
        if self.to_be_blasted:
            if self.state.to_repair:
                yield self._task(Kind.REPAIR, self.state.to_repair, max(self.repair_minutes, 1.0))
            masking = rates.to_mask(area)
            if masking and Kind.MASK not in self.over:
                yield self._task(Kind.MASK, "mask and plug", masking)
            yield self._task(Kind.BLAST, "blast", self.blast_minutes)
        if (self.to_be_blasted or self._just_blasted) and Kind.CLEAN not in self.over:
            yield self._task(Kind.CLEAN, "blow down and wipe", wiping_minutes(area))
        above = None if all(outlook.state.turned for outlook in self.outlooks) else self._last_layer  # its side is up
        turned = turned_for(self.coming, above)
        prepared: list[Layer] = []  # which the next coat may follow at once
        for layer in self.coming:
            if layer in turned or (prepared and prepared[-1].wait.magnitude):
                yield from (self._preparation(each) for each in prepared)
                prepared = []
            if layer in turned:
                yield self._turn(layer, rates.to_turn_over)
            if layer.is_coat:
                yield from self._coated(layer, tuple(prepared))
            prepared = [] if layer.is_coat else [*prepared, layer]
        yield from (self._preparation(each) for each in prepared)
        if any(outlook.state.letters_to_do for outlook in self.outlooks) and self.part.lettering_coating:
            minutes = lettering_minutes(len(self.pieces))
            yield self._task(Kind.LETTER, "letter", minutes, coating=self.part.lettering_coating)

    @property
    def _just_blasted(self) -> bool:
        return self.state.is_bare and not self.state.layers_done

    @property
    def coming(self) -> list[Layer]:
        if self.to_be_blasted:
            return [*self._holding, *sorted(system_of(self.pieces[0]).layers.all(), key=lambda layer: layer.position)]
        return [*(self._holding if self._just_blasted else ()), *self.state.coming]

    @property
    def _holding(self) -> list[Layer]:
        """A holding primer that the run asks for, ahead of the system's own layers."""
        paint = self.ground.terms.holding
        layer = holding_layer(system_of(self.pieces[0]), paint) if paint else None
        return [layer] if layer else []

    @property
    def _last_layer(self) -> Layer | None:
        """The last coat that is on."""
        last = self.state.last_coat
        return last.layer if last else None

    def _turn(self, coat: Layer, minutes: float) -> RackTask:
        name = f"{self.name}: turn over for layer {coat.position}"
        return RackTask(name, Kind.TURN, "turn over", minutes, people=CARRIERS, before=coat)

    def _preparation(self, layer: Layer) -> RackTask:
        return self._task(Kind.PREPARE, layer.label, max(layer.minutes_on(self.rack.area), 1.0), layer)

    def _coated(self, layer: Layer, prepared: tuple[Layer, ...]) -> Iterator[RackTask]:
        """A coat in one go with what is prepared for it, while its mix stands; one by one where no day is so long."""
        coat = self._task(Kind.COAT, layer.label, 0.0, layer, layer.coating)
        around = self._workshop.rates.around_a_coat
        whole = layer.minutes_after(prepared, self.rack.area) + around
        if whole <= self.ground.longest_day:
            yield replace(coat, minutes=whole, prepared=prepared)
            return
        yield from (self._preparation(each) for each in prepared)
        yield replace(coat, minutes=layer.minutes_after((), self.rack.area) + around)

    def _task(
        self, kind: Kind, label: str, minutes: float, layer: Layer | None = None, coating: Coating | None = None
    ) -> RackTask:
        name = f"{self.name}: {label}" + (f", layer {layer.position}" if layer else "")
        return RackTask(name, kind, label, minutes, layer, coating)

    # -- steps

    def minutes(self, task: RackTask) -> int:
        """Whole minutes of its work; of what is being done those that are left."""
        if self.running is not None and task is self.tasks[0]:
            return max(1, self.ground.minute_up(self.running.end))
        return max(1, self.ground.horizon.work(task.minutes))

    def placed_work(self, task: RackTask, place: Place) -> PlacedWork:
        """The work as every rack of this kind meets it there."""
        table = self.ground.table(task.coating) if task.coating else None
        own = self.bound.get(task.name)
        wheeled = self.ground.minute_down(own.carried_at) if own and own.carried_at else 0
        return self.ground.once(PlacedWork(self.ground, place, self.iron, task.gates, table, task.slower, wheeled))

    def step(self, task: RackTask, number: int, people: int) -> Task:
        if number == 0 and self.running is not None:
            return self._rest_of(task, people)
        ours = self.by_visit(task)
        return Task(
            task.name,
            str(task.kind),
            self.minutes(task),
            tuple(way.option for way in self.ways[task.name]),
            people=0 if ours else min(task.people, people),
            wet=self._lies_wet(task),
            dust=self.ground.horizon.work(self._workshop.settling_minutes) if task.kind == Kind.BLAST else None,
            by_visit=ours,
            not_before=self._there_from if number == 0 else 0,
            pot_life=self._pot_life(task),
            early=task.kind in (Kind.REPAIR, Kind.MASK, Kind.BLAST),
            paint=task.paint,
        )

    def _rest_of(self, task: RackTask, people: int) -> Task:
        """What is left of a step that is being done: it stays where it is."""
        minutes, ours = self.minutes(task), self.by_visit(task)
        options = tuple(
            replace(way.option, may_start=np.ones(self.ground.horizon.count, bool), refused=None)
            for way in self.ways[task.name]
        )
        return Task(
            task.name, str(task.kind), minutes, options, people=0 if ours else min(task.people, people),
            wet=self._lies_wet(task), by_visit=ours, fixed=0,
            dust=self.ground.horizon.work(self._workshop.settling_minutes) if task.kind == Kind.BLAST else None,
        )  # fmt: skip

    @property
    def _workshop(self) -> Workshop:
        return self.ground.terms.workshop

    def by_visit(self, task: RackTask) -> bool:
        return task.kind == Kind.BLAST and self.by_contractor

    @cached_property
    def by_contractor(self) -> bool:
        """A contractor blasts it on a visit of his."""
        cabinet = any(place.cabinet for place in self.places)
        return self.pieces[0].blasted_by(cabinet) == Part.Blasted.CONTRACTOR

    @property
    def _there_from(self) -> int:
        comes = [self.ground.minute_up(when) for piece in self.pieces if (when := self.ground.terms.there_from(piece))]
        if self.on_the_way:
            comes.append(self.ground.settled_after(self.on_the_way, self.iron, self.state.is_bare))
        return max([0, *comes])

    def _lies_wet(self, task: RackTask) -> int:
        """dm² that lie wet once it is done."""
        covered = self.rack.area * (task.layer.covers if task.layer else 1.0)
        return square_decimetres(covered) if task.coating else 0

    def _pot_life(self, task: RackTask) -> int | None:
        """Minutes that a mix keeps, as many as its brushwork is given at the least."""
        keeps = self.mix_keeps(task)
        return None if keeps is None else max(self.minutes(task), int(keeps))

    def mix_keeps(self, task: RackTask) -> float | None:
        """Minutes that a mix keeps in the hottest hour; None where it keeps, or a piece by itself gets a second mix."""
        points = task.coating.pot_life_points() if task.coating else []
        if not points or len(self.pieces) == 1:
            return None
        hottest = max(float(np.nanmax(self._ahead(place))) for place in self.places)
        return float(pot_life(Quantity(min(max(hottest, -10.0), 60.0), "degC"), points).to("minute").magnitude)

    def brushwork(self, task: RackTask) -> float:
        """Minutes from the mix to the last stroke, while it stands counted, mixing and cleaning apart."""
        stands = task.coating.induction_minutes if task.coating else 0.0
        return stands + task.layer.minutes_on(self.rack.area) if task.layer else task.minutes

    def _ahead(self, place: Place) -> Floats:
        first = self.ground.first
        return self.ground.run(place).temperature[first : first + self.ground.known]

    # -- where, and in which hours

    @cached_property
    def ways(self) -> dict[str, list["Way"]]:
        found = {task.name: self._bound_way(task) or list(self._ways(task)) for task in self.tasks}
        if self.running is not None:
            first = self.tasks[0].name
            found[first] = [w for w in found[first] if w.place == self.running.place and w.then is None]
        return found

    def _bound_way(self, task: RackTask) -> list["Way"]:
        """The kept plan's; what is being done already stays where it is anyhow."""
        own = self.bound.get(task.name)
        begun = self.running is not None and task is self.tasks[0]
        return [self.way(task, own.place, own.then)] if own and not begun else []

    def way(self, task: RackTask, place: Place, then: Place | None = None) -> "Way":
        """Each way once: what it works out is kept."""
        key = task.name, place.pk, then.pk if then else None
        if key not in self._made:
            self._made[key] = Way(self, task, place, then)
        return self._made[key]

    def _ways(self, task: RackTask) -> Iterator["Way"]:
        if task.kind == Kind.BLAST:
            yield from self._blasting(task, self.bare_places)
            return
        for place in self._places_for(task):
            yield self.way(task, place)
            for other in self.places:
                if self._carried_on(task, place, other):
                    yield self.way(task, place, other)

    def _places_for(self, task: RackTask) -> list[Place]:
        if task.kind in (Kind.REPAIR, Kind.MASK):
            return self.places
        return self.bare_places if task.name in self._while_bare else self._painted

    @property
    def _painted(self) -> list[Place]:
        return [place for place in self.places if place.painted_in]

    @cached_property
    def _while_bare(self) -> set[str]:
        """What is done to it from its blasting to its first coat."""
        if not self.to_be_blasted:
            return set()
        names = [task.name for task in self.tasks]
        blast = next(i for i, task in enumerate(self.tasks) if task.kind == Kind.BLAST)
        coat = next((i for i, task in enumerate(self.tasks) if task.kind == Kind.COAT), len(names) - 1)
        return set(names[blast + 1 : coat + 1])

    @cached_property
    def bare_places(self) -> list[Place]:
        """Where it may stand bare. Its rust budget runs as the air there does, so iron that is blasted keeps to one
        place, or to those of one kind, until its first coat: to those that leave most hours to begin the blasting.
        A kept plan has said where."""
        bare = {task.name for task in self.tasks if task.kind == Kind.BLAST} | self._while_bare
        if kept := [own.then or own.place for name, own in self.bound.items() if name in bare]:
            return list(dict.fromkeys(kept))
        if asked := self.ground.terms.bare_in(self.pieces[0]):
            return [place for place in self.places if str(place.pk) in asked]
        painted = self._painted
        by_kind = ([place for place in painted if place.outdoors == out] for out in (True, False))
        groups = [painted, *by_kind, *([place] for place in painted)]
        tried = [group for n, group in enumerate(groups) if group and group not in groups[:n]]
        return max(tried, key=self._chances) if len(tried) > 1 else painted

    @property
    def stands_bare_in(self) -> list[Place]:
        """Where it is blasted, or stands bare until its first coat."""
        if not self.bare:
            return []
        blasted = [place for place in self.places if place.blasted_in or place.cabinet]
        return [*blasted, *self.bare_places] if self.to_be_blasted else [*blasted, self.stands_in]

    def _chances(self, group: list[Place]) -> int:
        """Hours in which the blasting may be done so that the first coat comes in time, in one of these places."""
        blast = next(task for task in self.tasks if task.kind == Kind.BLAST)
        coat = next((task for task in self.tasks if task.kind == Kind.COAT), None)
        if coat is None:
            return 0
        may = np.any([self.way(coat, place).may_start for place in group], axis=0) & self.ground.present
        starts, length, hours = np.append(np.flatnonzero(may), NEVER), self.minutes(coat), slice(None, None, HOUR)
        good = np.zeros(len(may[hours]), bool)
        for way in self._blasting(blast, group):
            done = np.arange(0, self.ground.horizon.count + 1, HOUR)
            closes = self.ground.not_after(way.work.bare_until(group, way.then, self.wet_blast, done))
            ready = done if way.then is None else way.work.carried[hours] + self.ground.moving_minutes
            in_time = starts[np.searchsorted(starts, ready)] + length <= closes
            begun = np.maximum(done - self.minutes(blast), 0)
            good |= (way.may_start[begun] & in_time & (done > 0))[: len(good)]
        return int(good.sum())

    def _blasting(self, task: RackTask, group: list[Place]) -> Iterator["Way"]:
        """Blasted where it may stand bare it stays there; else it is wheeled there at once."""
        own = [] if self.by_contractor else [place for place in self.places if place.cabinet]
        for place in own or [place for place in self.places if place.blasted_in and place.outdoors]:
            if place in group:
                yield self.way(task, place)
            yield from (self.way(task, place, other) for other in group if other != place)

    def _carried_on(self, task: RackTask, place: Place, other: Place) -> bool:
        """Worked in the open and wheeled inside as soon as it bears it."""
        inside = place.outdoors and not other.outdoors and other.painted_in
        return bool(inside and task.kind == Kind.COAT and task.coating and self.ground.table(task.coating))

    # -- what waits for what

    def links(self) -> Iterator[TimeLag]:
        for number, task in enumerate(self.tasks):
            if task.kind == Kind.BLAST:
                for coat in self.first_coats:
                    windows = tuple(way.rust_window() for way in self.ways[task.name])
                    yield TimeLag(task.name, coat.name, windows, "rust")
            if task.layer is not None:
                yield from self._after_layer(task, task.layer, self.tasks[number + 1 :])

    @cached_property
    def first_coats(self) -> list[RackTask]:
        """The first coat of each side that is bare, or will be: the same one where it goes on both."""
        on = {layer.side for layer in self.state.layers_done if layer.is_coat}
        sides = [side for side in (Layer.Side.FIRST, Layer.Side.SECOND) if side not in on]
        first = (next((task for task in self.tasks if task.coats(side)), None) for side in sides)
        return list(dict.fromkeys(coat for coat in first if coat))

    def _after_layer(self, task: RackTask, layer: Layer, later: list[RackTask]) -> Iterator[TimeLag]:
        above = next((t for t in later if t.coats(layer.side)), None)
        between = later[: later.index(above)] if above else later
        windows = self.ways[task.name]
        if task.kind == Kind.COAT:
            for prepared in (t for t in between if t.kind == Kind.PREPARE):
                yield TimeLag(task.name, prepared.name, tuple(way.opens_window() for way in windows), "recoat")
            if above:
                yield TimeLag(task.name, above.name, tuple(way.recoat_window() for way in windows), "recoat")
            letter = next((t for t in later if t.kind == Kind.LETTER), None)
            if letter and not above:
                yield TimeLag(task.name, letter.name, tuple(way.letters_window() for way in windows), "letters")
        elif later and layer.wait.magnitude:
            yield TimeLag(task.name, later[0].name, tuple(way.waited() for way in windows), "wait")


@dataclass(frozen=True, eq=False)
class Way:
    """A task at a place, perhaps wheeled to another to dry: what follows from it, minute by minute."""

    hung: Hung
    task: RackTask
    place: Place
    then: Place | None = None

    @property
    def ground(self) -> Ground:
        return self.hung.ground

    @cached_property
    def work(self) -> PlacedWork:
        """What it shares with the same work on other racks."""
        return self.hung.placed_work(self.task, self.place)

    @cached_property
    def option(self) -> Mode:
        work = self.work
        return Mode(
            self.place.name, self.may_start, None if work.table is None else work.dry_minutes,
            stands_in=self.then.name if self.then else "",
            carried=None if self.then is None else work.carried,
            cost=self._cost(), margin=work.margin(self.minutes), refused=self.refused,
        )  # fmt: skip

    @property
    def minutes(self) -> int:
        return self.hung.minutes(self.task)

    @cached_property
    def may_start(self) -> Flags:
        return np.asarray(self.refused == 0)

    @cached_property
    def refused(self) -> Reasons:
        """By start: flags of Reason."""
        deadline, below = self._deadline(), self._below()
        if deadline is None and below is None:
            return self.work.refused(self.minutes)
        return self.work.refused_over(self.minutes, deadline, below)

    def _deadline(self) -> float | None:
        """Of iron that is bare already: the first coat of each bare side must be on by then."""
        if self.hung.to_be_blasted or not self.hung.state.is_bare or self.task not in self.hung.first_coats:
            return None
        ends = [outlook.coat_before for outlook in self.hung.outlooks if outlook.coat_before is not None]
        if self.place != self.hung.stands_in:
            now, spent = self.hung.outlooks[0].at, max(outlook.rust_spent for outlook in self.hung.outlooks)
            iron = self.hung.iron
            ends.append(float(exposure.finish_by(self.ground.standing(self.place, iron), iron.bare(spent=spent), now)))
        return min(ends)

    def _below(self) -> RecoatWindow | None:
        """The window over a coat that is on already, for what comes next on it."""
        coats = [t for t in self.hung.tasks if t.kind in (Kind.COAT, Kind.LETTER)]
        below = [o.recoat for o in self.hung.outlooks if o.recoat is not None]
        if self.hung.to_be_blasted or not below or not coats:
            return None
        next_window = RecoatWindow.narrowest(below)
        if self.task is coats[0]:
            return next_window
        if self.task in self.hung.tasks[: self.hung.tasks.index(coats[0])]:
            return RecoatWindow.from_then_on(next_window.opens)
        return self._over_the_other_side(coats)

    def _over_the_other_side(self, coats: list[RackTask]) -> RecoatWindow | None:
        """Of a coat that is the first to come on its side, where another side is coated before it."""
        layer = self.task.layer
        before = coats[: coats.index(self.task)] if self.task in coats else []
        if layer is None or not before or any(coat.coats(layer.side) for coat in before):
            return None
        windows = [window for o in self.hung.outlooks if (window := o.window_over(layer)) is not None]
        return RecoatWindow.narrowest(windows) if windows else None

    def _cost(self) -> Minutes | int:
        """Holding a place while it is used, work and drying, in cents by start."""
        cents = self.ground.terms.holding_cents(self.then or self.place)
        if not cents:
            return 0
        count = self.ground.horizon.count
        done = np.minimum(np.arange(count) + self.minutes, count)
        until = np.minimum(self.work.dry_minutes[done], count) if self.work.table else done
        return np.ceil(cents * (until - np.arange(count)) / 60).astype(np.int64)

    # -- windows

    def _reached(self, stage: DryingStage) -> Floats:
        return self.work.reached(stage) if self.then is None else self.work.reached_on(self.then, stage)

    @property
    def bears_dew(self) -> Floats | None:
        """Position from which its coat may be left to dew and rain, by completion; None where none dries."""
        if self.work.table is None:
            return None
        return self.ground.by_completion(self._reached(self.work.table.dew_safe_stage))

    @property
    def _waited(self) -> Floats:
        """When the wait that the system asks for after this layer is over."""
        return self.work.done + (self.task.layer.wait.to("hour").magnitude if self.task.layer else 0.0)

    @property
    def _done(self) -> Minutes:
        return np.arange(self.ground.horizon.count + 1)

    def _opens(self, position: Floats) -> Minutes:
        opens = self.ground.not_before(np.maximum(position, self._waited))
        return np.maximum(self.ground.by_completion(opens), self._done)

    def _once(self, kind: Hashable, window: Callable[[], TimeWindow]) -> TimeWindow:
        """A window that all racks share whose paint, place and wait are the same."""
        wait = self.task.layer.wait.to("minute").magnitude if self.task.layer else 0.0
        key = kind, wait, self.then.pk if self.then else None
        if key not in self.work.windows:
            self.work.windows[key] = window()
        return self.work.windows[key]

    def waited(self) -> TimeWindow:
        return self._once("wait", lambda: TimeWindow(self._opens(self.work.done)))

    def opens_window(self) -> TimeWindow:
        return self._once("opens", lambda: TimeWindow(self._opens(self._reached(DryingStage.RECOAT_FROM))))

    def recoat_window(self) -> TimeWindow:
        return self._once("recoat", self._recoat_window)

    def _recoat_window(self) -> TimeWindow:
        gives = self.work.drying.gives
        ends = {
            name: self.ground.by_completion(self.ground.not_after(self._reached(stage)))
            for name, stage in (("closes", DryingStage.RECOAT_UNTIL), ("closed_from", DryingStage.CLOSED_FROM))
            if gives(stage)
        }
        if gives(DryingStage.CLOSED_UNTIL):
            opens = self.ground.not_before(self._reached(DryingStage.CLOSED_UNTIL))
            ends["closed_until"] = self.ground.by_completion(opens)
        return TimeWindow(self._opens(self._reached(DryingStage.RECOAT_FROM)), **ends)

    def letters_window(self) -> TimeWindow:
        """Where it stands while it waits: dried on elsewhere it waits for the slower of the two."""
        assert self.task.coating is not None  # it is a coat that is lettered
        share = self.task.coating.lettering_share(self.work.drying)
        places = [place for place in (self.place, self.then) if place]
        waits = [self.work.letters_from(place, share) for place in places]
        return self._once(("letters", share), lambda: TimeWindow(self._opens(np.max(waits, axis=0))))

    def rust_window(self) -> TimeWindow:
        """It may stand in any of its places, and be carried between them."""
        places = self.hung.bare_places
        key = "rust", frozenset(place.pk for place in places), self.hung.wet_blast
        return self._once(key, lambda: self._rust_window(places))

    def _rust_window(self, places: list[Place]) -> TimeWindow:
        asked = np.arange(0, self.ground.horizon.count + 1, SPENT_EVERY)
        closes = self.ground.not_after(self.work.bare_until(places, self.then, self.hung.wet_blast, asked))
        return TimeWindow(self._done, np.repeat(closes, SPENT_EVERY)[: self.ground.horizon.count + 1])
