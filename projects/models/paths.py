"""Where pieces stood and what air met them there: each piece's own hours and its own temperature through them."""

from collections import defaultdict
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from finishing.models.outside_air import WorkshopAir
from finishing.science.hours import Floats, Hours
from finishing.science.metal import metal_temperature

from .pieces import Piece


@dataclass(frozen=True)
class Stay:
    """A stretch of hours at one place, from instant to instant of the run."""

    place: Any
    first: int
    last: int


@dataclass(frozen=True, eq=False)
class Path:
    """A piece's hours, moved from place to place, and its metal's temperature at each instant, °C."""

    hours: Hours
    metal: Floats
    place: Any  # where it stands now


def paths(pieces: list[Piece], air: WorkshopAir) -> dict[Any, Path]:
    """The path of each piece by its id; pieces that stood together are reckoned together."""
    together = defaultdict(list)
    for piece in pieces:
        together[(tuple(stays(piece, air.outdoor)), piece.part.body.material.name)].append(piece)
    found = {}
    for (trail, _), rack in together.items():
        hours = hours_along(trail, air)
        warmth = metal_along(trail, rack, air)
        found |= {piece.id: Path(hours, warmth[i], trail[-1].place) for i, piece in enumerate(rack)}
    return found


def stays(piece: Piece, run: Hours) -> list[Stay]:
    """The places of a piece through the run; a move counts from the full hour before it on."""
    trail = [Stay(piece.place, 0, len(run) - 1)]
    for when, place in piece.state.moves:
        hour = int(np.clip(np.floor(run.position(when)), 0, len(run) - 1))
        trail[-1] = replace(trail[-1], last=hour)
        trail = [stay for stay in trail if stay.last > stay.first]
        trail.append(Stay(place, hour, len(run) - 1))
    return trail


def hours_along(trail: tuple[Stay, ...], air: WorkshopAir) -> Hours:
    """The hours of a trail as one run."""
    joined = None
    for stay in trail:
        there = air.of(stay.place)
        part = there.between(*_instants(there, stay.first, stay.last + 1))
        joined = part if joined is None else _joined(joined, part)
    return joined or air.outdoor


def _joined(before: Hours, after: Hours) -> Hours:
    """`before` up to the hour in which `after` begins. What lies behind keeps its own rain and shelter."""
    kept = before.between(before.start, after.start)
    return replace(kept, under_sky=after.under_sky).then(after)


def metal_along(trail: tuple[Stay, ...], rack: list[Piece], air: WorkshopAir) -> Floats:
    """Temperature of each piece of a rack (p, n): carried on from place to place, held to what was measured."""
    lengths = np.array([piece.part.body.length_m for piece in rack])
    warmth = np.full((len(rack), len(air.outdoor)), np.nan)
    for stay in trail:
        there = air.of(stay.place)
        begin = warmth[:, stay.first] if stay.first else None
        warmth[:, stay.first : stay.last + 1] = metal_temperature(
            there.between(*_instants(there, stay.first, stay.last + 1)),
            lengths,
            begin,
            shelter(stay.place),
            material=rack[0].part.body.material,
            sky=True,
            pinned=_measured(rack, stay, air.outdoor),
        )
    return warmth


def _instants(run: Hours, first: int, last: int) -> tuple[np.datetime64, np.datetime64]:
    return run.times[0] + np.timedelta64(first, "h"), run.times[0] + np.timedelta64(last, "h")


def shelter(place: Any) -> str:
    """How a place couples metal to its air, by the names of science.metal.SHELTERS."""
    if place.outdoors:
        return "outdoor"
    return "indoor fan" if place.stirred else "still indoor"


def _measured(rack: list[Piece], stay: Stay, run: Hours) -> dict[float, Floats]:
    """Surfaces measured during a stay: {hours since it began: °C of each piece, NaN where it was not measured}."""
    pins: dict[float, Floats] = {}
    for i, piece in enumerate(rack):
        for when, surface in piece.state.measured:
            at = float(run.position(when))
            if stay.first <= at <= stay.last:
                pins.setdefault(at - stay.first, np.full(len(rack), np.nan))[i] = surface
    return pins
