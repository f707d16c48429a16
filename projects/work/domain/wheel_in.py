"""Pieces outdoors that dew or rain will reach too soon, and by when they are better wheeled in."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

import numpy as np

from finishing.workshops.models import Place

from .moves import AHEAD, DryEnd, Move, move, standing
from .outlook import Outlook, asked_once


@dataclass(frozen=True)
class WheelIn:
    """Pieces at one place that will get wet before their paint can bear it, and where they would keep dry."""

    outlooks: tuple[Outlook, ...]
    wet_at: datetime
    because: DryEnd
    place: Place | None = None  # None: nowhere
    begin: datetime | None = None  # None: at once
    by: datetime | None = None


def wheel_in(outlooks: list[Outlook], places: Iterable[Place]) -> list[WheelIn]:
    """One for each place outdoors where pieces are in danger."""
    groups: dict[UUID, list[tuple[datetime, DryEnd, Outlook]]] = defaultdict(list)
    outdoors = (outlook for outlook in outlooks if outlook.path.place.outdoors)
    for outlook, danger in asked_once(outdoors, _danger):
        if danger:
            groups[outlook.path.place.pk].append((*danger, outlook))
    return [_advice(sorted(group, key=lambda found: found[0]), list(places)) for group in groups.values()]


def _danger(outlook: Outlook) -> tuple[datetime, DryEnd] | None:
    """When it gets wet, where that comes before its first coat is due or its last one bears it."""
    due = outlook.coat_before_at if outlook.state.is_bare else outlook.moment(outlook.dew_safe)
    known = not (outlook.overdue or outlook.in_doubt or outlook.state.wet_until_dry)
    if not known or (not outlook.state.is_bare and outlook.bears_dew):
        return None
    dry = standing(outlook).dry
    if dry.until is None or dry.because in (None, DryEnd.NOT_KNOWN) or (due is not None and due < dry.until):
        return None
    return dry.until, dry.because


def _advice(group: list[tuple[datetime, DryEnd, Outlook]], places: list[Place]) -> WheelIn:
    """The heaviest piece, which sweats longest, stands for the others."""
    wet_at, because, _ = group[0]
    pieces = tuple(outlook for *_, outlook in group)
    heaviest = max(pieces, key=lambda outlook: outlook.piece.part.body.length_m)
    roofed = [place for place in places if place.kind != place.Kind.YARD and place != heaviest.path.place]
    refuges = [found for place in roofed if (found := _refuge(move(heaviest, place), wet_at))]
    if not refuges:
        return WheelIn(pieces, wet_at, because)
    _, _, by, begin, place = max(refuges, key=lambda found: found[:3])
    now = heaviest.now
    return WheelIn(pieces, wet_at, because, place, begin if begin > now else None, by)


def _refuge(tried: Move, wet_at: datetime) -> tuple[float, bool, datetime, datetime, Place] | None:
    """Until when it would keep dry there (a shop before a roof), by when it must be there and from when it may.

    None where it is no help.
    """
    outlook, spans = tried.outlook, tried.spans(0.0)
    wet = float(outlook.path.hours.position(wet_at)) - outlook.hour
    if not spans or spans[0][0] >= wet:
        return None
    begin, end = spans[0]
    hour = int(np.ceil(begin))
    keeps = [until for since, until in tried.moved_in(hour).spans(0.0) if since == hour]
    if not keeps or keeps[0] < min(wet + 1, AHEAD):
        return None
    by, since = outlook.instant(outlook.hour + min(end, wet)), outlook.instant(outlook.hour + begin)
    return keeps[0], not tried.place.outdoors, by, since, tried.place
