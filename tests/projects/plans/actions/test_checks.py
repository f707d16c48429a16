"""A kept plan held against the log as work goes on: what is being done stays, what cannot be done is marked."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from finishing.science.units import Quantity
from projects.plans.actions.making import make_plan
from projects.plans.actions.plans import accept_plan, ask_plan
from projects.plans.actions.rechecking import recheck_kept_plans
from projects.plans.domain.problem import lay_out_rows
from projects.plans.domain.terms import Terms
from projects.record.actions.log import log_step
from projects.record.models import Piece, PlanRun, Slot, Step
from tests.factories import PieceFactory, VisitFactory, steady_forecast

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 11, 6, tzinfo=UTC)  # a Monday, seven o'clock by the workshop's clock
MINUTE = timedelta(minutes=1)


@pytest.fixture
def piece(project, part, roof):
    return PieceFactory(project=project, part=part, place=roof, mark="F-1", salt="clean")


@pytest.fixture
def kept(workshop, owner, project, piece):
    """A plan from now on with a visit on Tuesday."""

    def plan(**settings):
        steady_forecast(workshop, NOW)
        VisitFactory(workshop=workshop)
        workshop.refresh_from_db()
        run = ask_plan(workshop, [project], by=owner, now=NOW, settings={"seconds": 2, **settings})
        made = make_plan(run, NOW).best
        made.made_at = NOW
        made.save()
        return accept_plan(made, by=owner, now=NOW)

    return plan


@pytest.fixture
def log(owner):
    def step(kind, at, *pieces, **facts):
        rack = Piece.objects.filter(pk__in=[piece.pk for piece in pieces])
        return log_step(by=owner, key=uuid4(), kind=kind, happened_at=at, pieces=rack, of_each={}, **facts)

    return step


def marked():
    return {slot.key: slot.broken for slot in Slot.objects.exclude(broken="")}


def labels(workshop, project, plan, now):
    """What is still to be done by then."""
    layout = lay_out_rows(Terms(workshop, {}), [project], now, list(plan.slots.all()))
    return [task.label for hung in layout.hung for task in hung.tasks]


def test_iron_blasted_after_its_wiping_was_due_is_still_to_be_wiped(workshop, project, piece, kept, log):
    plan = kept()
    late = plan.slots.get(kind="clean").end + 10 * MINUTE
    log(Step.Kind.BLASTED, late, piece)
    assert labels(workshop, project, plan, late + MINUTE)[0] == "blow down and wipe"


def test_iron_that_bloomed_is_wiped_after_the_second_blasting_as_well(workshop, project, piece, kept, log):
    plan = kept()
    log(Step.Kind.BLASTED, plan.slots.get(kind="blast").end, piece)
    wiped = plan.slots.get(kind="clean").end
    assert "blow down and wipe" not in labels(workshop, project, plan, wiped)
    log(Step.Kind.BLOOM, wiped + MINUTE, piece)
    assert labels(workshop, project, plan, wiped + 2 * MINUTE)[:2] == ["blast", "blow down and wipe"]


def test_what_can_be_planned_no_more_is_marked_with_the_reason(workshop, piece, kept, log):
    """Bare iron that got wet: all that is to come on it, and nothing that is over."""
    plan = kept()
    blasted = plan.slots.get(kind="blast").end
    log(Step.Kind.BLASTED, blasted, piece)
    log(Step.Kind.WETTED, blasted + MINUTE, piece)
    recheck_kept_plans(workshop, blasted + 2 * MINUTE)
    broken = Slot.objects.exclude(broken="")
    assert {slot.pk for slot in broken} == {slot.pk for slot in plan.slots.filter(end__gt=blasted)}
    why = "its coat-before has passed: look at it, and log bloom, or that it came clean"
    assert {slot.broken for slot in broken} == {f"It cannot be planned any more: {why}."}


@pytest.fixture
def moved(shop, piece, kept):
    """A plan in which it is wheeled out of the shop to be blasted."""
    Piece.objects.update(place=shop)
    return kept()


def test_a_rack_on_the_way_is_not_carried_again(workshop, project, roof, moved):
    move = moved.slots.get(kind="move")
    now = move.begin + 10 * MINUTE
    recheck_kept_plans(workshop, now)
    assert "blast" not in marked()
    layout = lay_out_rows(Terms(workshop, {}), [project], now, list(moved.slots.all()))
    chain = next(chain for chain in layout.problem.chains)
    assert chain.stands_in == roof.name
    assert chain.tasks[0].not_before >= layout.ground.minute_up(move.end)


def test_work_goes_on_where_it_is_done_though_nobody_logged_the_move(workshop, project, roof, moved):
    now = moved.slots.get(kind="blast").begin + 4 * MINUTE
    recheck_kept_plans(workshop, now)
    assert "blast" not in marked()
    layout = lay_out_rows(Terms(workshop, {}), [project], now, list(moved.slots.all()))
    assert layout.problem.chains[0].stands_in == roof.name
    assert layout.problem.chains[0].tasks[0].fixed == 0


def test_a_rack_logged_piece_by_piece_stands_in_its_plan(workshop, project, part, roof, piece, kept, log):
    """One is blasted, the other is being blasted: they go on together, by the same hands in the same minutes."""
    PieceFactory(project=project, part=part, place=roof, mark="F-2", salt="clean")
    blast = kept().slots.get(kind="blast")
    log(Step.Kind.BLASTED, blast.begin + 8 * MINUTE, piece)
    recheck_kept_plans(workshop, blast.begin + 10 * MINUTE)
    assert marked() == {}


def another(workshop, owner, project, now):
    run = ask_plan(workshop, [project], by=owner, now=now, settings={"seconds": 1})
    return make_plan(run, now).best


def test_what_is_done_or_being_done_is_no_change(workshop, owner, project, piece, part, kept, log):
    """Ten square metres take hours to blast: an hour into it the new plan has the rest of it, where it was."""
    part.area = Quantity(10, "m**2")
    part.save()
    plan = kept()
    blast = plan.slots.get(kind="blast")
    now = blast.begin + 70 * MINUTE
    assert now < blast.end
    assert "blast" not in {change["label"] for change in another(workshop, owner, project, now).changes}
    log(Step.Kind.BLASTED, now, piece)
    assert "blast" not in {change["label"] for change in another(workshop, owner, project, now + MINUTE).changes}


def test_a_forecast_a_little_colder_breaks_nothing_and_a_much_colder_one_does(workshop, piece, kept):
    """Half a degree makes paint dry some minutes later: less than a sheet's hours can tell."""
    plan = kept()
    steady_forecast(workshop, NOW + MINUTE, temperature=19.5)
    assert recheck_kept_plans(workshop, NOW + 2 * MINUTE) == []
    steady_forecast(workshop, NOW + 3 * MINUTE, temperature=12.0)
    assert recheck_kept_plans(workshop, NOW + 4 * MINUTE) == [plan]
    assert "what is below is not ready" in "".join(marked().values())


