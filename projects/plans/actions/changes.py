"""Where no plan is possible: which rules forbid it, and the smallest changes that would allow one, each tried."""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import zip_longest
from typing import Any

from finishing.science.scheduling import relaxations
from finishing.science.scheduling.problem import Problem
from finishing.science.scheduling.schedule import Schedule
from finishing.workshops.models import Place
from projects.plans.domain.holding import holding_primers
from projects.plans.domain.problem import Layout, lay_out_rows

HELD = 15.0  # °C at which most paints dry   [common practice]
DRIED = 60.0  # % at which a dehumidifier is set   [common practice]
LONGER = 2.0  # hours added to a day
DAYS_TRIED = 7  # before and after, to which a visit is moved
PRIMERS = 2  # holding primers tried
TRYING = 12.0  # seconds for all changes that are tried
ENOUGH = 4  # changes that are told

NO_HOURS = "no hours are found for it within the forecast"
NO_TIME = "which rule forbids it was not found out in the time there was"

Search = Callable[[Problem], Schedule | None]
Over = Callable[[], bool]
Told = list[dict[str, Any]]

RULES: dict[str, relaxations.Relaxation] = {
    "bare iron would wait longer for its first coat than its rust budget allows": relaxations.without_end("rust"),
    "a coat would come after the recoat window of the one below has closed, or in its closed zone": (
        relaxations.without_end("recoat")
    ),
    "nobody is at work when the work could be done": relaxations.with_long_days,
    "no visit comes when the blasting could be done": relaxations.without_visits,
    "there are too few hands": relaxations.with_more_hands,
    "there is not room enough for what lies wet": relaxations.with_wet_room,
    "dust of the blasting would fall on what lies wet": relaxations.without_dust,
    "iron carried from place to place does not settle in time": relaxations.without_settling,
    "paint does not dry in time": relaxations.without_drying,
    "it comes too late": relaxations.without_receipts,
    "air and metal do not allow it": relaxations.without_weather,
}


class Reasons:
    """Which rules forbid a plan; what forbade one rack is tried first for the next."""

    def __init__(self, over: Over) -> None:
        self.over = over
        self._found: list[list[str]] = []

    def of(self, problem: Problem, search: Search) -> str:
        """The rule without which there is a plan, or the smallest set of them that was found."""
        for names in [*self._found, list(RULES)]:
            some = {name: RULES[name] for name in names}
            found = relaxations.irreducible_set(problem, some, lambda tried: search(tried) is not None, self.over)
            if found:
                self._found.append(found)
                return found[0] if len(found) == 1 else "; and ".join(found)
        return NO_TIME if self.over() else NO_HOURS


@dataclass(frozen=True)
class Change:
    """Something else allowed, in a person's words; settings as plan_terms has them."""

    words: str
    settings: dict[str, Any]

    @property
    def kind(self) -> str:
        return next(iter(self.settings))


def changes(layout: Layout) -> Iterator[Change]:
    """What might be changed, what costs least trouble first: one of each kind, then the second of each, and so on."""
    kinds = (_held(layout), _dried(layout), _visits(layout), _holding(layout), _hours_and_racks(layout))
    for round_of in zip_longest(*kinds):
        yield from (change for change in round_of if change is not None)


def _hours_and_racks(layout: Layout) -> Iterator[Change]:
    asked = layout.scope.terms.settings
    if not asked.get("overtime"):
        yield Change(f"Work {LONGER:g} hours longer", {"overtime": LONGER})
    if not asked.get("split"):
        yield Change("Blast the racks in halves", {"split": True})
    if not asked.get("sunday"):
        yield Change("Work on days that are usually free as well", {"sunday": True})


def _shops(layout: Layout) -> list[Place]:
    return [place for place in layout.scope.terms.places() if place.kind == Place.Kind.SHOP]


