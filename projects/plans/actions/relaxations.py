"""Where no plan is possible: which rules forbid it, and the smallest changes that would allow one, each tried."""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import zip_longest
from typing import Any
from uuid import UUID

from finishing.science.scheduling import relaxations
from finishing.science.scheduling.problem import Problem
from finishing.science.scheduling.relaxations import all_of, without_end, without_reasons, without_wait
from finishing.science.scheduling.schedule import Schedule
from finishing.science.windows import Reason
from finishing.workshops.models import Place
from projects.plans.domain.holding import holding_primers
from projects.plans.domain.problem import LEAST, Layout, lay_out_rows
from projects.plans.domain.scope import system_of

from .under_way import RunUnderWay

HELD = 15.0  # °C at which most paints dry   [common practice]
DRIED = 60.0  # % at which a dehumidifier is set   [common practice]
LONGER = 2.0  # hours added to a day
DAYS_TRIED = 7  # before and after, to which a visit is moved
PRIMERS = 2  # holding primers tried
TRYING = 12.0  # seconds for all changes that are tried
MOST_CHANGES = 4  # that are shown

NO_HOURS = "no hours are found for it within the forecast"
NO_TIME = "which rule forbids it was not found out in the time there was"

Search = Callable[[Problem], Schedule | None]

RULES: dict[str, relaxations.Relaxation] = {
    "bare iron would wait longer for its first coat than its rust budget allows": all_of(
        without_end("rust"), without_reasons(Reason.RUST_BUDGET_SPENT)
    ),
    "a coat would come after the recoat window of the one below has closed, or in its closed zone": all_of(
        without_end("recoat"), without_reasons(Reason.CLOSED_ZONE | Reason.TOO_LATE)
    ),
    "nobody is at work when the work could be done": relaxations.with_long_days,
    "no visit comes when the blasting could be done": relaxations.without_visits,
    "there are too few hands": relaxations.with_more_hands,
    "there is not room enough for what lies wet": relaxations.with_wet_room,
    "dust of the blasting would fall on what lies wet": relaxations.without_dust,
    "iron carried from place to place does not settle in time": relaxations.without_settling,
    "paint does not dry in time": all_of(
        relaxations.without_drying, without_wait("recoat"), without_wait("letters"), without_reasons(Reason.TOO_SOON)
    ),
    "what is wiped or filled does not stand long enough before the next layer": without_wait("wait"),
    "it comes too late": relaxations.without_receipts,
    "air and metal do not allow it": relaxations.without_weather,
}


class ForbiddingRules:
    """Which rules forbid a plan; what forbade one rack is tried first for the next."""

    def __init__(self, seconds: float) -> None:
        self._until = time.monotonic() + seconds
        self._known: list[list[str]] = []

    def of(self, problem: Problem, search: Search) -> str:
        """The rule without which the search finds a plan, or a smallest set of them; NO_TIME when that is over."""
        for names in [*self._known, list(RULES)]:
            some = {name: RULES[name] for name in names}
            rules = relaxations.irreducible_set(problem, some, lambda tried: search(tried) is not None, self.over)
            if rules:
                self._known.append(rules)
                return "; and ".join(rules)
        return NO_TIME if self.over() else NO_HOURS

    def over(self) -> bool:
        return time.monotonic() > self._until


@dataclass(frozen=True)
class Allowance:
    """Something else allowed, in a person's words; settings as Terms has them, the kind of change first."""

    words: str
    settings: dict[str, Any]


def allowances(layout: Layout) -> Iterator[Allowance]:
    """What might be changed, what costs least trouble first: one of each kind, then the second of each, and so on."""
    kinds = (_held(layout), _dried(layout), _visits(layout), _holding(layout), _hours_and_racks(layout))
    for one_of_each in zip_longest(*kinds):
        yield from filter(None, one_of_each)


def _hours_and_racks(layout: Layout) -> Iterator[Allowance]:
    asked = layout.scope.terms.settings
    if not asked.get("overtime"):
        yield Allowance(f"Work {LONGER:g} hours longer", {"overtime": LONGER})
    if not asked.get("split"):
        yield Allowance("Blast the racks in halves", {"split": True})
    if not asked.get("sunday"):
        yield Allowance("Work on days that are usually free as well", {"sunday": True})


def _shops(layout: Layout) -> list[Place]:
    return [place for place in layout.scope.terms.places() if place.kind == Place.Kind.SHOP]


def _held(layout: Layout) -> Iterator[Allowance]:
    asked = layout.scope.terms.settings.get("hold") or {}
    for place in _shops(layout):
        if place.held_at is None or place.held_at.magnitude < HELD:
            yield Allowance(f"Hold {place} at {HELD:g} °C", {"hold": {**asked, str(place.pk): HELD}})


