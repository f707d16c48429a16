"""A schedule becomes rows, and rows become a schedule again, to be checked against other hours."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any
from uuid import UUID

import numpy as np
from django.db import transaction

from finishing.science.scheduling.problem import MOST_MARGIN, NEVER
from finishing.science.scheduling.schedule import Carry, Schedule, ScheduledTask
from finishing.science.windows import explain
from projects.plans.domain.ground import Ground
from projects.plans.domain.problem import Layout
from projects.plans.domain.steps import Hung, Way
from projects.plans.domain.tasks import RackTask
from projects.record.models import Piece, Plan, PlanRun, Slot

IN, OUT = "in", "out"  # carried to where a task is done, and on from there to dry


@transaction.atomic
def keep_as_offer(
    run: PlanRun, layout: Layout, schedule: Schedule, now: datetime, bounds: list[dict[str, Any]]
) -> Plan:
    """The schedule as an offered plan; what this run offered before gives way to it."""
    ground = layout.ground
    assert ground is not None  # its schedule stands in it
    run.plans.filter(state=Plan.State.OFFERED).delete()
    plan = Plan.objects.create(
        workshop_id=run.workshop_id,
        run=run,
        made_at=now,
        checked_at=now,
        forecast=layout.scope.outlooks[0].forecast,
        finish_at=ground.moment(schedule.finish),
        late_minutes=schedule.lateness,
        cost=Decimal(schedule.cost) / 100,
        costs=_costs(schedule),
        margin=None if schedule.margin >= MOST_MARGIN else schedule.margin / 10,
        bounds=bounds,
    )
    rows = list(_Rows(plan, layout, ground, schedule).slots())
    Slot.objects.bulk_create(slot for slot, _, _ in rows)
    pieces, people = Slot.pieces.through, Slot.people.through
    pieces.objects.bulk_create(pieces(slot_id=slot.pk, piece_id=piece.pk) for slot, those, _ in rows for piece in those)
    people.objects.bulk_create(
        people(slot_id=slot.pk, user_id=layout.people[name].pk) for slot, _, names in rows for name in names
    )
    return plan


def _costs(schedule: Schedule) -> dict[str, float]:
    """What its cost is made of: see Plan.costs."""
    return {
        "contractor": schedule.call_outs,
        "heating": schedule.starts,
        "own": schedule.wages,
        "waste": schedule.waste,
        "sessions": len(schedule.sessions),
        "hours": round(schedule.labour / 60, 2),
    }


@dataclass(frozen=True)
class _Rows:
    """What becomes of a schedule's tasks."""

    plan: Plan
    layout: Layout
    ground: Ground
    schedule: Schedule

    @cached_property
    def tasks(self) -> dict[str, tuple[Hung, RackTask]]:
        return self.layout.tasks

    def slots(self) -> Iterator[tuple[Slot, list[Piece], tuple[str, ...]]]:
        """Each slot with its pieces and the names of its people."""
        for scheduled in self.schedule.tasks.values():
            hung, task = self.tasks[scheduled.task]
            for part, carry in ((IN, scheduled.carried_in), (OUT, scheduled.carried_out)):
                if carry is not None:
                    yield self._carried(hung, task, part, carry), hung.pieces, carry.people
            yield self._worked(hung, task, scheduled), hung.pieces, scheduled.people

    def _worked(self, hung: Hung, task: RackTask, scheduled: ScheduledTask) -> Slot:
        mode = self.schedule.problem.tasks[scheduled.task].modes[scheduled.mode]
        return Slot(
            workshop_id=self.plan.workshop_id,
            plan=self.plan,
            rack=hung.name,
            key=task.key,
            label=task.told,
            kind=task.kind,
            layer=None if task.layer is None or task.layer._state.adding else task.layer,  # a holding primer has no row
            place=self.layout.places[mode.place],
            visit=self.layout.visits.get(scheduled.visit),
            begin=self.ground.moment(scheduled.begin),
            end=self.ground.moment(scheduled.end),
            dry_at=self.ground.moment(scheduled.dry) if task.coating else None,
            why=self._why(hung, task, scheduled),
        )

    def _carried(self, hung: Hung, task: RackTask, part: str, carry: Carry) -> Slot:
        return Slot(
            workshop_id=self.plan.workshop_id,
            plan=self.plan,
            rack=hung.name,
            key=f"{Slot.Kind.MOVE}:{part}:{task.key}",
            label=f"move to {carry.to}",
            kind=Slot.Kind.MOVE,
            place=self.layout.places[carry.to],
            origin=self.layout.places[carry.origin],
            begin=self.ground.moment(carry.begin),
            end=self.ground.moment(carry.end),
        )

    def _why(self, hung: Hung, task: RackTask, scheduled: ScheduledTask) -> dict[str, Any]:
        """What bounds a task: windows it stands in, what it waits for, and what refuses the hour before it.

        windows: {kind, after, opens, closes, closed_from, closed_until}, instants or null · waits_for: {label, until}
        earlier: reasons (names of Reason) against the minute before; members: too many of an ensemble refuse it
        busy: {label, rack, who, until}: what one of its people does on another rack just before, or null
        opens: nobody is at work in the minute before · visit · margin: °C, or null
        bears_dew: the instant from which a coat may be left to dew and rain, or null
        go: what is prepared for a coat in one go with it, in order: label and minutes of each.
        """
        way, mode = hung.ways[task.name][scheduled.mode], self.schedule.problem.tasks[task.name].modes[scheduled.mode]
        before = scheduled.begin - 1
        margin = int(mode.margin[scheduled.begin])
        reasons = explain(way.refused[before]) if before >= 0 else []
        return {
            "windows": list(self._windows(scheduled)),
            "waits_for": self._waits_for(hung, task),
            "earlier": [reason.name for reason in reasons],
            "members": before >= 0 and bool(way.may_start[before]) and not mode.may_start[before],
            "busy": self._busy_before(hung, scheduled),
            "opens": before >= 0 and self._begins_with_the_day(scheduled),
            "visit": scheduled.visit,
            "margin": None if margin >= MOST_MARGIN else margin / 10,
            "bears_dew": self._bears_dew(way, scheduled.end),
            "go": [[layer.label, layer.minutes_on(hung.rack.area)] for layer in task.prepared],
        }

    @cached_property
    def _ends(self) -> dict[tuple[str, int], str]:
        """By person and minute, what they are done with then."""
        return {
            (name, end): done.task
            for done in self.schedule.tasks.values()
            for name, begin, end in done.attended
            if end == done.end
        }

    def _busy_before(self, hung: Hung, scheduled: ScheduledTask) -> dict[str, Any] | None:
        """Of its people one who comes straight from another rack."""
        begin = scheduled.carried_in.begin if scheduled.carried_in else scheduled.begin
        for name in scheduled.people:
            before = self._ends.get((name, begin))
            if before is not None and self.tasks[before][0] is not hung:
                rack, task = self.tasks[before]
                return {"label": task.label, "rack": rack.name, "who": name, "until": self._instant(begin)}
        return None

    def _begins_with_the_day(self, scheduled: ScheduledTask) -> bool:
        people = [person for person in self.schedule.problem.people if person.name in scheduled.people]
        begin = scheduled.carried_in.begin if scheduled.carried_in else scheduled.begin
        return begin > 0 and any(not person.working[begin - 1] for person in people)

    def _bears_dew(self, way: Way, done: int) -> str | None:
        position = float(way.bears_dew[done]) if way.bears_dew is not None else np.inf
        if not np.isfinite(position):
            return None
        return (self.ground.start + timedelta(hours=position - self.ground.zero)).isoformat()

    def _windows(self, scheduled: ScheduledTask) -> Iterator[dict[str, Any]]:
        for lag in self.schedule.problem.time_lags:
            if lag.after == scheduled.task:
                before = self.schedule.tasks[lag.before]
                window = lag.windows[before.mode]
                ends = {
                    "opens": window.opens,
                    "closes": window.closes,
                    "closed_from": window.closed_from,
                    "closed_until": window.closed_until,
                }
                instants = {name: self._instant(int(by_completion[before.end])) for name, by_completion in ends.items()}
                yield {"kind": lag.kind, "after": self.tasks[lag.before][1].label, **instants}

    def _waits_for(self, hung: Hung, task: RackTask) -> dict[str, Any] | None:
        """The rack's task before, and when that is done."""
        at = hung.tasks.index(task)
        if at == 0:
            return None
        before = hung.tasks[at - 1]
        return {"label": before.label, "until": self._instant(self.schedule.tasks[before.name].end)}

    def _instant(self, minute: int) -> str | None:
        return None if minute >= NEVER else self.ground.moment(minute).isoformat()


