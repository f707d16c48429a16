"""What plans and runs keep as JSON → values for a page, with instants as instants and addresses as addresses."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import reduce
from operator import or_
from typing import Any

from django.urls import NoReverseMatch, reverse

from finishing.science.scheduling.scenarios import share_working
from finishing.science.windows import Reason
from finishing.science.working import Working
from finishing.site.fields import convert, printed_unit, shown_unit
from finishing.site.templatetags.clock import duration
from finishing.workshops.models import Workshop
from projects.record.models import Plan, PlanRun, Slot


def instant(text: Any) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


@dataclass(frozen=True)
class Running:
    """How far a run has come."""

    finish: datetime | None
    gap: float | None  # %
    seconds: float | None

    @property
    def closed(self) -> float | None:
        """For a bar that fills as the gap shrinks."""
        return None if self.gap is None else max(0.0, 100.0 - self.gap)


def running(run: PlanRun) -> Running:
    told = run.progress
    return Running(instant(told.get("finish")), told.get("gap"), told.get("seconds"))


@dataclass(frozen=True)
class Lack:
    """Something left out, and where it is mended."""

    about: str
    why: str
    address: str


def lacks(run: PlanRun) -> list[Lack]:
    """What was left out; where there is no plan at all, without what forbids one."""
    return _alike(one for one in run.missing if run.state == PlanRun.State.DONE or not _forbids(run, one))


def forbids(run: PlanRun) -> list[Lack]:
    """Which racks find no plan, by which rules."""
    return _alike(one for one in run.missing if _forbids(run, one))


def _forbids(run: PlanRun, one: dict[str, str]) -> bool:
    return f"{one['about']}: {one['why']}" in run.message


def _alike(missing: Iterable[dict[str, str]]) -> list[Lack]:
    """What keeps several out alike is said once."""
    alike: dict[tuple[str, str], list[str]] = {}
    for one in missing:
        address = _address(one.get("page", ""), one.get("pk", ""))
        alike.setdefault((one["why"], address), []).append(one["about"])
    return [Lack(", ".join(dict.fromkeys(about)), why, address) for (why, address), about in alike.items()]


def _address(page: str, pk: str) -> str:
    try:
        return reverse(page, args=[pk] if pk else [])
    except NoReverseMatch:
        return ""


@dataclass(frozen=True)
class WayOut:
    """A change that allows a plan, as it was tried."""

    number: int
    words: str
    finish: datetime | None
    cost: float
    racks: int | None = None  # that this plan has, of so many
    of: int | None = None

    @property
    def some(self) -> bool:
        return self.racks != self.of


def ways_out(run: PlanRun) -> list[WayOut]:
    return [
        WayOut(n, one["words"], instant(one["finish"]), one["cost"], one.get("racks"), one.get("of"))
        for n, one in enumerate(run.changes)
    ]


@dataclass(frozen=True)
class Moved:
    """A step that stands elsewhere in a plan than in the one it would replace; `was` or `now` is None where it is in
    one of them only."""

    rack: str
    label: str
    was: datetime | None
    now: datetime | None
    place_was: str
    place: str
    why: str

    @property
    def only_place(self) -> bool:
        return self.was == self.now


def moved(plan: Plan) -> list[Moved]:
    ends = ("rack", "label", "place_was", "place", "why")
    return [
        Moved(was=instant(one["was"]), now=instant(one["now"]), **{name: one[name] for name in ends})
        for one in plan.changes
    ]


@dataclass(frozen=True)
class Within:
    """A window in which a step must lie, and what it follows from."""

    kind: str  # "rust", "recoat", "letters" or "wait"
    after: str
    opens: datetime | None
    closes: datetime | None
    closed_from: datetime | None
    closed_until: datetime | None


@dataclass(frozen=True)
class Why:
    """What bounds a step where it stands."""

    windows: list[Within]
    waits_for: str
    waits_until: datetime | None
    earlier: Reason  # against the hour before
    margin: float | None
    members: bool = False  # of an ensemble, too many of which refuse the hour before


def why(slot: Slot) -> Why:
    told = slot.why
    before = told.get("waits_for") or {}
    return Why(
        [_within(window) for window in told.get("windows", [])],
        before.get("label", ""),
        instant(before.get("until")),
        reduce(or_, (Reason[name] for name in told.get("earlier", [])), Reason(0)),
        told.get("margin"),
        told.get("members", False),
    )


def _within(window: dict[str, Any]) -> Within:
    ends = ("opens", "closes", "closed_from", "closed_until")
    return Within(window["kind"], window["after"], **{name: instant(window.get(name)) for name in ends})


AIMS = {"lateness": "promised dates", "finish": "finish", "cost": "cost", "margin": "margin"}


def best(plan: Plan) -> list[str]:
    """By how much each aim could be better at most, in turn; empty where nobody reckoned it."""
    return [_distance(plan, told) for told in plan.bounds]


def _distance(plan: Plan, told: dict[str, Any]) -> str:
    aim, value, bound = told["aim"], told["value"], told["bound"]
    if told["proven"]:
        return f"{AIMS[aim]} by nothing"
    if value is None or bound is None:
        return f"{AIMS[aim]} not known"
    return f"{AIMS[aim]} by {_between(plan, aim, value, bound)}"


def _between(plan: Plan, aim: str, value: Any, bound: Any) -> str:
    """The plan tells minutes late, an instant, money, and °C."""
    if aim == "finish":
        return str(duration(abs(datetime.fromisoformat(value) - datetime.fromisoformat(bound))))
    distance = abs(value - bound)
    if aim == "lateness":
        return str(duration(distance / 60))
    if aim == "cost":
        return f"{distance:.2f} {plan.workshop.currency}"
    shown = shown_unit("delta°C", plan.workshop.us_units)
    return f"{convert(distance, 'delta°C', shown):.1f} {printed_unit(shown)}"


@dataclass(frozen=True)
class Sure:
    """In how many members of an ensemble a plan stands, and its weakest step."""

    whole: int
    of: int
    weakest: Slot | None
    model: str
    fetched_at: datetime
    until: datetime  # after this the forecast alone is asked

    @property
    def name(self) -> str:
        return dict(Workshop.WeatherEnsemble.choices).get(self.model, self.model)

    @property
    def working(self) -> Working:
        return share_working(self.whole, self.of, self.weakest.stands_in if self.weakest else self.whole)


def sure(plan: Plan) -> Sure | None:
    """None where no ensemble was held against it."""
    told = plan.members
    if not told:
        return None
    counted = [slot for slot in plan.slots.all() if slot.stands_in is not None]
    weakest = min(counted, key=lambda slot: (slot.stands_in, slot.begin), default=None)
    fetched, until = (datetime.fromisoformat(told[name]) for name in ("fetched_at", "until"))
    return Sure(told["whole"], told["of"], weakest, told["model"], fetched, until)
