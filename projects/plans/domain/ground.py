"""The air and the metal of a workshop's places as the planner needs them, to the minute.

Minute 0 is the one that it is now: what is being done in it stays, and nothing new begins in it.
A rack's metal is taken as in balance with the place where it is worked; what carrying it from another place does to
it is kept by the moves. Of a rack's pieces the one that fares worst counts, in each minute anew.
What a place, a kind of iron and a paint have in common is worked out once, by the minute in which work is done: however
many racks ask for it, and however long the work on each takes. It is worked out for those minutes alone in which work
may be done (`ends`); what would be done in another counts as done in the next of them.
"""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from typing import TypeVar, cast
from uuid import UUID

import numpy as np
from numpy.typing import ArrayLike

from finishing.air.domain.outside_air import WorkshopAir
from finishing.coatings.models import Coating
from finishing.science import exposure, moving, rust
from finishing.science.drying import CLOSING, DryingStage, DryingTable, RecoatWindow, dried_carried_on, rate
from finishing.science.exposure import StandingIron
from finishing.science.hours import Flags, Floats, Hours, reaches
from finishing.science.metal import Material, metal_temperature
from finishing.science.rust import Exposure
from finishing.science.scheduling.problem import NEVER, Horizon, Minutes, Transport, runs, tenths
from finishing.science.windows import Gates, Reasons, refusals
from finishing.workshops.models import Place, Workshop
from projects.record.models.pieces import Piece
from projects.record.models.plans import Slot

from .terms import Terms

Shared = TypeVar("Shared", bound=Hashable)
Numbers = TypeVar("Numbers", Floats, Minutes)

MINUTE = timedelta(minutes=1)


def this_minute(now: datetime) -> datetime:
    return now.replace(second=0, microsecond=0)


@dataclass(frozen=True)
class Iron:
    """The pieces of a rack as the air meets them: those of each thickness and material once."""

    bodies: tuple[tuple[float, Material], ...]
    salt_shift: float
    tightening: float

    @classmethod
    def of(cls, pieces: list[Piece]) -> "Iron":
        by_name = {(p.part.body.length_m, p.part.body.material.name): p.part.body.material for p in pieces}
        salts = [rust.SALT_LEVELS[piece.salt or piece.workshop.salt].shift for piece in pieces]
        bodies = tuple((length, material) for (length, _), material in sorted(by_name.items(), key=lambda b: b[0]))
        ends = bodies if len(bodies) < 3 else (bodies[0], bodies[-1])
        return cls(ends, max(salts), pieces[0].workshop.rust_tightening)

    def bare(self, wet: bool = False, spent: float = 0.0) -> Exposure:
        """Bare: blasted wet or not, with a share of its budget gone."""
        return Exposure(salt_shift=self.salt_shift, spent=spent, wet_work=wet, tightening=self.tightening)

    @property
    def carried_as(self) -> tuple[float, str, float]:
        """What decides how it fares on the way to another place."""
        length, material = self.heaviest
        return length, material.name, self.salt_shift

    @property
    def heaviest(self) -> tuple[float, Material]:
        return self.bodies[-1]


