"""The kept plans held against a new forecast or a new entry in the log: what no longer holds is marked, and why."""

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction

from finishing.science.hours import Hours
from finishing.science.scheduling.feasibility import Constraint, Violation, check_feasibility
from finishing.science.scheduling.problem import Problem
from finishing.science.scheduling.schedule import Schedule, ScheduledTask
from finishing.site.templatetags.reasons import REASONS, reasons_among
from projects.plans.domain.ground import Ground
from projects.plans.domain.problem import Layout, lay_out_rows
from projects.plans.domain.terms import Terms
from projects.record.domain.logged_slots import logged
from projects.record.models import Plan, Slot

from .schedule_rows import SlotsByPiece, as_scheduled, by_piece

GRACE = timedelta(minutes=30)  # in which what was done is logged  [our judgement]
KNOWN_TO = 30  # minutes: forecasts are by the hour, and a sheet's times are of whole or half hours   [our judgement]
KNOWN_SHARE = 0.1  # of a wait or window: what drying and rust are known to at the best   [our judgement]
FORGOTTEN = "It was due by now, and the log does not say that it was done."
NOWHERE = "It is not done there any more."
NO_MORE = "It cannot be planned any more: {why}."
NEW_STEP = "{label} comes before it now, and is not in the plan."


def recheck_plan(plan: Plan, now: datetime) -> bool:
    """Whether some slot does not hold any more; each says why."""
    layout = laid_out_as(plan, now)
    reasons = reasons_against(plan, layout, now)
    changed = [slot for slot in plan.slots.all() if slot.broken != reasons.get(slot.pk, "")]
    for slot in changed:
        slot.broken = reasons.get(slot.pk, "")
    plan.checked_at = now
    if layout.scope.outlooks:
        plan.forecast = layout.scope.outlooks[0].forecast
    with transaction.atomic():  # checking takes a while, and locks nobody out
        Slot.objects.bulk_update(changed, ["broken"])
        plan.save(update_fields=["checked_at", "forecast"])
    return bool(reasons)


def laid_out_as(plan: Plan, now: datetime, member: Hours | None = None) -> Layout:
    """What is left to do now, on the plan's own racks and in its own places, by the forecast or a member's hours."""
    racks = {str(piece.pk): slot.rack for slot in plan.slots.all() for piece in slot.pieces.all()}
    terms = Terms(plan.workshop, {**plan.run.settings, "racks": racks, "pieces": [*racks]}, member)
    return lay_out_rows(terms, plan.run.projects.all(), now, plan.slots.all(), as_kept=True)


def reasons_against(plan: Plan, layout: Layout, now: datetime) -> dict[UUID, str]:
    """By slot, why it does not hold; only what is still to be done is held against the hours."""
    rows = by_piece(plan.slots.all())
    reasons: dict[UUID, str] = {}
    scheduled: dict[str, ScheduledTask] = {}
    for hung in layout.hung:
        missing = ""  # what the log or the system asks for just ahead, and the plan does not have
        for task in hung.tasks:
            row = rows.get((hung.pieces[0].pk, task.key))
            if row is not None and missing:
                reasons[row.pk] = NEW_STEP.format(label=missing.capitalize())
            missing = task.label if row is None else ""
            if row is not None and row.end <= now:
                if now - row.end > GRACE:
                    reasons[row.pk] = FORGOTTEN
            elif (as_it_stands := as_scheduled(layout, hung, task, rows)) is not None:
                scheduled[task.name] = as_it_stands
            elif row is not None and hung.running is None:
                reasons[row.pk] = NOWHERE
    reasons |= _left_out(layout, rows, now)
    if layout.problem is not None and layout.ground is not None:
        reasons |= _broken(layout, layout.problem, layout.ground, rows, scheduled)
    return reasons


def _left_out(layout: Layout, rows: SlotsByPiece, now: datetime) -> dict[UUID, str]:
    """Slots to come of pieces that can no longer be planned, as their log or their part stands."""
    standing = {piece.pk for hung in layout.hung for piece in hung.pieces}
    asked = {outlook.piece.pk for outlook in layout.scope.outlooks}
    of_piece = layout.scope.left_out
    of_rack = {missing.about: missing.why for missing in layout.missing}
    return {
        slot.pk: NO_MORE.format(why=of_piece.get(piece) or of_rack.get(slot.rack, "something is missing"))
        for (piece, _), slot in rows.items()
        if slot.end > now and (piece in of_piece or piece in asked - standing)
    }


def _broken(
    layout: Layout, problem: Problem, ground: Ground, rows: SlotsByPiece, scheduled: dict[str, ScheduledTask]
) -> dict[UUID, str]:
    """Slots that break a rule, of racks that stand in the plan with all that they have to come."""
    whole = problem.restricted_to(
        chain for chain in problem.chains if all(task.name in scheduled for task in chain.tasks)
    )
    if not whole.chains:
        return {}
    by_name = {
        name: rows[hung.pieces[0].pk, task.key] for name, (hung, task) in layout.tasks.items() if name in scheduled
    }
    reasons: dict[UUID, list[str]] = {}
    held = Schedule(whole, {name: scheduled[name] for name in whole.tasks})
    for violation in check_feasibility(held):
        if violation.constraint is Constraint.STAYS:  # by the new hours it could be carried later: no harm in that
            continue
        if _too_little_to_know(held, violation):
            continue
        row = by_name[violation.task]
        if violation.constraint in (Constraint.ONE_THING, Constraint.VISIT) and by_name.get(violation.other) == row:
            continue  # of pieces worked together some are logged further: two racks now, and still one slot
        reasons.setdefault(row.pk, []).append(_words(layout, ground, violation, scheduled[violation.task]))
    return {pk: "; ".join(dict.fromkeys(words)) for pk, words in reasons.items()}


