"""Plans asked for, made, offered, kept and held against new weather, in steady air whose answers come by hand."""

import uuid
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from finishing.air.models import Forecast
from finishing.science.hours import Hours
from projects.plans.actions.making import make_plan
from projects.plans.actions.plans import accept_plan, ask_plan, refuse_plan, stop_plan
from projects.plans.actions.rechecking import recheck_kept_plans
from projects.record.actions.log import log_step
from projects.record.models import Piece, Plan, PlanRun, Slot, Step
from tests.factories import PartFactory, PieceFactory, VisitFactory, steady_forecast

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 11, 6, tzinfo=UTC)  # a Monday, seven o'clock by the workshop's clock
QUICK = {"seconds": 3}


@pytest.fixture
def visit(workshop):
    """Tuesday from eight to four."""
    return VisitFactory(workshop=workshop)


@pytest.fixture
def planned(workshop, owner):
    def plan(*projects, now=NOW, **settings):
        workshop.refresh_from_db()
        run = ask_plan(workshop, projects, by=owner, now=now, settings={**QUICK, **settings})
        return make_plan(run, now)

    return plan


def told(plan):
    """Each slot as its kind and beginning."""
    return [(slot.kind, slot.begin.strftime("%a %H:%M")) for slot in plan.slots.order_by("begin")]


def test_it_plans_a_frame_as_one_would_by_hand(workshop, project, piece, visit, planned):
    """20 °C and 55 %, salt not known: four hours bare. Recoat after six hours, forty minutes' work each.

    Blasted in the visit's first eight minutes, wiped in five, primed when the dust has settled for an hour; the enamel
    six hours after the primer is done; the last coat six hours after that falls into the night, so it waits for work.
    """
    steady_forecast(workshop, NOW)
    run = planned(project, seconds=20)
    assert run.state == PlanRun.State.DONE
    assert run.missing == []
    plan = run.best
    assert told(plan)[1:] == [
        ("blast", "Tue 07:00"), ("clean", "Tue 07:08"), ("coat", "Tue 08:08"), ("coat", "Tue 14:48"),
        ("coat", "Wed 07:00"),
    ]  # fmt: skip
    assert plan.slots.get(kind="mask").end <= plan.slots.get(kind="blast").begin
    assert plan.cost == 90  # call-out and travel
    assert plan.finish_at == datetime(2026, 5, 13, 11, 40, tzinfo=UTC)  # handled four hours after the last stroke
    assert plan.proven, plan.bounds
    assert run.progress["gap"] == 0
    assert {slot.people.count() for slot in plan.slots.exclude(kind="blast")} == {1}
    assert [piece.mark for piece in plan.slots.first().pieces.all()] == ["F-1"]
    assert plan.slots.get(kind="blast").visit == visit


def test_a_first_plan_is_offered_at_once_and_the_run_goes_on_from_there(workshop, owner, project, piece, visit):
    steady_forecast(workshop, NOW)
    run = ask_plan(workshop, [project], by=owner, now=NOW, settings=QUICK, at_once=True)
    run.refresh_from_db()
    assert run.state == PlanRun.State.WAITING
    assert ("blast", "Tue 07:00") in told(run.best)
    make_plan(run, NOW)
    assert run.state == PlanRun.State.DONE
    assert run.plans.get().proven


def test_where_no_plan_is_possible_the_run_says_why_and_not_the_page_that_asks(workshop, owner, project, piece, visit):
    run = ask_plan(workshop, [project], by=owner, now=NOW, settings=QUICK, at_once=True)  # no forecast is there
    assert (run.open, run.best) == (True, None)


def test_each_slot_says_why_it_stands_there(workshop, project, piece, visit, planned):
    steady_forecast(workshop, NOW)
    primer = planned(project).best.slots.filter(kind="coat").first()
    rust = next(window for window in primer.why["windows"] if window["kind"] == "rust")
    assert datetime.fromisoformat(rust["closes"]) == datetime(2026, 5, 12, 10, 53, tzinfo=UTC)  # 7:08 + 4 h − ¼ h
    assert primer.why["waits_for"]["label"] == "blow down and wipe"
    assert primer.why["margin"] == 6.3  # 20 °C over a dew point of 10.69, less the 3 that are asked  (Magnus form)


