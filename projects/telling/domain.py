"""What is worth a mail: each event with a key that stays the same as long as it is the same event."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np
from django.urls import reverse
from django.utils.timezone import localtime

from finishing.air.domain.outside_air import WorkshopAir
from finishing.coatings.models import GenericType
from finishing.science.hours import HOUR
from finishing.site.templatetags.quantities import told_volume
from finishing.workshops.models import Place, Workshop
from projects.record.domain.states import read_states
from projects.record.models import MailReader, OpenedTin, PaintReceipt, Piece, Plan
from projects.work.domain.bare_marks import bare_marks
from projects.work.domain.outlook import Outlook, shared_outlooks

About = MailReader.About
TYPE = GenericType.WATERBORNE_ACRYLIC  # the one that water thins
WINDOW_TOLD = timedelta(hours=24)  # before it closes, as a calendar's alarm
FROST_TOLD = timedelta(hours=36)  # reaches the night after the next evening's tidying up.  [our judgement]
FREEZING = 0.0  # °C; waterborne paint that froze is spoilt.  Common practice, no source

# common practice, no source
LOOK_AT_IT = "Skin, lumps or a smell that is not its own: do not use it. Else strain it and try it on scrap first."


@dataclass(frozen=True)
class Event:
    about: str
    key: str
    words: str
    path: str


def events(workshop: Workshop, now: datetime) -> list[Event]:
    pieces = read_states(Piece.objects.of(workshop).at_work().in_order())
    outlooks = shared_outlooks(workshop, pieces, now)
    of_iron = [*_half_bare(outlooks, now), *_closing(outlooks, now)]
    return [*of_iron, *_broken(workshop), *_frost(workshop, now), *_tins(workshop, workshop.day_of(now))]


def clock(moment: datetime) -> str:
    return f"{localtime(moment):%a %d %b, %H:%M}"


def _half_bare(outlooks: list[Outlook], now: datetime) -> Iterator[Event]:
    for mark in bare_marks(outlooks):
        if mark.half_way <= now:
            words = f"{mark.outlook.names} in {mark.outlook.path.place}: bare, last stroke by {clock(mark.finish_by)}."
            yield Event(About.BARE, f"bare {mark.key}", words, reverse("piece", args=[mark.outlook.piece.pk]))


def _closing(outlooks: list[Outlook], now: datetime) -> Iterator[Event]:
    for outlook in outlooks:
        if outlook.closes and now < outlook.closes <= now + WINDOW_TOLD:
            below = outlook.state.last_coat and outlook.state.last_coat.happened_at
            words = f"{outlook.names}: the recoat window closes {clock(outlook.closes)}; later it is rubbed down first."
            key = f"window {outlook.piece.pk} {below}"
            yield Event(About.WINDOW, key, words, reverse("piece", args=[outlook.piece.pk]))


def _broken(workshop: Workshop) -> Iterator[Event]:
    for plan in Plan.objects.of(workshop).kept().in_full():
        if plan.broken:
            first = plan.broken[0]
            words = f"The kept plan no longer holds: {first.rack}, {first.label}: {first.broken}"
            yield Event(About.PLAN, f"plan {plan.pk}", words, reverse("plan"))


def _frost(workshop: Workshop, now: datetime) -> Iterator[Event]:
    """Where paint stands nobody has said, so each unheated place counts that it may stand in."""
    paint = PaintReceipt.objects.of(workshop).standing().filter(project__closed=False)
    names = sorted(set(paint.filter(coating__generic_type=TYPE).values_list("coating__name", flat=True)))
    if not names:
        return
    air, reach = WorkshopAir(workshop, now, now), int(FROST_TOLD / timedelta(hours=1))
    cold: dict[str, datetime] = {}
    for place in Place.objects.of(workshop).filter(held_at=None):
        hours = air.of(place)
        here = int(hours.position(now))
        frosty = np.flatnonzero(hours.temperature[here : here + reach] < FREEZING)
        if len(frosty):
            first: datetime = (hours.start + (here + int(frosty[0])) * HOUR).astype("datetime64[s]").item()
            cold[place.name] = first.replace(tzinfo=UTC)
    if cold:
        begins = min(cold.values())
        words = f"Frost from {clock(begins)} in {', '.join(cold)}: {', '.join(names)} must not freeze where it is kept."
        yield Event(About.FROST, f"frost {workshop.day_of(begins)}", words, reverse("weather"))


def _tins(workshop: Workshop, today: date) -> Iterator[Event]:
    for tin in OpenedTin.objects.of(workshop).standing().told():
        if tin.over(today):
            about, key = (
                ("its lid was not shut tight", "lid")
                if tin.lid_off
                else (f"its keeping time ended {tin.keeps_until:%a %d %b}", str(tin.keeps_until))
            )
            left = "" if tin.remains is None else f", {told_volume(tin.remains, workshop.units)} left"
            words = f"{tin}{left}: {about}. {LOOK_AT_IT}"
            yield Event(About.TIN, f"tin {tin.pk} {key}", words, reverse("opened-tin", args=[tin.pk]))