def test_what_is_offered_for_a_broken_plan_moves_only_what_no_longer_holds(workshop, owner, project, part, roof, kept):
    """Two racks by two people: rain-damp air in the hours of one coat moves that rack from there on, by a tap."""
    for mark in ("F-2", "F-3"):
        PieceFactory(project=project, part=part, place=roof, mark=mark, salt="clean")
    marks = {str(piece.pk): piece.mark for piece in project.pieces.all()}
    plan = kept(racks=marks)
    struck = plan.slots.filter(kind="coat").order_by("begin").last()
    damp = steady_forecast(workshop, NOW + MINUTE)
    first = int((struck.begin - NOW).total_seconds() // 3600) - 1
    damp.hours["humidity"][first : first + 4] = [97.0] * 4
    damp.hours["dew_point"][first : first + 4] = [19.5] * 4
    damp.save()
    assert recheck_kept_plans(workshop, NOW + 2 * MINUTE) == [plan]
    run = make_plan(PlanRun.objects.latest("asked_at"), NOW + 3 * MINUTE)
    assert "only that put elsewhere which no longer holds" in run.best.note
    moved = {(change["rack"], change["label"]) for change in run.best.changes}
    assert moved
    broken = {slot.rack for slot in plan.slots.exclude(broken="")}
    assert {rack for rack, _ in moved} <= broken < set(marks.values())
    accept_plan(run.best, by=owner, now=NOW + 4 * MINUTE)
    assert recheck_kept_plans(workshop, NOW + 5 * MINUTE) == []
