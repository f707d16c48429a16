"""How the times of one step of a plan were made: its margin, its drying, the time iron may stay bare, as it begins."""

from datetime import datetime, timedelta
from typing import Any

import numpy as np

from finishing.air.domain.outside_air import WorkshopAir
from finishing.science import rust
from finishing.science.air import margin_working
from finishing.science.drying import Stage, drying_working
from finishing.science.metal import metal_temperature
from finishing.science.units import Quantity
from finishing.science.working import Working
from projects.record.models import Slot

BEFORE = timedelta(days=2)  # air before the step, so that its metal is in balance


def workings(slot: Slot, now: datetime) -> list[Working]:
    """At the heaviest piece, where and when the step begins; none where that hour's air is not known."""
    pieces = list(slot.pieces.all())
    air = WorkshopAir(slot.workshop, (min(slot.begin, now) - BEFORE).replace(minute=0, second=0, microsecond=0), now)
    there = air.of(slot.place)
    hour = int(there.position(slot.begin))
    if not pieces or not 0 <= hour < len(there):
        return []
    body = max((piece.part.body for piece in pieces), key=lambda body: body.length_m)
    run = metal_temperature(there, body.length_m, shelter=slot.place.shelter, material=body.material, sky=True)
    metal, dew, damp = float(run[hour]), float(there.dew_point[hour]), float(there.humidity[hour])
    if np.isnan([metal, dew, damp]).any():
        return []
    return _at(slot, pieces, Quantity(metal, "degC"), Quantity(dew, "degC"), Quantity(damp, "percent"))


def _at(slot: Slot, pieces: list[Any], metal: Any, dew: Any, damp: Any) -> list[Working]:
    found = [margin_working(metal, dew)]
    if slot.kind in (Slot.Kind.BLAST, Slot.Kind.CLEAN):
        salt = max((rust.SALT_LEVELS[p.salt or p.workshop.salt] for p in pieces), key=lambda level: level.shift)
        found.append(rust.hours_allowed_working(metal, dew, salt, slot.workshop.rust_tightening))
    coating = slot.layer.coating if slot.layer else None
    table = coating.drying_table() if coating and slot.kind == Slot.Kind.COAT else None
    if table:
        stages = [stage for stage in (Stage.HANDLE, Stage.RECOAT_FROM) if table.gives(stage)]
        found += [drying_working(table, stage, metal, damp, slot.layer.slower) for stage in stages]
    return found
