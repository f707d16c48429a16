"""Where pieces stood and what air met them there: each piece's own hours and its own temperature through them."""

from collections import defaultdict
from dataclasses import dataclass, replace
from functools import cached_property
from uuid import UUID

import numpy as np

from finishing.air.domain.outside_air import WorkshopAir
from finishing.science.air import margin, sweats
from finishing.science.hours import Flags, Floats, Hours
from finishing.science.metal import metal_temperature
from finishing.workshops.models import Place
from projects.record.models.pieces import Piece


@dataclass(frozen=True)
class Stay:
    """A stretch of hours at one place, from instant to instant of the run."""

    place: Place
    first: int
    last: int


@dataclass(frozen=True, eq=False)
class Path:
    """A piece's hours, moved from place to place, and its metal's temperature at each instant, °C.

    `metal` is as cold as it may be, `hottest` as warm as it may be, by what is not known of sun and sky.
    measured: positions in the run at which its surface was measured, or one beside it, and °C; in order.
    """

    hours: Hours
    metal: Floats
    hottest: Floats
    trail: tuple[Stay, ...]
    measured: tuple[tuple[float, float], ...] = ()

    @property
    def place(self) -> Place:
        """Where it stands at the end of the run."""
        return self.trail[-1].place

    @cached_property
    def margin(self) -> Floats:
        """Metal above the dew point, °C by hour."""
        return np.asarray(margin.__wrapped__(self.metal, self.hours.dew_point))

    @cached_property
    def margin_at_most(self) -> Floats:
        """The same, were it as warm as it may be."""
        return np.asarray(margin.__wrapped__(self.hottest, self.hours.dew_point))

    @cached_property
    def sweats(self) -> Flags:
        """The metal is at its dew point, however warm it may be: no assumption is told as wet."""
        return sweats(self.margin_at_most)

    @cached_property
    def rained_on(self) -> Flags:
        return np.asarray(self.hours.rain > 0)

    @property
    def wet(self) -> Flags:
        return self.sweats | self.rained_on

    def stay_at(self, hour: int) -> Stay:
        """Where it stands in an hour of the run."""
        return next(stay for stay in reversed(self.trail) if stay.first <= max(hour, 0))


def paths(pieces: list[Piece], air: WorkshopAir, pinned: bool = True) -> dict[UUID, Path]:
    """The path of each piece by its id; pieces that stood together are reckoned together.

    Measured surfaces take the estimate along. Where it shall be compared with them (pinned=False) they do not, and
    the hot side is left out.
    """
    together = defaultdict(list)
    for piece in pieces:
        together[(tuple(stays(piece, air.outdoor)), piece.part.body.material.name)].append(piece)
    found: dict[UUID, Path] = {}
    for (trail, _), rack in together.items():
        hours, pins = hours_along(trail, air), [_measured(rack, stay, air) if pinned else {} for stay in trail]
        metal = metal_along(trail, rack, air, pins)
        hottest = metal_along(trail, rack, air, pins, warmest=True) if pinned and _in_doubt(trail, air) else metal
        for i, piece in enumerate(rack):
            measured = sorted(
                (stay.first + at, float(values[i]))
                for stay, taken in zip(trail, pins, strict=True)
                for at, values in taken.items()
                if not np.isnan(values[i])
            )
            found[piece.id] = Path(hours, metal[i], hottest[i], trail, tuple(measured))
    return found


def stays(piece: Piece, run: Hours) -> list[Stay]:
    """The places of a piece through the run; a move counts from the full hour before it on."""
    trail = [Stay(piece.place, 0, len(run) - 1)]
    for when, place in piece.state.moves:
        if place == trail[-1].place:
            continue
        hour = int(np.clip(np.floor(run.position(when)), 0, len(run) - 1))
        trail[-1] = replace(trail[-1], last=hour)
        trail = [stay for stay in trail if stay.last > stay.first]
        trail.append(Stay(place, hour, len(run) - 1))
    return trail


def hours_along(trail: tuple[Stay, ...], air: WorkshopAir) -> Hours:
    """The hours of a trail as one run."""
    joined = None
    for stay in trail:
        part = _air_during(stay, air)
        joined = part if joined is None else _joined(joined, part)
    return joined or air.outdoor


def _joined(before: Hours, after: Hours) -> Hours:
    """`before` up to the hour in which `after` begins. What lies behind keeps its own rain and shelter."""
    kept = before.between(before.start, after.start)
    breaks = np.append(kept.breaks[:-1], True)
    return replace(kept, under_sky=after.under_sky, breaks=breaks).then(after)


Pins = dict[float, Floats]


def metal_along(
    trail: tuple[Stay, ...], rack: list[Piece], air: WorkshopAir, pins: list[Pins], warmest: bool = False
) -> Floats:
    """Temperature of each piece of a rack (p, n): carried on from place to place, held to what was measured.

    No warmer than sun and sky are sure to make it, or with `warmest` as warm as they may. The hour in which a surface
    was measured takes it from its beginning.
    """
    lengths = np.array([piece.part.body.length_m for piece in rack])
    warmth = np.full((len(rack), len(air.outdoor)), np.nan)
    for stay, measured in zip(trail, pins, strict=True):
        warmth[:, stay.first : stay.last + 1] = metal_temperature(
            _air_during(stay, air, warmest),
            lengths,
            warmth[:, stay.first] if stay.first else None,
            stay.place.shelter,
            material=rack[0].part.body.material,
            sky=True,
            pinned=measured,
        )
        for at, values in measured.items():
            began = stay.first + int(at)
            warmth[:, began] = np.where(np.isnan(values), warmth[:, began], values)
    return warmth


def _in_doubt(trail: tuple[Stay, ...], air: WorkshopAir) -> bool:
    """In some hour of known air sun and sky may warm it more than they are sure to."""
    for stay in trail:
        sure, most = (_air_during(stay, air, warmest) for warmest in (False, True))
        if (
            most.under_sky
            and ((sure.sun < most.sun) | (np.isnan(most.cloud) & ~np.isnan(sure.cloud)))[sure.known].any()
        ):
            return True
    return False


def _air_during(stay: Stay, air: WorkshopAir, warmest: bool = False) -> Hours:
    there = air.in_full_sun(stay.place) if warmest else air.of(stay.place)
    return there.between(*_instants(there, stay.first, stay.last + 1))


def _instants(run: Hours, first: int, last: int) -> tuple[np.datetime64, np.datetime64]:
    return run.times[0] + np.timedelta64(first, "h"), run.times[0] + np.timedelta64(last, "h")


def _measured(rack: list[Piece], stay: Stay, air: WorkshopAir) -> Pins:
    """Surfaces measured during a stay: {hours since it began: °C of each piece, NaN where it was not measured}.

    What was measured on a piece itself stands before what was measured on something beside it.
    """
    pins: Pins = {}
    for i, piece in enumerate(rack):
        for when, surface in [*air.surfaces(stay.place), *piece.state.measured]:
            at = float(air.outdoor.position(when))
            if stay.first <= at <= stay.last:
                pins.setdefault(at - stay.first, np.full(len(rack), np.nan))[i] = surface
    return pins
