"""What hours and places do to a rack, by the slot in which something begins there: the planner's arrays.

Slot 0 begins with the hour that it is now: what is being done in it stays, and nothing new begins in it.
A rack's metal is taken as in balance with the place where
it is worked; what carrying it from another place does to it is kept by the moves. Of a rack's pieces the one that
fares worst counts, in each slot anew.
"""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Any

import numpy as np

from finishing.models.outside_air import WorkshopAir
from finishing.science import moving, rust
from finishing.science.drying import CLOSING, DryingTable, RecoatWindow, Stage, dried, hours_at, rate
from finishing.science.hours import Flags, Floats, Hours, reaches
from finishing.science.metal import Material, metal_temperature
from finishing.science.planning.problem import NEVER, Grid, Move, Slots, tenths
from finishing.science.windows import Gates, Reasons, refusals

from .plan_terms import Terms


def this_hour(now: datetime) -> datetime:
    return now.replace(minute=0, second=0, microsecond=0)


@dataclass(frozen=True, eq=False)
class Iron:
    """The pieces of a rack as the air meets them: those of each thickness and material once."""

    bodies: tuple[tuple[float, Material], ...]
    salt_shift: float
    tightening: float

    @classmethod
    def of(cls, pieces: list[Any]) -> "Iron":
        by_name = {(p.part.body.length_m, p.part.body.material.name): p.part.body.material for p in pieces}
        salts = [rust.SALT_LEVELS[piece.salt or piece.workshop.salt].shift for piece in pieces]
        bodies = tuple((length, material) for (length, _), material in sorted(by_name.items(), key=lambda b: b[0]))
        ends = bodies if len(bodies) < 3 else (bodies[0], bodies[-1])
        return cls(ends, max(salts), pieces[0].workshop.rust_tightening)

    @property
    def heaviest(self) -> tuple[float, Material]:
        return self.bodies[-1]


