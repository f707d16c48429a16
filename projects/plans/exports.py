"""A kept plan as iCalendar (RFC 5545): an event for each step, and one with an alarm for what is about to spoil."""

import uuid
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime, timedelta, tzinfo

from icalendar import Alarm, Calendar, Event, vDuration

from finishing.site.templatetags.quantities import told_volume
from finishing.workshops.models import Workshop
from projects.record.domain.latest_ends import LatestEnd, latest_ends, same_step
from projects.record.models import Plan, Slot
from projects.work.domain.bare_marks import BareMark
from projects.work.domain.paint_sessions import PaintMix

MADE_BY = "-//Fettlebook//plan//EN"
ASK_AGAIN = timedelta(hours=1)  # how often a calendar may ask for news
# How long before it is too late an alarm rings: bare iron's last hours, and a day for a recoat window.  [our judgement]
WARNED = {"rust": timedelta(hours=2), "recoat": timedelta(hours=24)}


def plan_ics(
    workshop: Workshop,
    plans: Iterable[Plan],
    address_of: Callable[[Slot], str],
    now: datetime,
    finish_by: Mapping[uuid.UUID, datetime] | None = None,
    bare: Iterable[tuple[BareMark, str]] = (),
    mixes: Iterable[PaintMix] = (),
) -> bytes:
    """The plans read in_full(); without one the calendar is empty, which a subscriber understands.

    finish_by: as `latest_ends` takes it. bare: iron that is bare now, planned or not, with the address of its page.
    mixes: their paint sessions, each told with the step that it begins with
    """
    mixed = {mix.slots[0].pk: _mix(mix, workshop.units) for mix in mixes}
    calendar = Calendar()
    calendar.add("prodid", MADE_BY)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("name", f"Plan of {workshop}")
    calendar.add("x-wr-calname", f"Plan of {workshop}")
    calendar.add("refresh-interval", vDuration(ASK_AGAIN), parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(ASK_AGAIN))
    planned: set[uuid.UUID] = set()
    for plan in plans:
        stamp = plan.decided_at or plan.made_at
        slots = list(plan.slots.all())
        for slot in slots:
            calendar.add_component(_step(slot, workshop.zone, stamp, address_of(slot), mixed.get(slot.pk, "")))
        for latest in latest_ends(slots, finish_by):
            if latest.at > now:
                planned |= set(latest.slot.piece_ids) if latest.what == "rust" else set()
                calendar.add_component(_latest_end(latest, stamp, address_of(latest.slot)))
    for mark, address in bare:
        names = mark.outlook.names
        if mark.half_way > now:
            half = f"{names}: half its time bare is gone"
            calendar.add_component(_moment(mark, "half", mark.half_way, half, address))
        if not {piece.pk for piece in mark.outlook.pieces} <= planned:
            end = _moment(mark, "end", mark.finish_by, f"{names} is bare: coat before now", address)
            end.add_component(_alarm(str(end["summary"]), WARNED["rust"]))
            calendar.add_component(end)
    return bytes(calendar.to_ical())


def _moment(mark: BareMark, part: str, at: datetime, summary: str, address: str) -> Event:
    """It takes nobody's time."""
    event = Event()
    event.add("uid", f"{uuid.uuid5(mark.outlook.piece.workshop_id, f'bare {part} {mark.key}')}@fettlebook")
    event.add("dtstamp", mark.outlook.now.astimezone(UTC))
    event.add("dtstart", at.astimezone(UTC))
    event.add("summary", summary)
    event.add("url", address)
    event.add("transp", "TRANSPARENT")
    return event


def _step(slot: Slot, zone: tzinfo, stamp: datetime, address: str, mix: str) -> Event:
    event = _event(slot, "step", stamp, f"{slot.rack}: {slot.label}", _description(slot, zone, mix), address)
    event.add("dtstart", slot.begin.astimezone(UTC))
    event.add("dtend", slot.end.astimezone(UTC))
    event.add("location", str(slot.place))
    event.add("status", "TENTATIVE" if slot.broken else "CONFIRMED")
    return event


def _mix(mix: PaintMix, measures: str) -> str:
    pots = len(mix.mixed.mixes)
    litres = f"{told_volume(mix.litres, measures)} of {mix.coating}" + (f" in {pots} pots" if pots > 1 else "")
    return f"{'Mix' if mix.recipe.parts else 'Decant'} {litres}, for {', '.join(mix.racks)}."


def _description(slot: Slot, zone: tzinfo, mix: str) -> str:
    dry = f"Dry by {slot.dry_at.astimezone(zone):%a %d %b %H:%M}." if slot.dry_at else ""
    people = ", ".join(map(str, slot.people.all()))
    pieces = ", ".join(piece.mark for piece in slot.pieces.all())
    broken = f"No longer holds: {slot.broken}." if slot.broken else ""
    return "\n".join(filter(None, (broken, mix, f"Pieces: {pieces}", people and f"Who: {people}", dry)))


def _latest_end(latest: LatestEnd, stamp: datetime, address: str) -> Event:
    """A moment, which takes nobody's time; a calendar that was closed rings late rather than never."""
    event = _event(latest.slot, latest.what, stamp, latest.words, latest.reason, address)
    event.add("dtstart", latest.at.astimezone(UTC))
    event.add("transp", "TRANSPARENT")
    event.add_component(_alarm(latest.words, WARNED[latest.what]))
    return event


def _alarm(words: str, before: timedelta) -> Alarm:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", words)
    alarm.add("trigger", -before)
    return alarm


def _event(slot: Slot, part: str, stamp: datetime, summary: str, description: str, address: str) -> Event:
    """The same step keeps its UID from plan to plan, so that a calendar moves it and does not double it."""
    event = Event()
    event.add("uid", f"{uuid.uuid5(slot.workshop_id, f'{part} {same_step(slot)}')}@fettlebook")
    event.add("dtstamp", stamp.astimezone(UTC))
    event.add("last-modified", stamp.astimezone(UTC))
    event.add("summary", summary)
    if description:
        event.add("description", description)
    event.add("url", address)
    return event
