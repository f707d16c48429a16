"""A plan's rows over the air of its places → the values of its picture and of its list by day."""

from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from finishing.air.domain.outside_air import WorkshopAir
from finishing.science.metal import metal_temperature
from finishing.science.sky import clear_sky_sun
from finishing.science.windows import Gates, refusals
from finishing.workshops.models import Place
from projects.plans.domain.log import logged
from projects.plans.domain.spoils import same_step, spoils
from projects.record.models import Plan, Slot

from .drawing import Picture, picture
from .values import Deadline, Ground, Task, Visit

USUAL_WALL = 0.005  # m, volume by area of a casting of 10 mm: whose metal a place's hours are judged by
AN_HOUR = 1.0
BEFORE = timedelta(days=2)  # air before the first task, so that metal is in balance when it counts


def drawing(plan: Plan, now: datetime, kept: Plan | None = None, visits: Any = ()) -> Picture:
    """`plan` read in_full(); where it would replace `kept`, the steps that move show where they stood."""
    workshop, slots = plan.workshop, list(plan.slots.all())
    begin = min([slot.begin for slot in slots], default=now)
    air = WorkshopAir(workshop, (min(begin, now) - BEFORE).replace(minute=0, second=0, microsecond=0), now)
    booked = {slot.visit_id for slot in slots}
    return picture(
        air.outdoor,
        clear_sky_sun(air.outdoor, workshop.latitude, workshop.longitude) <= 0,
        tasks(plan, kept),
        zone=workshop.zone,
        now=now,
        grounds=[_ground(place, air) for place in _places(slots)],
        deadlines=_deadlines(slots),
        visits=[Visit(v.pk, v.contractor, v.starts_at, v.ends_at, v.pk in booked) for v in visits],
        us=workshop.us_units,
    )


def tasks(plan: Plan, kept: Plan | None = None) -> list[Task]:
    before = {same_step(slot): (slot.begin, slot.end) for slot in kept.slots.all()} if kept else {}
    done = logged(plan.slots.all())
    return [_task(slot, before.get(same_step(slot)), slot.pk in done) for slot in plan.slots.all()]


def _task(slot: Slot, was: Any, done: bool) -> Task:
    return Task(
        key=slot.pk,
        rack=slot.rack,
        label=slot.label,
        kind=slot.kind,
        place=str(slot.place),
        people=tuple(str(person) for person in slot.people.all()),
        begin=slot.begin,
        end=slot.end,
        dry=slot.dry_at,
        colour=_colour(slot),
        broken=slot.broken,
        was=was if was and was != (slot.begin, slot.end) else None,
        slot=slot,
        log_query="" if done else log_query(slot),
        done=done,
    )


def _colour(slot: Slot) -> str:
    """The paint's own; where nobody told it, that of the parts under their last coat."""
    if slot.kind == Slot.Kind.LETTER:
        return next((p.part.lettering_colour for p in slot.pieces.all() if p.part.lettering_colour), "")
    if slot.kind != Slot.Kind.COAT or not slot.layer or not slot.layer.coating:
        return ""
    own = next((p.part.colour for p in slot.pieces.all() if p.part.colour), "")
    return slot.layer.coating.colour or ("" if slot.layer.coating.is_primer else own)


def _places(slots: list[Slot]) -> list[Place]:
    return sorted({slot.place for slot in slots}, key=lambda place: (not place.outdoors, place.name))


def _ground(place: Place, air: WorkshopAir) -> Ground:
    """An hour's work on a usual casting at the usual gates: a paint's own are told where its step is."""
    there = air.of(place)
    metal = metal_temperature(there, USUAL_WALL, shelter=place.shelter, sky=True)
    working = air.workshop.working_hours(there.times)
    return Ground(str(place), refusals(there, metal, Gates(), working=working, application_h=AN_HOUR))


def _deadlines(slots: list[Slot]) -> list[Deadline]:
    """From the end of a rack's blasting to when its first coat must be on."""
    blasted = {slot.rack: slot.end for slot in slots if slot.kind == Slot.Kind.BLAST}
    found = [spoil for spoil in spoils(slots) if spoil.what == "rust"]
    return [Deadline(s.slot.rack, blasted.get(s.slot.rack, min(s.slot.begin, s.at)), s.at) for s in found]


def log_query(slot: Slot) -> str:
    """What the log form is asked with, for the entry that this step becomes; empty where the log has none."""
    if not slot.logged_as:
        return ""
    pieces = [("piece", str(piece.pk)) for piece in slot.pieces.all()]
    layer = [("layer", str(slot.layer_id))] if slot.layer_id else []
    return urlencode([*pieces, ("kind", slot.logged_as), ("place", str(slot.place_id)), *layer]) if pieces else ""