def _too_little_to_know(held: Schedule, violation: Violation) -> bool:
    """Missed by less than the numbers can tell: within half an hour air and metal allow it, or a window is missed by
    less than that and by less than a tenth of what it spans. A closed zone is not played with."""
    done = held.tasks[violation.task]
    if violation.constraint is Constraint.WEATHER:
        allowed = held.problem.tasks[violation.task].modes[done.mode].may_start
        return bool(allowed[max(0, done.begin - KNOWN_TO) : done.begin + KNOWN_TO + 1].any())
    if violation.constraint is Constraint.ORDER:
        before = held.tasks[violation.other]
        return before.end <= done.begin and before.dry - done.begin <= _known_to(before.dry - before.end)
    if violation.constraint not in (Constraint.TOO_SOON, Constraint.TOO_LATE):
        return False
    before = held.tasks[violation.other]
    lags = [lag for lag in held.problem.time_lags if (lag.before, lag.after) == (violation.other, violation.task)]
    windows = [lag.windows[before.mode] for lag in lags]
    if violation.constraint is Constraint.TOO_SOON:
        opens = max(int(window.opens[before.end]) for window in windows)
        return before.end <= done.begin and opens - done.begin <= _known_to(opens - before.end)
    closes = min(int(window.closes[before.end]) for window in windows)
    return done.end - closes <= _known_to(closes - before.end)


def _known_to(span: int) -> float:
    return min(KNOWN_TO, KNOWN_SHARE * span)


def _words(layout: Layout, ground: Ground, violation: Violation, scheduled: ScheduledTask) -> str:
    tasks = layout.tasks
    if violation.constraint is Constraint.WEATHER:
        hung, task = tasks[violation.task]
        flags = hung.ways[task.name][scheduled.mode].refused[scheduled.begin]
        return ", ".join(REASONS[reason][0] for reason in reasons_among(flags)) or WORDS[violation.constraint]
    other = tasks[violation.other][1].label if violation.other in tasks else violation.other
    return WORDS.get(violation.constraint, str(violation.constraint)) + (f" ({other})" if other else "")


WORDS = {
    Constraint.WEATHER: "it was to begin by now",
    Constraint.RECEIPT: "it is not there by then",
    Constraint.PEOPLE: "there are not the people who can do it",
    Constraint.ONE_THING: "somebody would have two things to do at once",
    Constraint.WET_ROOM: "there is no room for it to lie wet",
    Constraint.CARRIED: "it does not stand where the plan has it",
    Constraint.HANDLED: "it may not be carried yet",
    Constraint.TOO_SOON: "what is below is not ready",
    Constraint.TOO_LATE: "the time for it is over by then",
    Constraint.CLOSED_ZONE: "it falls into the closed zone",
    Constraint.ORDER: "the step before is not done, or not dry",
    Constraint.WORKING_HOURS: "nobody is at work then",
    Constraint.VISIT: "no visit comes then",
    Constraint.DUST: "there is dust where it lies wet",
    Constraint.SETTLED: "the metal has not settled after the move",
    Constraint.LENGTH: "the forecast does not reach so far",
}


# -- another one offered


def differences(old: Plan, new: Plan, at: datetime) -> list[dict[str, Any]]:
    """What stands elsewhere in the new plan: {rack, label, was, now, place_was, place, why}, instants as text.

    Not what is the same, or is over by `at` or logged; what has begun stands in the new plan with what is left of it.
    """
    before, after, logged_slots = by_piece(old.slots.all()), by_piece(new.slots.all()), logged(old.slots.all())
    seen: set[tuple[UUID | None, UUID | None]] = set()
    changes = []
    for key in {**before, **after}:
        was, now = before.get(key), after.get(key)
        pair = was.pk if was else None, now.pk if now else None
        if pair in seen:
            continue
        seen.add(pair)
        if was is None or now is None:
            if was is not None and (was.end <= at or was.pk in logged_slots):
                continue
        else:
            begins = was.begin == now.begin or max(was.begin, now.begin) <= at
            if begins and (was.place_id, was.end) == (now.place_id, now.end):
                continue
        slot = now or was
        assert slot is not None  # the key is of one of them
        changes.append({
            "rack": slot.rack,
            "label": slot.label,
            "was": was.begin.isoformat() if was else None,
            "now": now.begin.isoformat() if now else None,
            "place_was": was.place.name if was else "",
            "place": now.place.name if now else "",
            "why": was.broken if was else "",
        })  # fmt: skip
    return sorted(changes, key=lambda change: change["now"] or change["was"])