def test_a_rack_is_called_by_what_hangs_on_it(workshop, project, part, piece, roof, visit, planned):
    lever = PartFactory(design=part.design, name="lever", system=part.system, area=0.1)
    for mark in ("L-1", "L-2"):
        PieceFactory(project=project, part=lever, place=roof, mark=mark)
    steady_forecast(workshop, NOW)
    best = planned(project).best
    assert {slot.rack for slot in best.slots.all()} == {"frame, 2 × lever, green enamel"}
    first = best.slots.filter(kind="mask").first() or best.slots.filter(kind="blast").first()
    assert first.why["opens"] or first.why["earlier"] or first.visit


def test_pieces_alike_hang_on_one_rack_and_a_person_may_part_them(workshop, project, part, piece, roof, visit, planned):
    other = PieceFactory(project=project, part=part, place=roof, mark="F-2")
    steady_forecast(workshop, NOW)
    assert {slot.rack for slot in planned(project).best.slots.all()} == {"2 × frame, green enamel"}
    apart = planned(project, racks={str(other.pk): "by itself"}).best
    assert {slot.rack for slot in apart.slots.all()} == {"by itself", "F-1 frame"}


def test_what_is_missing_is_named_and_the_rest_is_planned(workshop, project, part, piece, roof, visit, system, planned):
    bare = PartFactory(design=part.design, name="cover", area=None, system=system)
    plain = PartFactory(design=part.design, name="lever", system=None)
    for each in (bare, plain):
        PieceFactory(project=project, part=each, place=roof, mark=f"{each.name} 1")
    steady_forecast(workshop, NOW)
    project.promised_on = date(2026, 5, 4)
    project.save()
    run = planned(project)
    assert run.best is not None
    pages = {(missing["page"], missing["pk"]) for missing in run.missing}
    assert pages == {("part", str(bare.pk)), ("part", str(plain.pk)), ("project-edit", str(project.pk))}


def test_without_a_forecast_it_says_so(project, piece, visit, planned):
    run = planned(project)
    assert run.state == PlanRun.State.FAILED
    assert [missing["page"] for missing in run.missing] == ["weather"]
    assert run.best is None


def test_a_visit_beyond_the_forecast_and_none_before_are_named(workshop, project, piece, planned):
    visit = VisitFactory(workshop=workshop, date=date(2026, 6, 20))
    steady_forecast(workshop, NOW, hours=72)
    run = planned(project)
    assert {(missing["page"], missing["pk"]) for missing in run.missing} == {("visit", str(visit.pk)), ("visits", "")}


def test_where_damp_air_forbids_it_a_dehumidifier_is_found_by_trying(
    workshop, project, part, shop, roof, visit, planned
):
    """92 % all week: no paint goes on, and bare iron has half an hour. The shop at 60 % allows it, salts or not."""
    PieceFactory(project=project, part=part, place=roof, mark="F-1", salt="clean")
    shop.held_at, shop.cabinet = None, True
    shop.save()
    steady_forecast(workshop, NOW, humidity=92)
    run = planned(project, people=None)
    assert run.state == PlanRun.State.FAILED
    assert run.best is None
    dried = next(change for change in run.changes if "dehumidifier" in change["words"])
    again = planned(project, **dried["settings"])
    assert again.state == PlanRun.State.DONE
    assert again.best.finish_at <= datetime.fromisoformat(dried["finish"])


def worse(workshop, at, rain_from, rain_until):
    """A later forecast: the same air, and rain between two hours of it."""
    run = Hours.from_arrays(
        np.datetime64(at.replace(tzinfo=None), "h"), temperature=np.full(480, 20.0), humidity=55.0,
        rain=np.where((np.arange(480) >= rain_from) & (np.arange(480) < rain_until), 1.0, 0.0), rain_chance=0.0,
    )  # fmt: skip
    return Forecast.objects.create(
        workshop=workshop, service="met norway", fetched_at=at, checked_at=at, hours=Forecast.columns(run)
    )