def _held(layout: Layout) -> Iterator[Change]:
    asked = layout.scope.terms.settings.get("hold") or {}
    for place in _shops(layout):
        if place.held_at is None or place.held_at.magnitude < HELD:
            yield Change(f"Hold {place} at {HELD:g} °C", {"hold": {**asked, str(place.pk): HELD}})


def _dried(layout: Layout) -> Iterator[Change]:
    asked = layout.scope.terms.settings.get("dry") or {}
    for place in _shops(layout):
        if place.humidity_ceiling is None or place.humidity_ceiling.magnitude > DRIED:
            words = f"Let a dehumidifier keep {place} at {DRIED:g} %"
            yield Change(words, {"dry": {**asked, str(place.pk): DRIED}})


def _visits(layout: Layout) -> Iterator[Change]:
    """A visit on another day: each that is worked of the week before and after, and still to come."""
    terms, today = layout.scope.terms, layout.scope.now.astimezone(layout.scope.workshop.zone).date()
    shifted, visits = terms.settings.get("shifted") or {}, terms.visits()
    taken = {(visit.contractor, visit.date) for visit in visits}
    for visit in visits:
        for day in _days_near(visit.date):
            works = terms.workshop.work_days[day.weekday()] == "1"
            if works and day > today and (visit.contractor, day) not in taken:
                words = f"Ask {visit.contractor} for {day:%A} {day.day} {day:%B}"
                yield Change(words, {"shifted": {**shifted, str(visit.pk): day.isoformat()}})


def _days_near(day: date) -> list[date]:
    """The days around it, the nearest first."""
    number, last = day.toordinal(), date.max.toordinal()
    near = range(max(1, number - DAYS_TRIED), min(last, number + DAYS_TRIED) + 1)
    days = [date.fromordinal(n) for n in near if n != number]
    return sorted(days, key=lambda other: (abs(other - day), other))


def _holding(layout: Layout) -> Iterator[Change]:
    if layout.scope.terms.settings.get("holding"):
        return
    pieces = [outlook.piece for outlook in layout.scope.outlooks]
    systems = {piece.part.system_id: piece.part.system for piece in pieces}
    for coating in holding_primers(layout.scope.workshop, systems.values())[:PRIMERS]:
        yield Change(f"Put {coating} on first, as a holding primer", {"holding": str(coating.pk)})


def tried(layout: Layout, search: Search, racks: int, tell: Callable[[Told], None], over: Over) -> Told:
    """The changes that allow a plan of at least so many racks: each was planned, with its finish and cost.

    tell: is given those found so far. At most a few, and as many as can be tried in the time there is; of each kind
    one is enough.
    """
    found: Told = []
    until, kinds = time.monotonic() + TRYING, set()
    for change in changes(layout):
        if len(found) == ENOUGH or over() or time.monotonic() > until:
            break
        if change.kind in kinds and change.kind in ("shifted", "holding"):
            continue
        other = _laid_out(layout, change)
        plan = search(other.problem) if other.problem and len(other.problem.chains) >= racks else None
        if plan is not None:
            kinds.add(change.kind)
            found = sorted([*found, _told(change, other, plan)], key=_best_first)
            tell(found)
    return found


def _laid_out(layout: Layout, change: Change) -> Layout:
    scope, held = layout.scope, {"hold", "dry"} & set(change.settings)
    terms = scope.terms.asks(**change.settings)
    return lay_out_rows(terms, scope.projects, scope.now, beside=None if held else layout.ground)


def _best_first(told: dict[str, Any]) -> Any:
    """What lets most racks in, then what is cheapest, then what is done first."""
    return -told["racks"] / told["of"], told["cost"], told["finish"]


def _told(change: Change, layout: Layout, plan: Schedule) -> dict[str, Any]:
    finish = layout.ground.moment(plan.finish).isoformat()
    racks = {"racks": len(plan.problem.chains), "of": len(layout.problem.chains)}
    return {"words": change.words, "settings": change.settings, "finish": finish, "cost": plan.cost / 100, **racks}
