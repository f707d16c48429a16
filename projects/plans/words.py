"""What a plan, its run and its steps say on a page: kept as JSON there, here as values and sentences."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import reduce
from operator import or_
from typing import Any
from urllib.parse import urlencode

import numpy as np
from django.urls import NoReverseMatch, reverse

from finishing.air.actions.ensembles import LEARNED
from finishing.air.domain.outside_air import WorkshopAir
from finishing.science import rust
from finishing.science.air import margin_working
from finishing.science.drying import DryingStage, drying_working
from finishing.science.metal import metal_temperature
from finishing.science.scheduling.expectations import ExpectedCost, expectation_working
from finishing.science.scheduling.scenarios import share_working
from finishing.science.units import Quantity
from finishing.science.windows import Reason
from finishing.science.working import Working
from finishing.site.fields import convert, printed_unit, shown_unit
from finishing.site.templatetags.clock import duration
from finishing.workshops.models import Place, Workshop
from projects.plans.domain.holding import holding_layer
from projects.plans.domain.terms import Terms
from projects.record.models import Part, Plan, PlanRun, Slot, Visit

BEFORE = timedelta(days=2)  # air before a step, so that its metal is in balance
NEAR = 0.05  # °C or %: the row says the same


def instant(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


# -- a run


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
    return Running(instant(run.progress.get("finish")), run.progress.get("gap"), run.progress.get("seconds"))


@dataclass(frozen=True)
class LeftOutOfPlan:
    """Something that is not in the plan, and where it is mended."""

    about: str
    why: str
    address: str


def left_out(run: PlanRun) -> list[LeftOutOfPlan]:
    """What was left out; where there is no plan at all, without what forbids one."""
    return _joined(item for item in run.missing if run.state == PlanRun.State.DONE or not _forbids(run, item))


def forbidden(run: PlanRun) -> list[LeftOutOfPlan]:
    """Which racks find no plan, by which rules."""
    return _joined(item for item in run.missing if _forbids(run, item))


def _forbids(run: PlanRun, item: dict[str, str]) -> bool:
    return f"{item['about']}: {item['why']}" in run.message


def _joined(missing: Iterable[dict[str, str]]) -> list[LeftOutOfPlan]:
    """What keeps several out for the same reason is said once."""
    about: dict[tuple[str, str], list[str]] = {}
    for item in missing:
        try:
            address = reverse(item.get("page", ""), args=[item["pk"]] if item.get("pk") else [])
        except NoReverseMatch:
            address = ""
        about.setdefault((item["why"], address), []).append(item["about"])
    return [LeftOutOfPlan(", ".join(dict.fromkeys(names)), why, address) for (why, address), names in about.items()]


@dataclass(frozen=True)
class WayOut:
    """A change that allows a plan, as it was tried."""

    number: int
    words: str
    finish: datetime | None
    cost: float
    racks: int | None = None  # that this plan has, of so many
    of: int | None = None
    more: float | None = None  # that it costs beside the plan as it is
    lets_in: tuple[str, ...] = ()
    leaves_out: tuple[str, ...] = ()

    @property
    def some(self) -> bool:
        return self.racks != self.of

    @property
    def less(self) -> float:
        """By how much it is cheaper than the plan as it is."""
        return -(self.more or 0.0)


def ways_out(run: PlanRun) -> list[WayOut]:
    return [
        WayOut(
            n,
            tried["words"],
            instant(tried["finish"]),
            tried["cost"],
            tried.get("racks"),
            tried.get("of"),
            tried.get("more"),
            tuple(tried.get("lets_in", ())),
            tuple(tried.get("leaves_out", ())),
        )  # fmt: skip
        for n, tried in enumerate(run.changes)
    ]


# -- a plan


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
    same = ("rack", "label", "place_was", "place", "why")
    return [
        Moved(was=instant(step["was"]), now=instant(step["now"]), **{name: step[name] for name in same})
        for step in plan.changes
    ]


AIMS = {"lateness": "promised dates", "finish": "finish", "cost": "cost", "margin": "margin"}


def best(plan: Plan) -> list[str]:
    """By how much each aim could be better at most, in turn; empty where nobody reckoned it."""
    return [f"{AIMS[bound['aim']]} {_distance(plan, **bound)}" for bound in plan.bounds]


def _distance(plan: Plan, aim: str, value: Any, bound: Any, proven: bool) -> str:
    """Between value and bound as a plan keeps them: minutes late, an instant as text, money, or °C."""
    if proven:
        return "by nothing"
    if value is None or bound is None:
        return "not known"
    if aim == "finish":
        return f"by {duration(abs(datetime.fromisoformat(value) - datetime.fromisoformat(bound)))}"
    distance = abs(value - bound)
    if aim == "lateness":
        return f"by {duration(distance / 60)}"
    if aim == "cost":
        return f"by {distance:.2f} {plan.workshop.currency}"
    unit = shown_unit("delta°C", plan.workshop.units)
    return f"by {convert(distance, 'delta°C', unit):.1f} {printed_unit(unit)}"


@dataclass(frozen=True)
class EnsembleShare:
    """In how many members of an ensemble a plan stands, and its weakest step."""

    whole: int
    of: int
    weakest: Slot | None
    model: str
    fetched_at: datetime
    until: datetime  # after this the forecast alone is asked

    @property
    def name(self) -> str:
        if self.model == LEARNED:
            return "drawn from how far past forecasts were off here"
        return dict(Workshop.WeatherEnsemble.choices).get(self.model, self.model)

    @property
    def working(self) -> Working:
        weakest = self.whole if self.weakest is None or self.weakest.stands_in is None else self.weakest.stands_in
        return share_working(self.whole, self.of, weakest)


def ensemble_share(plan: Plan) -> EnsembleShare | None:
    """None where no ensemble was held against it."""
    counted = plan.members
    if not counted:
        return None
    weakest = min(
        (slot for slot in plan.slots.all() if slot.stands_in is not None),
        key=lambda slot: (slot.stands_in, slot.begin),
        default=None,
    )
    fetched, until = (datetime.fromisoformat(counted[name]) for name in ("fetched_at", "until"))
    return EnsembleShare(counted["whole"], counted["of"], weakest, counted["model"], fetched, until)


def expected(plan: Plan) -> Working | None:
    """How it was chosen over members of an ensemble; None where none was known."""
    if not plan.expected:
        return None
    own = {**plan.expected}
    others = [ExpectedCost(**other) for other in own.pop("others")]
    return expectation_working(ExpectedCost(**own), others, plan.workshop.currency)


def own_work(plan: Plan) -> timedelta:
    """How long our own people are at its steps, carrying included, whether they are done or to come."""
    spans = Slot.people.through.objects.filter(slot__plan=plan).values_list("slot__begin", "slot__end")
    return sum((end - begin for begin, end in spans), timedelta())


def cost_working(plan: Plan) -> Working | None:
    """What the cost of a plan is made of; None of one that was made before its parts were kept."""
    if not plan.costs:
        return None
    money, wage, costs = plan.workshop.currency, plan.workshop.wage, plan.costs
    own = f"{costs['own'] / 100:.2f} {money}" if wage is not None else "not counted: no wage is entered"
    at = f" at {wage} {money}, overtime by its rate" if wage is not None else ""
    sessions = costs.get("sessions", 0)
    inputs = (
        ("contractor, the call-outs of the visits booked", f"{costs['contractor'] / 100:.2f} {money}"),
        ("heating and drying, for the hours in which a place is needed", f"{costs['heating'] / 100:.2f} {money}"),
        (f"{costs['hours']:g} h of our own{at}", own),
        (
            f"paint that stays in pot and gun, {sessions} session{'s' * (sessions != 1)} [common practice]",
            f"{costs.get('waste', 0) / 100:.2f} {money}",
        ),
    )
    note = "Each stretch of work is counted up to a cent. What every plan pays alike, as the paint itself, is left out."
    formula = "contractor + heating + own hours + paint that stays behind"
    return Working("Cost", formula, inputs, f"{plan.cost:.2f} {money}", "our judgement", note)


# -- what a plan counts on


@dataclass(frozen=True)
class CountedOn:
    """Something that is not so yet; `action` leads to `address` for those who have the right to it."""

    words: str
    action: str = ""
    address: str = ""
    right: str = "plan"


def counts_on(plan: Plan) -> list[CountedOn]:
    """What was allowed for this plan beyond the workshop as it is; nothing more once the rows agree."""
    terms = Terms(plan.workshop, plan.run.settings)
    return [*_moved_visits(terms), *_held_places(terms), *_holding(plan, terms), *_hours(terms)]


def _moved_visits(terms: Terms) -> Iterator[CountedOn]:
    asked = terms.settings.get("shifted") or {}
    for visit in Visit.objects.of(terms.workshop).filter(pk__in=asked):
        day = date.fromisoformat(asked[str(visit.pk)])
        if visit.date != day:
            words = f"{visit.contractor} comes on {day:%A} {day.day} {day:%B}"
            address = f"{reverse('visit-edit', args=[visit.pk])}?{urlencode({'date': day.isoformat()})}"
            yield CountedOn(words, "Move the visit to that day", address)


HELD = (("hold", "held_at", "°C", "held at"), ("dry", "humidity_ceiling", "%", "no damper than"))


def _held_places(terms: Terms) -> Iterator[CountedOn]:
    for name, column, unit, words in HELD:
        asked = terms.settings.get(name) or {}
        for place in Place.objects.of(terms.workshop).filter(pk__in=asked):
            number, now = float(asked[str(place.pk)]), getattr(place, column)
            if now is None or abs(now.magnitude - number) > NEAR:
                shown = shown_unit(unit, terms.workshop.units)
                held_at = f"{convert(number, unit, shown):g} {printed_unit(shown)}"
                address = f"{reverse('place-edit', args=[place.pk])}?{urlencode({column: f'{number:g} {unit}'})}"
                yield CountedOn(f"{place} {words} {held_at}", f"Enter it for {place}", address, "settle")


def _holding(plan: Plan, terms: Terms) -> Iterator[CountedOn]:
    """As long as a system of its pieces does not begin with that paint itself."""
    paint = terms.holding
    if paint is None:
        return
    parts = Part.objects.filter(pieces__slots__plan=plan).exclude(system=None).select_related("system")
    for system in {part.system_id: part.system for part in parts.distinct()}.values():
        if system and holding_layer(system, paint):
            address = reverse("system", args=[system.pk])
            yield CountedOn(f"{paint} on first, as a holding primer", f"Make it the first layer of {system}", address)


def _hours(terms: Terms) -> Iterator[CountedOn]:
    if terms.settings.get("overtime"):
        yield CountedOn(f"days up to {duration(float(terms.settings['overtime']))} longer")
    if terms.settings.get("sunday"):
        yield CountedOn("work on days that are usually free")


# -- a step


@dataclass(frozen=True)
class BoundingWindow:
    """A window in which a step must lie, and what it follows from."""

    kind: str  # "rust", "recoat", "letters" or "wait"
    after: str
    opens: datetime | None
    closes: datetime | None
    closed_from: datetime | None
    closed_until: datetime | None


@dataclass(frozen=True)
class StepBounds:
    """What bounds a step where it stands."""

    windows: list[BoundingWindow]
    waits_for: str
    waits_until: datetime | None
    earlier: Reason  # against the hour before
    margin: float | None
    bears_dew: datetime | None = None  # when its coat may be left to dew and rain
    members: bool = False  # of an ensemble, too many of which refuse the hour before
    busy: str = ""  # what one of its people does until then, on another rack
    busy_who: str = ""
    opens: bool = False  # it begins with the day's work
    go: tuple[tuple[str, float], ...] = ()  # what is prepared in one go with it: label and minutes of each


def step_bounds(slot: Slot) -> StepBounds:
    why = slot.why
    before = why.get("waits_for") or {}
    ends = ("opens", "closes", "closed_from", "closed_until")
    return StepBounds(
        [
            BoundingWindow(window["kind"], window["after"], *(instant(window.get(end)) for end in ends))
            for window in why.get("windows", [])
        ],
        before.get("label", ""),
        instant(before.get("until")),
        reduce(or_, (Reason[name] for name in why.get("earlier", [])), Reason(0)),
        why.get("margin"),
        instant(why.get("bears_dew")),
        why.get("members", False),
        f"{busy['label']}, {busy['rack']}" if (busy := why.get("busy")) else "",
        busy["who"] if busy else "",
        why.get("opens", False),
        tuple((label, minutes) for label, minutes in why.get("go", [])),
    )


def workings(slot: Slot, now: datetime) -> list[Working]:
    """How the times of a step were made: its margin, its drying, the time iron may stay bare, as it begins.

    At the heaviest piece, where and when the step begins; none where that hour's air is not known.
    """
    pieces = list(slot.pieces.all())
    air = WorkshopAir(slot.workshop, (min(slot.begin, now) - BEFORE).replace(minute=0, second=0, microsecond=0), now)
    there = air.of(slot.place)
    hour = int(there.position(slot.begin))
    if not pieces or not 0 <= hour < len(there):
        return []
    body = max((piece.part.body for piece in pieces), key=lambda body: body.length_m)
    run = metal_temperature(there, body.length_m, shelter=slot.place.shelter, material=body.material, sky=True)
    numbers = float(run[hour]), float(there.dew_point[hour]), float(there.humidity[hour])
    if np.isnan(numbers).any():
        return []
    metal, dew, damp = (Quantity(at, unit) for at, unit in zip(numbers, ("degC", "degC", "percent"), strict=True))
    workings = [margin_working(metal, dew)]
    if slot.kind in (Slot.Kind.BLAST, Slot.Kind.CLEAN):
        salt = max((rust.SALT_LEVELS[p.salt or p.workshop.salt] for p in pieces), key=lambda level: level.shift)
        workings.append(rust.hours_allowed_working(metal, dew, salt, slot.workshop.rust_tightening))
    layer = slot.layer if slot.kind == Slot.Kind.COAT else None
    table = layer.coating.drying_table() if layer and layer.coating else None
    if layer and table:
        asked = dict.fromkeys((table.dew_safe_stage, DryingStage.HANDLE, DryingStage.RECOAT_FROM))
        stages = [stage for stage in asked if table.gives(stage)]
        workings += [drying_working(table, stage, metal, damp, layer.slower) for stage in stages]
    return workings
