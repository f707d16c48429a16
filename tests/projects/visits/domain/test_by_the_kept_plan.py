"""A visit under a kept plan: who is blasted, in which order, from when to when, and whether he should come at all."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from finishing.workshops.models import Place
from projects.plans.actions.plans import accept_plan
from projects.record.models import Plan, Slot, Step, Visit, VisitPiece
from projects.visits.domain.blast_sheet import ByPlan, blast_sheet
from projects.visits.domain.evening import evening_before
from projects.visits.domain.settlement import settlement, shares_of
from tests import factories

pytestmark = pytest.mark.django_db
EVENING = datetime(2026, 5, 11, 18, tzinfo=UTC)
TEN = datetime(2026, 5, 12, 9, tzinfo=UTC)  # in London
HOUR = timedelta(hours=1)


@pytest.fixture
def visit(workshop, system, owner):
    """Two pieces of an hour each, 60 to come, 30 to travel, 90 an hour; in a yard so damp that no paint goes on."""
    factories.steady_forecast(workshop, EVENING - timedelta(days=3), humidity=92)
    yard = factories.PlaceFactory(workshop=workshop, name="Yard", kind=Place.Kind.YARD)
    visit = factories.VisitFactory(workshop=workshop)
    design = factories.DesignFactory(workshop=workshop)
    project = factories.ProjectFactory(design=design)
    for mark in ("F-1", "F-2"):
        part = factories.PartFactory(design=design, name=f"frame {mark}", system=system)
        piece = factories.PieceFactory(part=part, project=project, place=yard, mark=mark)
        factories.VisitPieceFactory(visit=visit, piece=piece, minutes=60)
    return Visit.objects.get()


@pytest.fixture
def shop(workshop):
    return factories.PlaceFactory(workshop=workshop, name="Shop", kind=Place.Kind.SHOP, held_at=22)


def plan_of(visit, marks, shop, state=Plan.State.KEPT, begin=TEN):
    """Blasted together under the roof of the shop, coated there two hours later, at the latest at three o'clock."""
    rows = list(visit.pieces.select_related("piece__project"))
    run = factories.PlanRunFactory(workshop=visit.workshop)
    run.projects.add(rows[0].piece.project)
    plan = factories.PlanFactory(run=run, state=state, made_at=EVENING - HOUR)
    pieces = [row.piece for row in rows if row.piece.mark in marks]
    on_rack = {"plan": plan, "pieces": pieces, "rack": "frames", "place": shop}
    long = len(pieces) * HOUR
    factories.SlotFactory(**on_rack, kind=Slot.Kind.BLAST, visit=visit, begin=begin, end=begin + long, key="blast")
    closes = [{"kind": "rust", "after": "blast", "closes": (begin + 5 * HOUR).isoformat()}]
    coat = begin + long + HOUR
    factories.SlotFactory(**on_rack, begin=coat, end=coat + HOUR, key="coat", why={"windows": closes})
    return plan


def told(visit, now=EVENING):
    return [
        (line.row.piece.mark, line.following.begins, line.following.ends, line.following.coat_from)
        for line in blast_sheet(Visit.objects.get(pk=visit.pk), now).lines
    ]


def test_what_stands_in_damp_air_tonight_and_is_coated_in_the_shop_by_the_plan_is_no_reason_to_postpone(visit, shop):
    assert evening_before(visit, EVENING).advised.word == "postpone"
    plan_of(visit, ("F-1", "F-2"), shop)
    evening = evening_before(visit, EVENING)
    assert evening.advised.word == "go"
    assert evening.go.cost == Decimal(270)
    assert told(visit) == [
        ("F-1", TEN, TEN + HOUR, TEN + 3 * HOUR),
        ("F-2", TEN + HOUR, TEN + 2 * HOUR, TEN + 3 * HOUR),
    ]
    following = evening.sheet.lines[0].following
    assert isinstance(following, ByPlan)
    assert (following.place, following.coat_place, following.coat_before) == ("Shop", "Shop", TEN + 5 * HOUR)


def test_only_what_the_plan_blasts_is_on_the_sheet_and_is_paid_for(visit, shop):
    plan_of(visit, ("F-2",), shop)
    sheet = blast_sheet(visit, EVENING)
    assert [line.row.piece.mark for line in sheet.lines] == ["F-2"]
    assert [line.row.piece.mark for line in sheet.beside] == ["F-1"]
    assert (sheet.minutes, sheet.cost) == (60, Decimal(180))
    evening = evening_before(visit, EVENING)
    assert evening.advised.word == "split"
    assert [line.row.piece.mark for line in evening.split.lines] == ["F-2"]
    assert evening.split.cost == Decimal(180)
    assert evening.go.wasted == Decimal(135)  # half of 270 is paid for F-1
    assert "finds no time" in evening.go.in_vain[0].following.why_not