def _dried(layout: Layout) -> Iterator[Allowance]:
    asked = layout.scope.terms.settings.get("dry") or {}
    for place in _shops(layout):
        if place.humidity_ceiling is None or place.humidity_ceiling.magnitude > DRIED:
            words = f"Let a dehumidifier keep {place} at {DRIED:g} %"
            yield Allowance(words, {"dry": {**asked, str(place.pk): DRIED}})


def _visits(layout: Layout) -> Iterator[Allowance]:
    """A visit on another day: each that is worked of the week before and after, and still to come."""
    terms, today = layout.scope.terms, layout.scope.workshop.day_of(layout.scope.now)
    shifted, visits = terms.settings.get("shifted") or {}, terms.visits()
    offered = {(visit.contractor, visit.date) for visit in visits}
    for visit in visits:
        for day in _days_near(visit.date):
            works = terms.workshop.usually_works(day)
            if works and day > today and (visit.contractor, day) not in offered:
                words = f"Ask {visit.contractor} for {day:%A} {day.day} {day:%B}"
                yield Allowance(words, {"shifted": {**shifted, str(visit.pk): day.isoformat()}})


def _days_near(day: date) -> list[date]:
    """The days around it, the nearest first."""
    number, last = day.toordinal(), date.max.toordinal()
    near = range(max(1, number - DAYS_TRIED), min(last, number + DAYS_TRIED) + 1)
    days = [date.fromordinal(n) for n in near if n != number]
    return sorted(days, key=lambda other: (abs(other - day), other))


def _holding(layout: Layout) -> Iterator[Allowance]:
    if layout.scope.terms.settings.get("holding"):
        return
    pieces = [outlook.piece for outlook in layout.scope.outlooks]
    systems = {piece.part.system_id: system_of(piece) for piece in pieces}
    for coating in holding_primers(layout.scope.workshop, systems.values())[:PRIMERS]:
        yield Allowance(f"Put {coating} on first, as a holding primer", {"holding": str(coating.pk)})


def _pieces_of(layout: Layout, schedule: Schedule) -> dict[UUID, str]:
    """Those that it plans, with the rack that each hangs on."""
    planned = {chain.name for chain in schedule.problem.chains}
    return {piece.pk: hung.name for hung in layout.hung if hung.name in planned for piece in hung.pieces}


def try_changes(under_way: RunUnderWay, search: Search, racks: int) -> list[dict[str, Any]]:
    """The changes that allow a plan of at least so many racks, the cheapest first: each was planned.

    Beside finish and cost each has the racks that it lets in, and those that it leaves out instead. At most
    MOST_CHANGES, as many as can be tried in the time there is; one moved visit and one holding primer. Those found are
    kept with the run as they come.
    """
    layout = under_way.layout
    if layout.ground is None or layout.ground.known < LEAST:
        return []
    now = under_way.incumbent
    planned = _pieces_of(layout, now) if now is not None else {}
    kept: list[dict[str, Any]] = []
    until, kinds = time.monotonic() + TRYING, set()
    for allowance in allowances(layout):
        if len(kept) == MOST_CHANGES or under_way.stop_wanted() or time.monotonic() > until:
            break
        kind = next(iter(allowance.settings))
        if kind in kinds and kind in ("shifted", "holding"):
            continue
        terms = layout.scope.terms.asks(**allowance.settings)
        held_anew = {"hold", "dry"} & allowance.settings.keys()
        other = lay_out_rows(
            terms, layout.scope.projects, layout.scope.now, beside=None if held_anew else layout.ground
        )
        if other.problem is None or other.ground is None or len(other.problem.chains) < racks:
            continue
        schedule = search(other.problem)
        if schedule is not None:
            kinds.add(kind)
            there = _pieces_of(other, schedule)
            kept.append({
                "words": allowance.words,
                "settings": allowance.settings,
                "finish": other.ground.moment(schedule.finish).isoformat(),
                "cost": schedule.cost / 100,
                "racks": len(schedule.problem.chains),
                "of": len(other.problem.chains),
                "more": None if now is None else (schedule.cost - now.cost) / 100,
                "lets_in": list(dict.fromkeys(rack for piece, rack in there.items() if piece not in planned)),
                "leaves_out": list(dict.fromkeys(rack for piece, rack in planned.items() if piece not in there)),
            })  # fmt: skip
            # what is cheapest, then what lets most racks in, then what is done first
            kept.sort(key=lambda change: (change["cost"], -change["racks"] / change["of"], change["finish"]))
            under_way.keep(changes=kept)
    return kept
