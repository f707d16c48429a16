"""A plan of the planner's becomes rows, and rows become such a plan again, to be checked against new hours."""

from collections.abc import Iterable, Iterator
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from finishing.science.scheduling.problem import MOST_MARGIN, NEVER
from finishing.science.scheduling.schedule import Carry, Schedule, ScheduledTask
from finishing.science.windows import explain
from projects.plans.domain.problem import Layout
from projects.plans.domain.steps import Hung, RackTask
from projects.record.models import Plan, PlanRun, Slot

IN, OUT = "in", "out"


@transaction.atomic
def keep_as_offer(run: PlanRun, layout: Layout, plan: Schedule, now: datetime, bounds: Any = ()) -> Plan:
    """The plan as an offer; what this run offered before gives way to it."""
    run.plans.filter(state=Plan.State.OFFERED).delete()
    ground = layout.ground
    margin = None if plan.margin >= MOST_MARGIN else plan.margin / 10
    row = Plan.objects.create(
        workshop_id=run.workshop_id,
        run=run,
        made_at=now,
        checked_at=now,
        forecast=layout.scope.outlooks[0].forecast,
        finish_at=ground.moment(plan.finish),
        late_minutes=plan.lateness * ground.grid.minutes,
        cost=Decimal(plan.cost) / 100,
        margin=margin,
        bounds=list(bounds),
    )
    rows = [each for slot in plan.tasks.values() for each in _slots(row, layout, plan, slot)]
    Slot.objects.bulk_create(slot for slot, _, _ in rows)
    _join(Slot.pieces, "piece", ((slot, piece) for slot, pieces, _ in rows for piece in pieces))
    _join(Slot.people, "user", ((slot, layout.people[name]) for slot, _, names in rows for name in names))
    return row


def _join(relation: Any, other: str, pairs: Iterable[tuple[Slot, Any]]) -> None:
    through = relation.through
    through.objects.bulk_create(through(**{"slot_id": slot.pk, f"{other}_id": row.pk}) for slot, row in pairs)


Made = tuple[Slot, list[Any], tuple[str, ...]]  # with its pieces and people


def _slots(row: Plan, layout: Layout, plan: Schedule, slot: ScheduledTask) -> Iterator[Made]:
    hung, task = layout.tasks[slot.task]
    for part, carry in ((IN, slot.carried_in), (OUT, slot.carried_out)):
        if carry is not None:
            yield _carried(row, layout, hung, task, part, carry), hung.pieces, carry.people
    yield _worked(row, layout, plan, slot), hung.pieces, slot.people


def _worked(row: Plan, layout: Layout, plan: Schedule, slot: ScheduledTask) -> Slot:
    (hung, task), ground = layout.tasks[slot.task], layout.ground
    step = plan.problem.tasks[slot.task]
    return Slot(
        workshop_id=row.workshop_id,
        plan=row,
        rack=hung.name,
        key=task.key,
        label=task.label,
        kind=task.kind,
        layer=None if task.layer is None or task.layer._state.adding else task.layer,  # a holding primer has no row
        place=layout.places[step.modes[slot.mode].place],
        visit=layout.visits.get(slot.visit),
        begin=ground.moment(slot.begin),
        end=ground.moment(slot.end),
        dry_at=ground.moment(slot.dry) if task.coating else None,
        why=why(layout, plan, slot),
    )


def _carried(row: Plan, layout: Layout, hung: Hung, task: RackTask, part: str, carry: Carry) -> Slot:
    return Slot(
        workshop_id=row.workshop_id,
        plan=row,
        rack=hung.name,
        key=f"{Slot.Kind.MOVE}:{part}:{task.key}",
        label=f"move to {carry.to}",
        kind=Slot.Kind.MOVE,
        place=layout.places[carry.to],
        origin=layout.places[carry.origin],
        begin=layout.ground.moment(carry.begin),
        end=layout.ground.moment(carry.end),
    )


# -- why it stands where it stands