# -- rows as a schedule again

SlotsByPiece = dict[tuple[UUID, str], Slot]


def by_piece(slots: Iterable[Slot]) -> SlotsByPiece:
    """Each slot by piece and key: how a task is found again however racks were renamed."""
    return {(piece.pk, slot.key): slot for slot in slots for piece in slot.pieces.all()}


def as_scheduled(layout: Layout, hung: Hung, task: RackTask, rows: SlotsByPiece) -> ScheduledTask | None:
    """A task as the rows have it; None where they have not, or in no place where it may be done."""
    piece, ground = hung.pieces[0], layout.ground
    row = rows.get((piece.pk, task.key))
    if row is None or ground is None:
        return None
    carried_in, carried_out = (
        _carry(ground, rows.get((piece.pk, f"{Slot.Kind.MOVE}:{part}:{task.key}"))) for part in (IN, OUT)
    )
    if task is hung.tasks[0] and hung.stands_in == row.place:
        carried_in = None  # carried already
    dries_in = layout.places.get(carried_out.to) if carried_out else None
    ways = hung.ways[task.name]
    mode = next((n for n, way in enumerate(ways) if way.place == row.place and way.then == dries_in), None)
    if mode is None:
        return None
    begin = 0 if hung.running is not None and task is hung.tasks[0] else ground.minute_down(row.begin)
    end, dries = begin + hung.minutes(task), ways[mode].option.dry
    dry = end if dries is None or not 0 <= end <= ground.horizon.count else int(dries[end])
    people = tuple(user.username for user in row.people.all())
    visit = next((name for name, visit in layout.visits.items() if row.visit_id == visit.pk), "")
    return ScheduledTask(task.name, mode, begin, end, dry, people, visit, carried_in, carried_out)


def _carry(ground: Ground, row: Slot | None) -> Carry | None:
    if row is None or row.origin is None:
        return None
    people = tuple(user.username for user in row.people.all())
    return Carry(row.origin.name, row.place.name, ground.minute_down(row.begin), ground.minute_up(row.end), people)
