"""What the air makes of pieces is reckoned once for all that are alike, and kept for as long as it rests on the same.

A run of hours rests on forecasts, readings, places and the workshop's settings; a piece's answer in it rests on where
it stands, its body and salt, its log, and the sheets of its paint. A reading changes the air of the places that it is
for: what stood in others is taken over into the new run. Each process keeps the last runs in memory; what is lost is
reckoned again.
"""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from hashlib import blake2b
from threading import Lock
from typing import Generic, Protocol, TypeVar, cast
from uuid import UUID

from django.db import models
from django.db.models import Min

from finishing.air.domain.outside_air import AirStamp, WorkshopAir, air_stamp
from finishing.coatings.models import Coating, Layer
from finishing.science.hours import Flags, Hours
from finishing.science.windows import Reasons
from finishing.site.fields import columns_of
from finishing.workshops.models import Workshop
from projects.record.models.designs import Part
from projects.record.models.kept_states import written
from projects.record.models.pieces import Piece
from projects.record.models.projects import Project
from projects.record.models.stages import PieceState

from .paths import Path, paths

LOOK_BACK = timedelta(days=30)
BEFORE = timedelta(days=2)  # air before the first entry, so that heavy metal is in balance when it counts
ONE_HOUR = timedelta(hours=1)
RUNS_KEPT = 6  # of all workshops together; a run of a thousand pieces holds some ten megabytes

Value = TypeVar("Value")


class KeepsReckoned(Protocol):
    kept: dict[str, object]
    kept_now: dict[str, object]


Owner = TypeVar("Owner", bound=KeepsReckoned)


class reckoned(Generic[Owner, Value]):  # noqa: N801  (it is used as property and cached_property are)
    """A property that rests on run and log alone, never on the moment: worked out once for all that are alike.

    Whoever has asked once has it at hand.
    """

    def __init__(self, reckon: Callable[[Owner], Value]) -> None:
        self.reckon, self.name, self.__doc__ = reckon, reckon.__name__, reckon.__doc__

    def __get__(self, owner: Owner, kind: type[Owner] | None = None) -> Value:
        kept = self.kept_of(owner)
        if self.name not in kept:
            kept[self.name] = self.reckon(owner)
        value = vars(owner)[self.name] = kept[self.name]
        return cast(Value, value)

    def kept_of(self, owner: Owner) -> dict[str, object]:
        return owner.kept


class reckoned_now(reckoned[Owner, Value]):  # noqa: N801
    """One that rests on the moment too: worked out once for all that are alike and looked at together."""

    def kept_of(self, owner: Owner) -> dict[str, object]:
        return owner.kept_now


@dataclass(eq=False)
class AsItStays:
    """Where pieces stand, as if the air stayed as it is last known; reckoned for all at once, and only when asked."""

    pieces: list[Piece]
    air: WorkshopAir

    @cached_property
    def paths(self) -> dict[UUID, Path]:
        return paths(self.pieces, self.air.staying)


@dataclass(eq=False)
class AlikePieces:
    """What a run keeps for pieces that are alike; `piece` is the one that it was reckoned with."""

    piece: Piece
    path: Path
    stays: AsItStays
    kept: dict[str, object] = field(default_factory=dict)

    @property
    def staying(self) -> Path:
        return self.stays.paths[self.piece.pk]


@dataclass(eq=False)
class Run:
    """A workshop's air from one hour to another, people's hours in it, and what it makes of pieces."""

    air: WorkshopAir
    working: Flags
    kept: dict[str, AlikePieces] = field(default_factory=dict)
    usual_work: dict[UUID, Reasons] = field(default_factory=dict)  # by place, in which hours it refuses a usual casting

    def take_over(self, other: "Run", places: set[UUID]) -> None:
        """From a run of the same hours: what stood in these places alone, where the air is the same in both."""
        self.air.take_over(other.air, places)
        for key, alike in [*other.kept.items()]:
            if all(stay.place.pk in places for stay in alike.path.trail):
                self.kept.setdefault(key, alike)

    def alike(self, pieces: list[Piece], moment: datetime) -> list[AlikePieces]:
        """Of each piece, in their order; those that are not kept yet are reckoned together."""
        sheets = Sheets()
        at_first_sight: dict[Hashable, str] = {}
        keys: list[str] = []
        new: dict[str, Piece] = {}
        for piece in pieces:
            state = piece.state_at(moment)
            seen = piece.part_id, piece.place_id, piece.salt, id(state), id(piece.state)
            key = at_first_sight.get(seen)
            if key is None:
                key = at_first_sight[seen] = sheets.likeness(piece, state)
                if key not in self.kept:
                    new.setdefault(key, piece)
            keys.append(key)
        trails, stays = paths([*new.values()], self.air), AsItStays([*new.values()], self.air)
        self.kept |= {key: AlikePieces(piece, trails[piece.pk], stays) for key, piece in new.items()}
        return [self.kept[key] for key in keys]