@dataclass(eq=False)
class Ground:
    """The air of a workshop as the terms hold it."""

    terms: Terms
    air: WorkshopAir
    now: datetime
    lengths: dict[str, set[float]] = field(default_factory=dict)  # thicknesses to come, by material
    to_carry: set["Iron"] = field(default_factory=set)  # what will be asked about, by rack
    places: list[Place] = field(default_factory=list)
    kept: Sequence[Slot] = ()  # of the kept plan: what is being done may end when nobody is at work any more
    _metal: dict[tuple[UUID, float, str], Floats] = field(default_factory=dict)
    _rates: dict[Hashable, list[Floats]] = field(default_factory=dict)
    _moved: dict[Hashable, moving.Moves] = field(default_factory=dict)
    _dried: dict[Hashable, Floats] = field(default_factory=dict)
    _settles: dict[Hashable, Minutes] = field(default_factory=dict)
    _standing: dict[Hashable, StandingIron] = field(default_factory=dict)
    _shared: dict[Hashable, Hashable] = field(default_factory=dict)
    _tables: dict[UUID, DryingTable | None] = field(default_factory=dict)

    def go_on_from(self, other: "Ground") -> None:
        """The same air in the same places."""
        self.air, self._metal, self._rates, self._moved = other.air, other._metal, other._rates, other._moved
        self._settles, self._standing = other._settles, other._standing
        if np.array_equal(self.ends, other.ends):
            self._dried = other._dried

    @cached_property
    def zero(self) -> float:
        """Position of minute 0 in the run of hours."""
        return float(self.air.outdoor.position(this_minute(self.now)))

    @property
    def first(self) -> int:
        """The hour of the run in which it lies."""
        return int(self.zero)

    @cached_property
    def start(self) -> datetime:
        return this_minute(self.now)

    @cached_property
    def known(self) -> int:
        """Hours from the one that it is now on in which the air outside is foretold without a gap."""
        ahead = self.air.outdoor.known[self.first :]
        return int(np.argmin(ahead)) if not ahead.all() else len(ahead)

    @cached_property
    def horizon(self) -> Horizon:
        return Horizon(round(60 * (self.first + self.known - self.zero)))

    @cached_property
    def times(self) -> np.ndarray:
        """The minutes that are planned in, UTC."""
        return np.datetime64(self.start.astimezone(UTC).replace(tzinfo=None), "m") + np.arange(self.horizon.count)

    @cached_property
    def at(self) -> Floats:
        """Each minute as a position in the run."""
        return np.asarray(self.zero + self.horizon.hours, float)

    @cached_property
    def ends(self) -> Minutes:
        """The minutes by which work may be done: people or a visit are there, or a kept plan says so; and the last."""
        there = np.append(self.present, True)
        there[1:] |= self.present
        for visit in self.terms.visits():
            there[max(0, self.minute_up(visit.starts_at)) : max(0, self.minute_down(visit.ends_at) + 1)] = True
        kept = [self.minute_up(slot.end) for slot in self.kept]
        there[[minute for minute in kept if 0 <= minute < len(there)]] = True
        return np.flatnonzero(there)

    @cached_property
    def done(self) -> Floats:
        """Each of them as a position in the run."""
        return self.positions(self.ends)

    @cached_property
    def _next_end(self) -> Minutes:
        return np.searchsorted(self.ends, np.arange(self.horizon.count + 1))

    def by_completion(self, of_ends: Numbers) -> Numbers:
        """What was worked out for the ends, by completion in every minute."""
        return of_ends[self._next_end]

    def positions(self, minutes: Minutes) -> Floats:
        return np.asarray(self.zero + minutes / 60, float)

    @cached_property
    def present(self) -> Flags:
        """By minute: people are at work."""
        return self.terms.present(self.times)

    @cached_property
    def longest_day(self) -> int:
        """Minutes of the longest stretch in which people are at work."""
        return max((end - begin for begin, end in zip(*runs(self.present), strict=True)), default=0)

    def table(self, coating: Coating) -> DryingTable | None:
        """A paint's drying table, read once."""
        if coating.pk not in self._tables:
            self._tables[coating.pk] = coating.drying_table()
        return self._tables[coating.pk]

    def once(self, work: Shared) -> Shared:
        """The same for all who ask for work alike, with what it has worked out."""
        return cast(Shared, self._shared.setdefault(work, work))

    def moment(self, minute: int) -> datetime:
        return self.start + int(minute) * MINUTE

    def minute_up(self, when: datetime) -> int:
        return -int((self.start - when) // MINUTE)

    def minute_down(self, when: datetime) -> int:
        return int((when - self.start) // MINUTE)

    # -- positions in the run as minutes

    def not_before(self, positions: ArrayLike) -> Minutes:
        """Monotone: what is done later is never taken to be ready earlier."""
        return np.asarray(np.maximum.accumulate(self.horizon.not_before(np.asarray(positions) - self.zero)))

    def not_after(self, positions: ArrayLike) -> Minutes:
        """Monotone towards the earlier end."""
        minutes = self.horizon.not_after(np.asarray(positions) - self.zero)
        return np.asarray(np.minimum.accumulate(minutes[::-1])[::-1])

    # -- a place

    def run(self, place: Place) -> Hours:
        return self.air.of(place)

    def metal(self, place: Place, iron: Iron) -> Floats:
        """(p, n): each body's temperature through the whole run, standing there."""
        rows = []
        for length, material in iron.bodies:
            if (place.pk, length, material.name) not in self._metal:
                self._warm(place, material, {length, *self.lengths.get(material.name, ())})
            rows.append(self._metal[place.pk, length, material.name])
        return np.array(rows)

    def _warm(self, place: Place, material: Material, lengths: set[float]) -> None:
        """All the thicknesses there are in one go: that takes hardly longer than one."""
        each = sorted(lengths)
        warmth = metal_temperature(self.run(place), each, None, place.shelter, material=material, sky=True)
        self._metal |= {(place.pk, length, material.name): row for length, row in zip(each, warmth, strict=True)}

    def refused(
        self,
        place: Place,
        iron: Iron,
        gates: Gates,
        work_h: float,
        firm: Floats | None = None,
        left: Floats | None = None,
        rust_deadline: float | None = None,
        recoat: RecoatWindow | None = None,
    ) -> Reasons:
        """By minute: why none may start. firm, left: until when the gates, and dew and rain, count, by minute.

        Hours that are touched count whole, so minutes that touch the same ones are judged once; a deadline, and the
        window below, are not of whole hours.
        """
        ends = [self.at + work_h, *(end for end in (firm, left) if end is not None)]
        new = np.ones(len(self.at), bool)
        if rust_deadline is None and recoat is None:
            hours = [np.floor(self.at), *(np.ceil(np.nan_to_num(end, nan=-1, posinf=1e6)) for end in ends)]
            new[1:] = np.any(np.diff(hours, axis=1) != 0, axis=0)
        metal, there = self.metal(place, iron), self.run(place)
        refused = refusals(
            there, metal, gates, working=np.ones(len(there), bool), application_h=work_h,
            set_at=None if firm is None else firm[new], left_at=None if left is None else left[new],
            rust_deadline=rust_deadline, recoat=recoat, starts=self.at[new],
        )  # fmt: skip
        worst = np.bitwise_or.reduce(np.atleast_2d(refused), axis=0)
        return np.asarray(worst[np.cumsum(new) - 1])

    def margin(self, place: Place, iron: Iron, asked: float, left: Floats) -> Minutes:
        """By minute: tenths of a degree above the dew point and what is asked, the least from its start until `left`.

        An hour that is touched counts whole."""
        above = (self.metal(place, iron) - self.run(place).dew_point).min(axis=0) - asked
        begin = self.at.astype(int)
        until = np.clip(np.nan_to_num(np.ceil(left), nan=0, posinf=len(above)), begin + 1, len(above)).astype(int)
        new = np.append(True, (np.diff(begin) != 0) | (np.diff(until) != 0))
        spans = np.column_stack([begin[new], until[new]]).ravel()
        least = np.minimum.reduceat(np.append(above, np.inf), spans)[::2]
        return np.asarray(np.maximum(tenths(least), 0)[np.cumsum(new) - 1])

    # -- drying, by the minute in which it is on: the piece that dries last, or closes first

    def rates(self, place: Place, iron: Iron, table: DryingTable, stage: DryingStage, slower: float) -> list[Floats]:
        """How fast each body comes to the stage there, by hour."""
        key = place.pk, iron.bodies, table, stage, slower
        if key not in self._rates:
            damp = self.run(place).humidity
            self._rates[key] = [rate(table, stage, metal, damp, slower) for metal in self.metal(place, iron)]
        return self._rates[key]

    def dried(
        self,
        place: Place,
        iron: Iron,
        table: DryingTable,
        stage: DryingStage,
        slower: float,
        share: float = 1.0,
    ) -> Floats:
        """Positions at which it comes to a stage, or a share of the way there."""
        key = place.pk, iron.bodies, table, stage, slower, share
        if key not in self._dried:
            rates = self.rates(place, iron, table, stage, slower)
            self._dried[key] = _worst(stage, [reaches(progress, share, self.done) for progress in rates])
        return self._dried[key]

    def dried_carried_on(
        self,
        places: tuple[Place, Place],
        iron: Iron,
        table: DryingTable,
        stage: DryingStage,
        carried: Floats,
        slower: float,
    ) -> Floats:
        """The same where it is carried on to a second place on the way."""
        here, there = (self.rates(place, iron, table, stage, slower) for place in places)
        each = [dried_carried_on(*rates, self.done, carried) for rates in zip(here, there, strict=True)]
        return _worst(stage, each)

    # -- bare iron

    def standing(self, place: Place, iron: Iron) -> StandingIron:
        key = place, iron.bodies
        if key not in self._standing:
            self._standing[key] = StandingIron(self.run(place), self.metal(place, iron))
        return self._standing[key]

    def bare_until_among(self, places: Sequence[Place], iron: Iron, done: Floats, wet: bool) -> Floats:
        """By when its first coat must be on, bare from `done` on, where it may stand in any of these places."""
        return exposure.finish_by_among([self.standing(place, iron) for place in places], iron.bare(wet), done)

    def bare_until_carried(
        self, here: Place, places: Sequence[Place], iron: Iron, done: Floats, carried: Floats, wet: bool
    ) -> Floats:
        """The same where it is carried from here to the first of these places, and may then stand in any of them."""
        then = [self.standing(place, iron) for place in places]
        arriving, moving_h = self.carried(here, places[0], iron), self.moving_minutes / 60
        return exposure.finish_by_carried(
            self.standing(here, iron), then, iron.bare(wet), done, carried, moving_h, arriving
        )

    # -- carrying

    @property
    def moving_minutes(self) -> int:
        """What carrying a rack takes."""
        return self.horizon.work(self.terms.workshop.rates.moving)

    def carried(self, origin: Place, to: Place, iron: Iron) -> moving.Moves:
        """What becomes of the heaviest body, by hour of the run (n) in which it arrives."""
        if (origin.pk, to.pk, iron.carried_as) not in self._moved:
            self._carry({*self.places, origin} - {to}, to, {*self.to_carry, iron})
        return self._moved[origin.pk, to.pk, iron.carried_as]

    def _carry(self, origins: Iterable[Place], to: Place, irons: Iterable[Iron]) -> None:
        """Everything that may be carried there in one go: that takes hardly longer than one."""
        by_material: dict[str, list[tuple[Place, Iron]]] = defaultdict(list)
        for origin in origins:
            for iron in {iron.carried_as: iron for iron in irons}.values():
                by_material[iron.heaviest[1].name].append((origin, iron))
        there, span = self.run(to), slice(self.first, self.first + self.known)
        cut = there.between(there.times[self.first], there.times[0] + np.timedelta64(self.first + self.known, "h"))
        for pairs in by_material.values():
            found = moving.moves(
                [self.metal(origin, iron)[-1, span] for origin, iron in pairs], cut,
                [iron.heaviest[0] for _, iron in pairs], to.shelter, material=pairs[0][1].heaviest[1],
                salt_shift=[iron.salt_shift for _, iron in pairs], sky=True,
            )  # fmt: skip
            for row, (origin, iron) in enumerate(pairs):
                self._moved[origin.pk, to.pk, iron.carried_as] = self._through_the_run(found, row)

    def _through_the_run(self, found: moving.Moves, row: int) -> moving.Moves:
        """One of these by hour of the run; beyond the hours that are planned in nothing settles, all sweats."""
        span, count = slice(self.first, self.first + self.known), len(self.air.outdoor)
        whole = moving.Moves(np.full(count, np.inf), np.full(count, np.nan), np.ones(count, bool), np.ones(count))
        for name, values in vars(found).items():
            getattr(whole, name)[span] = values[row]
        return whole

    def move(self, origin: Place, to: Place, rack: str, iron: Iron, bare: bool, people: int) -> Transport:
        """Carrying of a rack; bare iron is not carried where it would sweat."""
        key = origin.pk, to.pk, iron.carried_as, bare
        if key not in self._settles:
            arriving = self.carried(origin, to, iron)
            hourly = np.where(arriving.sweats, np.inf, arriving.settles) if bare else arriving.settles
            last = len(hourly) - 1
            before, after = (np.clip(edge(self.at).astype(int), 0, last) for edge in (np.floor, np.ceil))
            waits = np.maximum(hourly[before], hourly[after])  # of the hours on both sides the longer  [our judgement]
            self._settles[key] = self.horizon.not_before(waits)
        return Transport(origin.name, to.name, self.moving_minutes, people, self._settles[key], rack)

    def settled_after(self, carrying: Slot, iron: Iron, bare: bool) -> int:
        """Minute from which a rack that is being carried may be worked on in the place it comes to."""
        arrived = min(max(0, self.minute_up(carrying.end)), self.horizon.count - 1)
        held = {place.pk: place for place in self.places}  # as the terms hold them
        assert carrying.origin_id is not None  # what is carried comes from somewhere
        origin, to = held[carrying.origin_id], held[carrying.place_id]
        return min(arrived + int(self.move(origin, to, "", iron, bare, 1).settles[arrived]), NEVER)


def _worst(stage: DryingStage, bodies: list[Floats]) -> Floats:
    """Over the bodies of a rack: what opens does so with the last, what closes with the first."""
    return np.asarray(np.min(bodies, axis=0) if stage in CLOSING else np.max(bodies, axis=0))


def day_ends(workshop: Workshop, day: date) -> datetime:
    """The end of work on a day, on the workshop's clock."""
    return workshop.at(day, workshop.work_until)