@pytest.fixture
def clear_yard(workshop, yard):
    """Iron in the yard cools to the sky unless clouds are told; salt-free iron bears it."""
    workshop.salt = "clean"
    workshop.save()
    return yard


def test_a_damper_forecast_breaks_the_kept_plan_and_another_is_offered(
    workshop, owner, project, piece, visit, planned, django_capture_on_commit_callbacks
):
    steady_forecast(workshop, NOW)
    kept = accept_plan(planned(project).best, by=owner, now=NOW)
    assert recheck_kept_plans(workshop, NOW) == []
    later = NOW + timedelta(hours=3)
    damp = np.where(np.arange(480) >= 40, 55.0, 55.0)
    damp[29:35] = 90.0  # Tuesday from 14 to 20 UTC: the second coat's hours
    run = Hours.from_arrays(
        np.datetime64(later.replace(tzinfo=None), "h"), temperature=np.full(480, 20.0), humidity=damp, rain=0.0,
        rain_chance=0.0,
    )  # fmt: skip
    Forecast.objects.create(
        workshop=workshop, service="met norway", fetched_at=later, checked_at=later, hours=Forecast.columns(run)
    )
    assert recheck_kept_plans(workshop, later) == [kept]
    broken = Slot.objects.exclude(broken="")
    assert [(slot.kind, slot.begin.strftime("%a %H:%M"), slot.broken) for slot in broken] == [
        ("coat", "Tue 14:48", "the iron sweats, or nearly, humidity outside the sheet")
    ]
    offer = make_plan(PlanRun.objects.get(state=PlanRun.State.WAITING), later).best
    assert offer.state == Plan.State.OFFERED
    assert offer.instead_of == kept
    moved = next(change for change in offer.changes if change["was"] == broken[0].begin.isoformat())
    assert moved["why"] == broken[0].broken
    assert datetime.fromisoformat(moved["now"]) > broken[0].begin
    kept.refresh_from_db()
    assert kept.kept  # nothing moves without being accepted
    accept_plan(offer, by=owner, now=later)
    kept.refresh_from_db()
    assert kept.state == Plan.State.REPLACED


def test_a_logged_step_leaves_the_rest_of_the_plan_standing(workshop, owner, project, piece, visit, planned):
    steady_forecast(workshop, NOW)
    kept = accept_plan(planned(project).best, by=owner, now=NOW)
    after = datetime(2026, 5, 12, 7, 8, tzinfo=UTC)
    assert recheck_kept_plans(workshop, after + timedelta(minutes=50)) == [kept]  # it is due, and not logged
    assert {slot.kind for slot in Slot.objects.exclude(broken="")} == {"blast", "clean"}
    rack = Piece.objects.filter(pk=piece.pk)
    log_step(by=owner, key=kept.pk, kind=Step.Kind.BLASTED, happened_at=after, pieces=rack, of_each={})
    assert recheck_kept_plans(workshop, after + timedelta(minutes=5)) == []


def test_it_is_refused_and_stopped(workshop, owner, project, piece, visit, planned):
    steady_forecast(workshop, NOW)
    plan = refuse_plan(planned(project).best, by=owner, now=NOW)
    assert plan.state == Plan.State.REFUSED
    run = ask_plan(workshop, [project], by=owner, now=NOW, settings=QUICK)
    stop_plan(run)
    assert make_plan(run, NOW).best is not None  # the first plan is there all the same


def test_the_same_form_twice_is_one_run(workshop, owner, project):
    key = "8f2e9c3a-2f0e-4c53-9b5a-2e4b9a6f0c11"
    ask_plan(workshop, [project], by=owner, now=NOW, key=key)
    assert ask_plan(workshop, [project], by=owner, now=NOW, key=key).pk == uuid.UUID(key)