def test_what_a_piece_bears_is_its_share_of_what_the_plan_blasts(visit, shop):
    plan_of(visit, ("F-2",), shop)
    shares = {row.piece.mark: shares_of(row.piece)[0].money for row in visit.rows()}
    assert shares == {"F-1": None, "F-2": Decimal(180)}


def test_between_two_racks_the_blaster_waits(visit, shop):
    plan_of(visit, ("F-1",), shop)
    plan_of(visit, ("F-2",), shop, begin=TEN + 3 * HOUR)
    sheet = blast_sheet(visit, EVENING)
    assert (sheet.waits, sheet.waits_long) == (2 * HOUR, True)


def test_a_visit_that_the_plan_does_without_is_postponed(visit, shop):
    plan_of(visit, (), shop)
    assert evening_before(visit, EVENING).advised.word == "postpone"
    assert blast_sheet(visit, EVENING).lines == []


def test_what_the_plan_blasts_another_day_says_on_which(visit, shop):
    plan = plan_of(visit, ("F-1", "F-2"), shop)
    later = factories.VisitFactory(workshop=visit.workshop, date=visit.date + timedelta(days=7))
    plan.slots.filter(kind=Slot.Kind.BLAST).update(visit=later)
    why = [line.following.why_not for line in blast_sheet(visit, EVENING).beside]
    assert why == [f"the kept plan blasts it on the visit of {later}"] * 2


def test_a_plan_that_no_longer_holds_for_a_rack_is_no_reason_to_go(visit, shop):
    plan = plan_of(visit, ("F-1", "F-2"), shop)
    plan.slots.filter(key="coat").update(broken="it is too damp then")
    evening = evening_before(visit, EVENING)
    assert evening.advised.word == "postpone"
    assert evening.go.in_vain[0].following.why_not == "the plan no longer holds for it: it is too damp then"


def test_an_offered_plan_changes_nothing_before_it_is_accepted(visit, shop, owner):
    plan = plan_of(visit, ("F-1", "F-2"), shop, state=Plan.State.OFFERED)
    assert evening_before(visit, EVENING).advised.word == "postpone"
    accept_plan(plan, by=owner, now=EVENING)
    assert evening_before(visit, EVENING).advised.word == "go"


def test_what_an_accepted_plan_blasts_is_put_on_the_visit(visit, shop, owner):
    plan = plan_of(visit, ("F-1", "F-2"), shop, state=Plan.State.OFFERED)
    VisitPiece.objects.get(piece__mark="F-2").delete()
    accept_plan(plan, by=owner, now=EVENING)
    assert [row.piece.mark for row in visit.rows()] == ["F-1", "F-2"]


def test_what_is_taken_off_though_the_plan_blasts_it_is_named(visit, shop):
    plan_of(visit, ("F-1", "F-2"), shop)
    VisitPiece.objects.get(piece__mark="F-2").delete()
    sheet = blast_sheet(visit, EVENING)
    assert [line.row.piece.mark for line in sheet.lines] == ["F-1"]
    assert [(left.row.piece.mark, left.mend) for left in sheet.left] == [("F-2", "pieces")]


def test_a_piece_blasted_on_another_day_leaves_the_visit(visit, owner):
    piece = VisitPiece.objects.get(piece__mark="F-1").piece
    factories.StepFactory(piece=piece, kind=Step.Kind.BLASTED, happened_at=EVENING - timedelta(days=1), by=owner)
    visit = Visit.objects.get()
    assert [row.piece.mark for row in visit.rows()] == ["F-2"]
    assert blast_sheet(visit, EVENING).minutes == 60
    assert [row.piece.mark for row in settlement(visit).waiting] == ["F-2"]


def test_blasted_in_the_shop_it_stands_there(visit, shop, owner):
    """Nobody logs the carrying when he logs the work that was done where it was carried to."""
    plan_of(visit, ("F-1", "F-2"), shop)
    piece = VisitPiece.objects.get(piece__mark="F-1").piece
    factories.StepFactory(piece=piece, kind=Step.Kind.BLASTED, happened_at=TEN + HOUR, place=shop, by=owner)
    sheet = blast_sheet(Visit.objects.get(), TEN + HOUR)
    assert sheet.lines[0].row.piece.state.place == shop
    assert [line.following is None for line in sheet.lines] == [True, False]
    assert evening_before(Visit.objects.get(), TEN + HOUR).go.minutes == 60
