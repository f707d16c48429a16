"""Where pieces stood and what air met them there: each piece's own hours and its own temperature through them."""

from collections import defaultdict
from dataclasses import dataclass, replace
from functools import cached_property
from uuid import UUID

import numpy as np

from finishing.air.domain.outside_air import WorkshopAir
from finishing.science.air import margin, sweats
from finishing.science.hours import Flags, Floats, Hours
from finishing.science.metal import Material, metal_temperature
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


@dataclass(eq=False)
class StoodTogether:
    """Pieces of one material that stood at the same places through the run.

    pins: for each stay the surfaces that were measured in it, {position in the run: °C of each piece, NaN where it was
    not measured}.
    """

    pieces: list[Piece]
    trail: tuple[Stay, ...]
    material: Material
    pins: "list[Pins]"

    @property
    def lengths(self) -> Floats:
        return np.array([piece.part.body.length_m for piece in self.pieces])


Pins = dict[float, Floats]


def paths(pieces: list[Piece], air: WorkshopAir, pinned: bool = True) -> dict[UUID, Path]:
    """The path of each piece by its id; pieces that stood at the same place are reckoned together.

    Measured surfaces take the estimate along. Where it shall be compared with them (pinned=False) they do not, and
    the hot side is left out.
    """
    together = defaultdict(list)
    for piece in pieces:
        together[(tuple(stays(piece, air.outdoor)), piece.part.body.material.name)].append(piece)
    racks = [
        StoodTogether(
            rack, trail, rack[0].part.body.material, [_measured(rack, stay, air) if pinned else {} for stay in trail]
        )
        for (trail, _), rack in together.items()
    ]
    metal = metal_along(racks, air)
    in_doubt = {stay.place.pk: _in_doubt(stay.place, air) for rack in racks for stay in rack.trail} if pinned else {}
    doubted = [
        rack
        for rack in racks
        if pinned and any(in_doubt[stay.place.pk][stay.first : stay.last + 1].any() for stay in rack.trail)
    ]
    hottest = metal | metal_along(doubted, air, warmest=True)
    found: dict[UUID, Path] = {}
    for rack in racks:
        hours = hours_along(rack.trail, air)
        for i, piece in enumerate(rack.pieces):
            taken = ((at, float(values[i])) for pins in rack.pins for at, values in pins.items())
            measured = tuple(sorted(reading for reading in taken if not np.isnan(reading[1])))
            found[piece.id] = Path(hours, metal[rack][i], hottest[rack][i], rack.trail, measured)
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


def metal_along(racks: list[StoodTogether], air: WorkshopAir, warmest: bool = False) -> dict[StoodTogether, Floats]:
    """Temperature of the pieces of each rack (p, n): carried on from place to place, held to what was measured.

    No warmer than sun and sky are sure to make it, or with `warmest` as warm as they may. The hour in which a surface
    was measured takes it from its beginning. All that come to a place are followed there in one go.
    """
    warmth = {rack: np.full((len(rack.pieces), len(air.outdoor)), np.nan) for rack in racks}
    for order in range(max((len(rack.trail) for rack in racks), default=0)):
        coming: dict[tuple[UUID, str, int], list[StoodTogether]] = defaultdict(list)
        for rack in (rack for rack in racks if order < len(rack.trail)):
            stay, warm = rack.trail[order], warmth[rack]
            known = _air_at(stay.place, air, warmest).known[stay.first] and not np.isnan(warm[:, stay.first]).any()
            begin = 0 if known else stay.first  # what is not known as it comes is guessed from its own stay alone
            coming[stay.place.pk, rack.material.name, begin].append(rack)
        for (*_, begin), those in coming.items():
            _follow(those, order, begin, air, warmest, warmth)
    return warmth


def _follow(
    racks: list[StoodTogether],
    order: int,
    begin: int,
    air: WorkshopAir,
    warmest: bool,
    warmth: dict[StoodTogether, Floats],
) -> None:
    """Write into `warmth` how racks of one material fare at one place, each during its own stay there.

    They are followed from the hour `begin` on; each comes with the temperature that it had where it stood before.
    """
    place, ends = racks[0].trail[order].place, np.cumsum([len(rack.pieces) for rack in racks])
    rows = {rack: slice(end - len(rack.pieces), end) for rack, end in zip(racks, ends, strict=True)}
    pins: Pins = {}
    for rack, own in rows.items():
        first = rack.trail[order].first
        came = [(float(first), warmth[rack][:, first])] if first else []
        for at, values in [*came, *rack.pins[order].items()]:
            pin = pins.setdefault(at - begin, np.full(ends[-1], np.nan))
            pin[own] = np.where(np.isnan(values), pin[own], values)
    there = _air_at(place, air, warmest)
    metal = metal_temperature(
        there.between(*_instants(there, begin, len(there))) if begin else there,
        np.concatenate([rack.lengths for rack in racks]),
        shelter=place.shelter,
        material=racks[0].material,
        sky=True,
        pinned=pins,
    )
    for rack, own in rows.items():
        stay = rack.trail[order]
        warmth[rack][:, stay.first : stay.last + 1] = metal[own, stay.first - begin : stay.last + 1 - begin]
        for at, values in rack.pins[order].items():
            warmth[rack][:, int(at)] = np.where(np.isnan(values), warmth[rack][:, int(at)], values)


def _in_doubt(place: Place, air: WorkshopAir) -> Flags:
    """In which hours of known air sun and sky may warm what stands there more than they are sure to."""
    sure, most = (_air_at(place, air, warmest) for warmest in (False, True))
    more = (sure.sun < most.sun) | (np.isnan(most.cloud) & ~np.isnan(sure.cloud))
    return more & sure.known & most.under_sky


def _air_at(place: Place, air: WorkshopAir, warmest: bool) -> Hours:
    return air.in_full_sun(place) if warmest else air.of(place)


def _air_during(stay: Stay, air: WorkshopAir) -> Hours:
    there = air.of(stay.place)
    return there.between(*_instants(there, stay.first, stay.last + 1))


def _instants(run: Hours, first: int, last: int) -> tuple[np.datetime64, np.datetime64]:
    return run.times[0] + np.timedelta64(first, "h"), run.times[0] + np.timedelta64(last, "h")


def _measured(rack: list[Piece], stay: Stay, air: WorkshopAir) -> Pins:
    """Surfaces measured during a stay: {position in the run: °C of each piece, NaN where it was not measured}.

    What was measured on a piece itself stands before what was measured on something beside it.
    """
    pins: Pins = {}
    for i, piece in enumerate(rack):
        for when, surface in [*air.surfaces(stay.place), *piece.state.measured]:
            at = float(air.outdoor.position(when))
            if stay.first <= at <= stay.last:
                pins.setdefault(at, np.full(len(rack), np.nan))[i] = surface
    return pins
