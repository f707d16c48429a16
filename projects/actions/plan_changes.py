"""Where no plan is possible: which rule forbids it, and the smallest changes that would allow one, each tried."""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from finishing.models import Place
from finishing.science.planning.plan import Plan
from finishing.science.planning.problem import Problem, Window
from projects.models.plan_problem import Layout, lay_out_rows
from projects.models.plan_terms import Terms

HELD = 15.0  # °C at which most paints dry   [common practice]
DRIED = 60.0  # % at which a dehumidifier is set   [common practice]
LONGER = 2.0  # hours added to a day
DAYS_TRIED = 7  # before and after, to which a visit is moved
TRYING = 30.0  # seconds for all that is tried
ENOUGH = 4  # changes that are told

Search = Callable[[Problem], Plan | None]


@dataclass(frozen=True)
class Change:
    """Something else allowed, in a person's words; settings as plan_terms has them."""

    words: str
    settings: dict[str, Any]


def what_forbids(problem: Problem, search: Search) -> str:
    """The first rule without which there is a plan; empty where no single one forbids it."""
    for words, relaxed in RULES.items():
        if search(relaxed(problem)) is not None:
            return words
    return ""


def _any_weather(problem: Problem) -> Problem:
    def open_ways(step: Any) -> Any:
        always = np.ones(problem.grid.count, bool)
        return replace(step, options=tuple(replace(option, may_start=always) for option in step.options))

    return _with_steps(problem, open_ways)


def _no_end(kind: str) -> Callable[[Problem], Problem]:
    def relaxed(problem: Problem) -> Problem:
        return replace(problem, links=tuple(
            replace(link, windows=tuple(Window(w.opens) for w in link.windows)) if link.kind == kind else link
            for link in problem.links
        ))  # fmt: skip

    return relaxed


def _always_at_work(problem: Problem) -> Problem:
    always = np.ones(problem.grid.count, bool)
    return replace(problem, people=tuple(replace(person, working=always) for person in problem.people))


def _any_day(problem: Problem) -> Problem:
    return _with_steps(problem, lambda step: replace(step, by_visit=False))


def _room_for_all(problem: Problem) -> Problem:
    return replace(problem, places=tuple(replace(place, wet_room=None) for place in problem.places))


def _with_steps(problem: Problem, changed: Callable[[Any], Any]) -> Problem:
    chains = tuple(replace(c, steps=tuple(changed(step) for step in c.steps)) for c in problem.chains)
    return replace(problem, chains=chains)


RULES: dict[str, Callable[[Problem], Problem]] = {
    "bare iron would wait longer for its first coat than its rust budget allows": _no_end("rust"),
    "a coat would come after the recoat window of the one below has closed, or in its closed zone": _no_end("recoat"),
    "nobody is at work when the work could be done": _always_at_work,
    "no visit comes when the blasting could be done": _any_day,
    "there is not room enough for what lies wet": _room_for_all,
    "air and metal do not allow it": _any_weather,
}


def changes(terms: Terms) -> Iterator[Change]:
    """What might be changed, what costs least trouble first."""
    asked = terms.settings
    for place in terms.places():
        if place.kind == Place.Kind.SHOP:
            yield from _in_shop(asked, place)
    yield from _visits(terms)
    if not asked.get("overtime"):
        yield Change(f"Work {LONGER:g} hours longer", {"overtime": LONGER})
    if not asked.get("sunday"):
        yield Change("Work on Sundays and Saturdays as well", {"sunday": True})
    if not asked.get("split"):
        yield Change("Blast the racks in halves", {"split": True})


def _in_shop(asked: dict[str, Any], place: Place) -> Iterator[Change]:
    held, dry = asked.get("hold") or {}, asked.get("dry") or {}
    if place.held_at is None or place.held_at.magnitude < HELD:
        yield Change(f"Hold {place} at {HELD:g} °C", {"hold": {**held, str(place.pk): HELD}})
    if place.humidity_ceiling is None or place.humidity_ceiling.magnitude > DRIED:
        yield Change(f"Let a dehumidifier keep {place} at {DRIED:g} %", {"dry": {**dry, str(place.pk): DRIED}})


def _visits(terms: Terms) -> Iterator[Change]:
    """A visit on another day: each that is worked of the week before and after."""
    shifted = terms.settings.get("shifted") or {}
    for visit in terms.visits():
        for day in _days_near(visit.date):
            if terms.workshop.work_days[day.weekday()] == "1":
                words = f"Ask {visit.contractor} for {day:%A} {day.day} {day:%B}"
                yield Change(words, {"shifted": {**shifted, str(visit.pk): day.isoformat()}})


def _days_near(day: date) -> list[date]:
    """The days around it, the nearest first."""
    days = [day + timedelta(days=offset) for offset in range(-DAYS_TRIED, DAYS_TRIED + 1) if offset]
    return sorted(days, key=lambda other: (abs(other - day), other))


def tried(layout: Layout, search: Search, racks: int) -> list[dict[str, Any]]:
    """The changes that allow a plan of at least so many racks: each was planned, with its finish and cost.

    At most a few, and as many as can be tried in the time there is; one other day for a visit is enough.
    """
    found: list[dict[str, Any]] = []
    until, another_day = time.monotonic() + TRYING, False
    for change in changes(layout.scope.terms):
        if len(found) == ENOUGH or time.monotonic() > until:
            break
        if another_day and "shifted" in change.settings:
            continue
        other = _laid_out(layout, change)
        plan = search(other.problem) if other.problem and len(other.problem.chains) >= racks else None
        if plan is not None:
            another_day = another_day or "shifted" in change.settings
            found.append(_told(change, other, plan))
    return sorted(found, key=lambda told: (told["cost"], told["finish"]))


def _laid_out(layout: Layout, change: Change) -> Layout:
    scope, held = layout.scope, {"hold", "dry"} & set(change.settings)
    terms = scope.terms.asks(**change.settings)
    return lay_out_rows(terms, scope.projects, scope.now, beside=None if held else layout.ground)


def _told(change: Change, layout: Layout, plan: Plan) -> dict[str, Any]:
    finish = layout.ground.moment(plan.finish).isoformat()
    return {"words": change.words, "settings": change.settings, "finish": finish, "cost": plan.cost / 100}
