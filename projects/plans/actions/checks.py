"""The kept plans held against a new forecast or a new entry in the log: what no longer holds is marked, and why."""

from datetime import datetime
from typing import Any

from django.db import transaction

from finishing.science.scheduling.feasibility import Constraint, Violation, check_feasibility
from finishing.science.scheduling.schedule import Schedule, ScheduledTask
from finishing.site.templatetags.reasons import REASONS, told
from projects.plans.domain.log import logged
from projects.plans.domain.problem import Layout, lay_out_rows
from projects.plans.domain.terms import Terms
from projects.record.models import Plan, Slot

from .rows import as_planned, by_piece

FORGOTTEN = "It was due by now, and the log does not say that it was done."
NOWHERE = "It is not done there any more."
NO_MORE = "It cannot be planned any more: {why}."
NEW_STEP = "{label} comes before it now, and is not in the plan."


@transaction.atomic
def recheck_plan(plan: Plan, now: datetime) -> bool:
    """Whether some slot does not hold any more; each says why."""
    layout = laid_out_as(plan, now)
    reasons = reasons_against(plan, layout, now)
    for slot in plan.slots.all():
        text = reasons.get(slot.pk, "")
        if text != slot.broken:
            slot.broken = text
            slot.save(update_fields=["broken"])
    plan.checked_at = now
    if layout.scope.outlooks:
        plan.forecast = layout.scope.outlooks[0].forecast
    plan.save(update_fields=["checked_at", "forecast"])
    return any(reasons.values())


def laid_out_as(plan: Plan, now: datetime, member: Any = None) -> Layout:
    """What is left to do now, on the plan's own racks and in its own places, by the forecast or a member's hours."""
    racks = {str(piece.pk): slot.rack for slot in plan.slots.all() for piece in slot.pieces.all()}
    terms = Terms(plan.workshop, {**plan.run.settings, "racks": racks, "pieces": [*racks]}, member)
    return lay_out_rows(terms, plan.run.projects.all(), now, plan.slots.all(), as_kept=True)


def reasons_against(plan: Plan, layout: Layout, now: datetime) -> dict[Any, str]:
    """By slot, why it does not hold; only what is still to be done is held against the hours."""
    rows = by_piece(plan.slots.all())
    found: dict[Any, str] = {}
    slots: dict[str, ScheduledTask] = {}
    for hung in layout.hung:
        found |= _come_between(hung, rows)
        for task in hung.tasks:
            row = rows.get((hung.pieces[0].pk, task.key))
            if row is not None and row.end <= now:
                found[row.pk] = FORGOTTEN
            elif (slot := as_planned(layout, hung, task, rows)) is not None:
                slots[task.name] = slot
            elif row is not None and hung.running is None:
                found[row.pk] = NOWHERE
    found |= _left_out(layout, rows, now)
    if layout.problem is not None:
        found |= _checked(layout, rows, slots)
    return found


def _come_between(hung: Any, rows: dict[tuple[Any, str], Slot]) -> dict[Any, str]:
    """Planned steps of a rack ahead of which the log or its system asks for one that the plan does not have."""
    found: dict[Any, str] = {}
    missing = ""
    for task in hung.tasks:
        row = rows.get((hung.pieces[0].pk, task.key))
        if row is not None and missing:
            found[row.pk] = NEW_STEP.format(label=missing.capitalize())
        missing = task.label if row is None else ""
    return found


def _left_out(layout: Layout, rows: dict[tuple[Any, str], Slot], now: datetime) -> dict[Any, str]:
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


def _checked(layout: Layout, rows: dict[tuple[Any, str], Slot], slots: dict[str, ScheduledTask]) -> dict[Any, str]:
    whole = [chain for chain in layout.problem.chains if all(step.name in slots for step in chain.tasks)]
    if not whole:
        return {}
    problem = layout.problem.restricted_to(whole)
    plan = Schedule(problem, {name: slots[name] for name in problem.tasks})
    found: dict[Any, list[str]] = {}
    for broken in check_feasibility(plan):
        if broken.constraint is Constraint.STAYS:  # by the new hours it could be carried later: that spoils nothing
            continue
        hung, task = layout.tasks[broken.task]
        row = rows[hung.pieces[0].pk, task.key]
        if _with_itself(layout, rows, broken, row):
            continue
        found.setdefault(row.pk, []).append(_words(layout, broken, slots[broken.task]))
    return {pk: "; ".join(dict.fromkeys(words)) for pk, words in found.items()}


def _with_itself(layout: Layout, rows: dict[tuple[Any, str], Slot], broken: Violation, row: Slot) -> bool:
    """Pieces of a rack of which some are logged further than the others are still worked together in one slot."""
    if broken.constraint not in (Constraint.ONE_THING, Constraint.VISIT) or broken.other not in layout.tasks:
        return False
    hung, task = layout.tasks[broken.other]
    return rows.get((hung.pieces[0].pk, task.key)) == row


def _words(layout: Layout, broken: Violation, slot: ScheduledTask) -> str:
    if broken.constraint is Constraint.WEATHER:
        hung, task = layout.tasks[broken.task]
        way = hung.ways[task.name][slot.mode]
        hour = slot.begin * layout.ground.grid.minutes // 60
        return ", ".join(REASONS[reason][0] for reason in told(way.refused[hour])) or WORDS[broken.constraint]
    other = layout.tasks[broken.other][1].label if broken.other in layout.tasks else broken.other
    return WORDS.get(broken.constraint, f"{broken.constraint}") + (f" ({other})" if other else "")


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
    """What stands elsewhere in the new plan: {rack, label, was, now, place, why}. Not what is the same, or done."""
    before, after = by_piece(old.slots.all()), by_piece(new.slots.all())
    done = logged(old.slots.all())
    told_of: set[tuple[Any, Any]] = set()
    found = []
    for key in [*before, *(key for key in after if key not in before)]:
        was, now = before.get(key), after.get(key)
        pair = (was and was.pk, now and now.pk)
        over = now is None and (was.end <= at or was.pk in done)
        if pair in told_of or over or _same(was, now, at):
            continue
        told_of.add(pair)
        found.append(_difference(was, now))
    return sorted(found, key=lambda change: change["now"] or change["was"])


def _same(was: Slot | None, now: Slot | None, at: datetime) -> bool:
    """What has begun stands in the new plan with what is left of it."""
    if was is None or now is None:
        return False
    begins = was.begin == now.begin or max(was.begin, now.begin) <= at
    return begins and (was.place_id, was.end) == (now.place_id, now.end)


def _difference(was: Slot | None, now: Slot | None) -> dict[str, Any]:
    slot = now or was
    return {
        "rack": slot.rack,
        "label": slot.label,
        "was": was.begin.isoformat() if was else None,
        "now": now.begin.isoformat() if now else None,
        "place_was": was.place.name if was else "",
        "place": now.place.name if now else "",
        "why": was.broken if was else "",
    }