class Sheets:
    """What sheets and layers say, as text; each read once for a page."""

    def __init__(self) -> None:
        self._said: dict[int, tuple[models.Model, str]] = {}
        self._states: dict[int, tuple[PieceState, str]] = {}

    def likeness(self, piece: Piece, state: PieceState) -> str:
        """All that a piece's answer in a run rests on, in short: pieces of which it is the same share one."""
        part, done = piece.part, [*state.coats, *([state.last_step] if state.last_step else [])]
        body = f"{self._part(part)} {piece.place_id} {piece.salt}"
        coatings = [coating for coating in (part.lettering_coating, *(each.coating for each in done)) if coating]
        layers = [each.layer for each in done if each.layer]
        logged = [self._state(state)] if state is piece.state else [self._state(state), self._state(piece.state)]
        said = *map(self._coat, state.coming), *map(self._layer, layers), *map(self._coating, coatings)
        told = "\n".join([body, *logged, *said])
        return blake2b(told.encode(), digest_size=16).hexdigest()

    def _state(self, state: PieceState) -> str:
        if id(state) not in self._states:
            self._states[id(state)] = state, written(state)
        return self._states[id(state)][1]

    def _part(self, part: Part) -> str:
        body = (part.body.length_m, part.body.material.name)
        return self._once(part, lambda: [repr((*body, part.square_metres))])

    def _coat(self, layer: Layer) -> str:
        return self._layer(layer) + (self._coating(layer.coating) if layer.coating else "")

    def _layer(self, layer: Layer) -> str:
        return self._once(layer, lambda: [columns_of(layer), *map(columns_of, layer.additives.all())])

    def _coating(self, coating: Coating) -> str:
        return self._once(coating, lambda: [columns_of(coating), *map(columns_of, coating.drying_points.all())])

    def _once(self, row: models.Model, say: Callable[[], list[str]]) -> str:
        if id(row) not in self._said:
            told = blake2b("\n".join(say()).encode(), digest_size=16).hexdigest()
            self._said[id(row)] = row, told  # the row is held, so that no other gets its number
        return self._said[id(row)][1]


@dataclass(frozen=True)
class RestsOn:
    """What a run is known by."""

    begin: datetime
    last_hour: datetime
    air: AirStamp


_runs: OrderedDict[RestsOn, Run] = OrderedDict()
_lock = Lock()


def run_for(
    workshop: Workshop, pieces: list[Piece], moment: datetime, now: datetime, member: Hours | None = None
) -> Run:
    """Air from a little before the first entry of the workshop that still counts, at most a month back, to what lies
    ahead of the moment. The same for all pages of an hour; with a member of an ensemble it is not kept."""
    counting = [piece.state_at(moment).counts_from for piece in pieces]
    projects = Project.objects.of(workshop).filter(closed=False)  # so that no piece of a closed one is looked at
    at_work = Piece.objects.filter(project__in=projects, set_aside=False)
    counting.append(at_work.aggregate(first=Min("kept__counts_from"))["first"])
    first = min([when for when in counting if when], default=moment)
    begin = max(first - BEFORE, moment - LOOK_BACK).replace(minute=0, second=0, microsecond=0)
    air = WorkshopAir(workshop, begin, now, member, until=moment)
    if member:
        return Run(air, workshop.working_hours(air.outdoor.times))
    last_hour = (moment + ONE_HOUR - timedelta.resolution).replace(minute=0, second=0, microsecond=0)
    key = RestsOn(begin, last_hour, air_stamp(workshop, begin, now))
    with _lock:
        if key in _runs:
            _runs.move_to_end(key)
            return _runs[key]
        others = [(other, run) for other, run in _runs.items() if (other.begin, other.last_hour) == (begin, last_hour)]
    run = Run(air, workshop.working_hours(air.outdoor.times))
    for other, before in reversed(others):  # the newest first
        if same := key.air.same_places(other.air):
            run.take_over(before, same)
            break
    with _lock:
        _runs[key] = run
        while len(_runs) > RUNS_KEPT:
            _runs.popitem(last=False)
    return run


def run_since(workshop: Workshop, begin: datetime, now: datetime) -> Run:
    """The run that all pages of this hour share, where it reaches back to `begin`; else one that does."""
    shared = run_for(workshop, [], now, now)
    if shared.air.begin <= begin:
        return shared
    air = WorkshopAir(workshop, begin.replace(minute=0, second=0, microsecond=0), now)
    return Run(air, workshop.working_hours(air.outdoor.times))


def forget_runs() -> None:
    """As when the process starts."""
    with _lock:
        _runs.clear()