@dataclass(eq=False)
class Ground:
    """The air of a workshop as the terms hold it, cut into slots."""

    terms: Terms
    air: WorkshopAir
    now: datetime
    lengths: dict[str, set[float]] = field(default_factory=dict)  # thicknesses to come, by material
    _metal: dict[Any, Floats] = field(default_factory=dict)
    _moved: dict[Any, tuple[Slots, Flags, Floats]] = field(default_factory=dict)

    def go_on_from(self, other: "Ground") -> None:
        """The same air in the same places."""
        self.air, self._metal, self._moved = other.air, other._metal, other._moved

    @cached_property
    def first(self) -> int:
        """Position of slot 0 in the run of hours."""
        return round(float(self.air.outdoor.position(this_hour(self.now))))

    @cached_property
    def start(self) -> datetime:
        return this_hour(self.now)

    @cached_property
    def known(self) -> int:
        """Hours from slot 0 on in which the air outside is foretold without a gap."""
        ahead = self.air.outdoor.known[self.first :]
        return int(np.argmin(ahead)) if not ahead.all() else len(ahead)

    @cached_property
    def grid(self) -> Grid:
        return Grid(self.terms.minutes, self.known * 60 // self.terms.minutes)

    @property
    def hours(self) -> int:
        return self.known

    @cached_property
    def times(self) -> np.ndarray:
        """The hours that are planned in, UTC."""
        return self.air.outdoor.times[self.first : self.first + self.known]

    @cached_property
    def at(self) -> Floats:
        """Each slot's beginning as a position in the run."""
        return np.asarray(self.first + self.grid.hours, float)

    @property
    def begun(self) -> int:
        """Slots that have begun already."""
        return max(0, self.slot_up(self.now))

    @property
    def step(self) -> timedelta:
        return timedelta(minutes=self.grid.minutes)

    def moment(self, slot: int) -> datetime:
        return self.start + int(slot) * self.step

    def slot_up(self, when: datetime) -> int:
        return -int((self.start - when) // self.step)

    def slot_down(self, when: datetime) -> int:
        return int((when - self.start) // self.step)

    # -- positions in the run as slots

    def not_before(self, positions: Any) -> Slots:
        """Monotone: a later start is never taken to be ready earlier."""
        return np.asarray(np.maximum.accumulate(self.grid.not_before(np.asarray(positions) - self.first)))

    def not_after(self, positions: Any) -> Slots:
        """Monotone towards the earlier end."""
        slots = self.grid.not_after(np.asarray(positions) - self.first)
        return np.asarray(np.minimum.accumulate(slots[::-1])[::-1])

    # -- a place

    def run(self, place: Any) -> Hours:
        return self.air.of(place)

    def metal(self, place: Any, iron: Iron) -> Floats:
        """(p, n): each body's temperature through the whole run, standing there."""
        rows = []
        for length, material in iron.bodies:
            if (place.pk, length, material.name) not in self._metal:
                self._warm(place, material, {length, *self.lengths.get(material.name, ())})
            rows.append(self._metal[place.pk, length, material.name])
        return np.array(rows)

    def _warm(self, place: Any, material: Material, lengths: set[float]) -> None:
        """All the thicknesses there are in one go: that takes hardly longer than one."""
        each = sorted(lengths)
        warmth = metal_temperature(self.run(place), each, None, place.shelter, material=material, sky=True)
        self._metal |= {(place.pk, length, material.name): row for length, row in zip(each, warmth, strict=True)}

    def refused(
        self,
        place: Any,
        iron: Iron,
        gates: Gates,
        work_h: float,
        left: Floats | None = None,
        rust_deadline: Any = None,
        recoat: RecoatWindow | None = None,
    ) -> Reasons:
        """By hour from slot 0 on: why none may start; left (p, n) or (n): until when the weather counts."""
        metal, there = self.metal(place, iron), self.run(place)
        always = np.ones(len(there), bool)
        refused = refusals(
            there, metal, gates, working=always, application_h=work_h, left_at=left,
            rust_deadline=rust_deadline, recoat=recoat,
        )  # fmt: skip
        worst = np.bitwise_or.reduce(np.atleast_2d(refused), axis=0)
        return np.asarray(worst[self.first : self.first + self.known])

    def margin(self, place: Any, iron: Iron, gates: Gates, left: Floats) -> Slots:
        """By slot: tenths of a degree kept above what is asked, at the least from its start until `left`."""
        above = (self.metal(place, iron) - self.run(place).dew_point).min(axis=0) - gates.margin
        begin = self.at.astype(int)
        until = np.clip(np.nan_to_num(np.ceil(left), nan=0, posinf=len(above)), begin + 1, len(above)).astype(int)
        least = np.array([above[a:b].min() for a, b in zip(begin, until, strict=True)])
        return np.asarray(np.maximum(tenths(least), 0))

    # -- drying, for starts at each slot: positions; the piece that dries last, or closes first

    def dried(self, place: Any, iron: Iron, table: DryingTable, stage: Stage, done: Floats, slower: float) -> Floats:
        damp = self.run(place).humidity
        each = [dried(table, stage, metal, damp, done, slower) for metal in self.metal(place, iron)]
        return np.asarray(np.min(each, axis=0) if stage in CLOSING else np.max(each, axis=0))

    def dried_on(
        self,
        places: tuple[Any, Any],
        iron: Iron,
        table: DryingTable,
        stage: Stage,
        done: Floats,
        carried: Floats,
        slower: float,
    ) -> Floats:
        """The same where it is carried on to a second place on the way."""
        found = []
        for here, there in zip(*(self.metal(place, iron) for place in places), strict=True):
            first, then = (
                rate(table, stage, metal, self.run(place).humidity, slower)
                for place, metal in zip(places, (here, there), strict=True)
            )
            gone = _grown(first, done, carried)
            early = reaches(first, 1.0, done)
            late = reaches(then, np.maximum(1 - gone, 0.0), np.where(np.isfinite(carried), carried, np.nan))
            found.append(np.where(early <= carried, early, np.where(np.isnan(late), np.inf, late)))
        return np.asarray(np.min(found, axis=0) if stage in CLOSING else np.max(found, axis=0))

    def letters_from(
        self, place: Any, iron: Iron, coating: Any, done: Floats, slower: float, reference: float
    ) -> Floats:
        """When a brush may letter over it: the coating's own wait, stretched as its recoat time stretches."""
        table, wait = coating.drying_table(), coating.letters_after
        if wait is None:
            return self.dried(place, iron, table, Stage.RECOAT_FROM, done, slower)
        share = wait.to("hour").magnitude / float(hours_at(table, Stage.RECOAT_FROM, reference))
        damp = self.run(place).humidity
        each = [
            reaches(rate(table, Stage.RECOAT_FROM, metal, damp, slower), share, done)
            for metal in self.metal(place, iron)
        ]
        return np.asarray(np.max(each, axis=0))

    # -- bare iron

    def bare_until(self, place: Any, iron: Iron, done: Any, wet: bool, spent: float = 0.0) -> Any:
        """By when its first coat must be on, bare from `done` on and standing there."""
        exposure = rust.Exposure(salt_shift=iron.salt_shift, spent=spent, wet_work=wet, tightening=iron.tightening)
        return np.asarray(
            rust.coat_before(self.run(place), self.metal(place, iron), exposure, done).finish_by.min(axis=0)
        )

    def bare_until_carried(
        self, places: tuple[Any, Any], iron: Iron, done: Floats, carried: Floats, wet: bool
    ) -> Floats:
        """The same where it is carried to a second place: what it spends there follows what it spent here."""
        here, there = places
        spent = self._spent(here, iron, done, carried, wet)
        arrived = carried + self.moving_h
        index = np.clip(np.nan_to_num(np.ceil(arrived), posinf=0), 0, len(self.run(there)) - 1).astype(int)
        settles, sweats, on_the_way = self.carried(here, there, iron)
        spent = np.minimum(spent + on_the_way[index], 1.0)
        begin = np.where(np.isfinite(arrived), arrived + np.nan_to_num(settles[index], posinf=0.0), 0.0)
        exposure = rust.Exposure(
            salt_shift=iron.salt_shift, spent=spent, bare_for=np.maximum(begin - done, 0.0), tightening=iron.tightening
        )
        until = np.array(
            [
                rust.coat_before(
                    self.run(there), np.broadcast_to(metal, (len(begin), len(metal))), exposure, begin[:, None]
                ).finish_by[:, 0]
                for metal in self.metal(there, iron)
            ]
        ).min(axis=0)
        lost = (spent >= 1) | sweats[index] | ~np.isfinite(arrived)
        return np.asarray(np.where(lost, done, until))

    def _spent(self, place: Any, iron: Iron, done: Floats, until: Floats, wet: bool) -> Floats:
        """Share of the budget gone between two positions, at the worst body; all of it once it got wet."""
        exposure = rust.Exposure(salt_shift=iron.salt_shift, wet_work=wet, tightening=iron.tightening)
        window = rust.coat_before(self.run(place), self.metal(place, iron), exposure, done)
        gone = np.array([_grown(spend[:-1], done, until) for spend in np.atleast_2d(window.spend)]).max(axis=0)
        start = rust.WET_WORK.value if wet else 0.0
        return np.where(until >= window.coat_before.min(axis=0), 1.0, np.minimum(start + gone, 1.0))

    # -- carrying

    @property
    def moving_h(self) -> float:
        return self.grid.work(self.terms.workshop.moving_minutes) * self.grid.minutes / 60

    def carried(self, origin: Any, to: Any, iron: Iron) -> tuple[Floats, Flags, Floats]:
        """By hour of the run in which the heaviest body arrives: hours to settle, whether it sweats, budget spent."""
        length, material = iron.heaviest
        key = origin.pk, to.pk, length, material.name, iron.salt_shift
        if key not in self._moved:
            leaving = self.metal(origin, Iron((iron.heaviest,), iron.salt_shift, iron.tightening))[0]
            there, span = self.run(to), slice(self.first, self.first + self.known)
            cut = there.between(there.times[self.first], there.times[0] + np.timedelta64(self.first + self.known, "h"))
            found = moving.moves(
                leaving[span], cut, length, to.shelter, material=material, salt_shift=iron.salt_shift, sky=True
            )
            settles, sweats, spent = np.full(len(there), np.inf), np.ones(len(there), bool), np.ones(len(there))
            settles[span], sweats[span], spent[span] = found.settles, found.sweats, found.rust_spent
            self._moved[key] = settles, sweats, spent
        return self._moved[key]

    def move(self, origin: Any, to: Any, irons: list[Iron], bare: list[Iron], people: int) -> Move:
        """Carrying as the rack takes it that settles last; where bare iron would sweat nothing is carried.

        Moves are alike for all racks, so a shower of sweat on one keeps the others waiting as well.
        """
        settles = np.max([self.carried(origin, to, iron)[0] for iron in _heaviest(irons)], axis=0)
        for iron in _heaviest(bare):
            settles = np.where(self.carried(origin, to, iron)[1], np.inf, settles)
        positions = np.arange(len(settles)) + settles
        at = np.clip(np.ceil(self.at).astype(int), 0, len(settles) - 1)  # by the hour that follows
        slots = self.grid.not_before(positions[at] - self.first) - np.arange(self.grid.count)
        work = self.grid.work(self.terms.workshop.moving_minutes)
        return Move(origin.name, to.name, work, people, np.clip(slots, 0, NEVER))


def _heaviest(irons: list[Iron]) -> list[Iron]:
    """Of each material the one that lags behind longest."""
    found: dict[str, Iron] = {}
    for iron in sorted(irons, key=lambda iron: iron.heaviest[0]):
        found[iron.heaviest[1].name] = iron
    return list(found.values())


def _grown(by_hour: Floats, begin: Floats, until: Floats) -> Floats:
    """What a rate constant in each hour adds up to between two positions."""
    sums, edges = np.append(0.0, np.cumsum(by_hour)), np.arange(len(by_hour) + 1)
    return np.interp(until, edges, sums) - np.interp(begin, edges, sums)


def day_ends(workshop: Any, day: Any) -> datetime:
    """The end of work on a day, on the workshop's clock."""
    return datetime.combine(day, workshop.work_until, tzinfo=workshop.zone).astimezone(UTC)
