"""What a plan counts on that is not so yet, in words, each with the page on which it is made so."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from finishing.site.fields import convert, printed_unit, shown_unit
from finishing.site.templatetags.clock import duration
from finishing.workshops.models import Place
from projects.plans.domain.holding import holding_layer
from projects.plans.domain.terms import Terms
from projects.record.models import Plan, Visit

NEAR = 0.05  # °C or %: the row says the same


@dataclass(frozen=True)
class Need:
    """Something that a plan needs; `action` leads to `address` for those who have the right to it."""

    words: str
    action: str = ""
    address: str = ""
    right: str = "plan"


def counts_on(plan: Plan) -> list[Need]:
    """What was allowed for this plan beyond the workshop as it is; nothing more once the rows agree."""
    terms = Terms(plan.workshop, plan.run.settings)
    return [*_moved_visits(terms), *_held_places(terms), *_holding(plan, terms), *_hours(terms)]


def _moved_visits(terms: Terms) -> Iterator[Need]:
    asked = terms.settings.get("shifted") or {}
    for visit in Visit.objects.of(terms.workshop).filter(pk__in=asked):
        day = date.fromisoformat(asked[str(visit.pk)])
        if visit.date != day:
            told = f"{day:%A} {day.day} {day:%B}"
            address = f"{reverse('visit-edit', args=[visit.pk])}?{urlencode({'date': day.isoformat()})}"
            yield Need(f"{visit.contractor} comes on {told}", "Move the visit to that day", address)


HELD = (("hold", "held_at", "°C", "held at"), ("dry", "humidity_ceiling", "%", "no damper than"))


def _held_places(terms: Terms) -> Iterator[Need]:
    for name, column, unit, words in HELD:
        asked = terms.settings.get(name) or {}
        for place in Place.objects.of(terms.workshop).filter(pk__in=asked):
            number, now = float(asked[str(place.pk)]), getattr(place, column)
            if now is None or abs(now.magnitude - number) > NEAR:
                shown = shown_unit(unit, terms.workshop.us_units)
                told = f"{convert(number, unit, shown):g} {printed_unit(shown)}"
                address = f"{reverse('place-edit', args=[place.pk])}?{urlencode({column: f'{number:g} {unit}'})}"
                yield Need(f"{place} {words} {told}", f"Enter it for {place}", address, "settle")


def _holding(plan: Plan, terms: Terms) -> Iterator[Need]:
    """As long as a system of its pieces does not begin with that paint itself."""
    paint = terms.holding
    pieces = (piece for slot in plan.slots.all() for piece in slot.pieces.all())
    systems: dict[Any, Any] = {piece.part.system_id: piece.part.system for piece in pieces} if paint else {}
    for system in systems.values():
        if system and holding_layer(system, paint):
            address = reverse("system", args=[system.pk])
            yield Need(f"{paint} on first, as a holding primer", f"Make it the first layer of {system}", address)


def _hours(terms: Terms) -> Iterator[Need]:
    if terms.settings.get("overtime"):
        yield Need(f"days up to {duration(float(terms.settings['overtime']))} longer")
    if terms.settings.get("sunday"):
        yield Need("work on days that are usually free")