def why(layout: Layout, plan: Schedule, slot: ScheduledTask) -> dict[str, Any]:
    """What bounds a step: windows it stands in, what it waits for, and what refuses the hour before it.

    windows: {kind, after, opens, closes, closed_from, closed_until}, instants or null · waits_for: {label, until}
    earlier: reasons (names of Reason) against the hour before; members: too many of an ensemble refuse that hour
    visit · margin: °C, or null.
    """
    hung, task = layout.tasks[slot.task]
    way = hung.ways[task.name][slot.mode]
    option = plan.problem.tasks[slot.task].modes[slot.mode]
    margin = int(option.margin[slot.begin])
    return {
        "windows": list(_windows(layout, plan, slot)),
        "waits_for": _waits_for(layout, plan, slot),
        "earlier": _against(way, slot.begin - 1),
        "members": _refused_by_members(way, option, slot.begin - 1),
        "visit": slot.visit,
        "margin": None if margin >= MOST_MARGIN else margin / 10,
    }


def _windows(layout: Layout, plan: Schedule, slot: ScheduledTask) -> Iterator[dict[str, Any]]:
    for link in plan.problem.time_lags:
        if link.after == slot.task:
            before = plan.tasks[link.before]
            window = link.windows[before.mode]
            ends = ("opens", "closes", "closed_from", "closed_until")
            told = {name: _instant(layout, int(getattr(window, name)[before.begin])) for name in ends}
            yield {"kind": link.kind, "after": layout.tasks[link.before][1].label, **told}


def _waits_for(layout: Layout, plan: Schedule, slot: ScheduledTask) -> dict[str, Any] | None:
    """The step of the rack before it, and when that is done or may be handled."""
    hung, _ = layout.tasks[slot.task]
    names = [task.name for task in hung.tasks]
    at = names.index(slot.task)
    if at == 0:
        return None
    before = plan.tasks[names[at - 1]]
    return {"label": hung.tasks[at - 1].label, "until": _instant(layout, before.end)}


def _against(way: Any, slot: int) -> list[str]:
    hour = slot * way.ground.grid.minutes // 60
    return [reason.name for reason in explain(way.refused[hour])] if 0 <= hour < len(way.refused) else []


def _refused_by_members(way: Any, option: Any, slot: int) -> bool:
    return slot >= 0 and bool(way.may_start[slot]) and not option.may_start[slot]


def _instant(layout: Layout, slot: int) -> str | None:
    return None if slot >= NEVER else layout.ground.moment(slot).isoformat()


# -- rows as a plan again


def by_piece(slots: Iterable[Slot]) -> dict[tuple[Any, str], Slot]:
    """Each slot by piece and key: how a step is found again however racks were renamed."""
    return {(piece.pk, slot.key): slot for slot in slots for piece in slot.pieces.all()}


def as_planned(layout: Layout, hung: Hung, task: RackTask, rows: dict[tuple[Any, str], Slot]) -> ScheduledTask | None:
    """A step as the rows have it; None where they have not, or in no place it may be done."""
    piece, ground = hung.pieces[0], layout.ground
    row = rows.get((piece.pk, task.key))
    if row is None:
        return None
    carries = [_carry(layout, rows.get((piece.pk, f"{Slot.Kind.MOVE}:{part}:{task.key}"))) for part in (IN, OUT)]
    if task is hung.tasks[0] and hung.stands_in == row.place:
        carries[0] = None  # carried already
    then = carries[1].to if carries[1] else ""
    found = [
        n
        for n, way in enumerate(hung.ways[task.name])
        if way.place == row.place and (way.then or "") == _place(layout, then)
    ]
    if not found:
        return None
    begin = 0 if hung.running is not None and task is hung.tasks[0] else ground.slot_down(row.begin)
    option = hung.ways[task.name][found[0]].option
    end = begin + hung.slots(task)
    dry = end if option.dry is None or not 0 <= begin < ground.grid.count else int(option.dry[begin])
    people = tuple(user.username for user in row.people.all())
    visit = next((name for name, visit in layout.visits.items() if row.visit_id == visit.pk), "")
    return ScheduledTask(task.name, found[0], begin, end, dry, people, visit, *carries)


def _place(layout: Layout, name: str) -> Any:
    return layout.places.get(name, "") if name else ""


def _carry(layout: Layout, row: Slot | None) -> Carry | None:
    if row is None:
        return None
    ground, people = layout.ground, tuple(user.username for user in row.people.all())
    begin, end = ground.slot_down(row.begin), ground.slot_up(row.end)
    return Carry(row.origin.name, row.place.name, begin, end, people)
