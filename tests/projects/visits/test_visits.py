"""A visit is prepared, run and settled: what becomes of the rows and the log."""

import uuid
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from finishing.calculators.forms.blasting import NozzleAir
from finishing.library.actions import load_library
from finishing.media.models import Medium
from finishing.science.nozzle import nozzle_air
from finishing.science.units import Quantity
from projects.record.models import Piece, Step, Visit, VisitPiece, VisitTask
from projects.visits import actions
from projects.visits.domain.settlement import settlement, shares_of
from projects.visits.forms import USUAL_RIG
from tests import factories

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 5, 12, 11, tzinfo=UTC)
EVENING = datetime(2026, 5, 12, 17, tzinfo=UTC)


@pytest.fixture
def visit(workshop):
    visit = factories.VisitFactory.build(workshop=workshop)
    actions.prepare_visit(visit)
    visit.refresh_from_db()
    return visit


@pytest.fixture
def pieces(workshop, roof):
    """An iron frame of 0.6 m², one of 0.3 m², and a brass plate."""
    load_library(workshop)
    design = factories.DesignFactory(workshop=workshop)
    project = factories.ProjectFactory(design=design)
    for mark, area, material in (("A", 0.6, "grey iron"), ("B", 0.3, "grey iron"), ("P", 0.02, "brass")):
        part = factories.PartFactory(design=design, name=mark, area=area, material=material)
        factories.PieceFactory(part=part, project=project, place=roof, mark=mark)
    return list(Piece.objects.with_log().order_by("mark"))


def rows(visit):
    return {row.piece.mark: row for row in visit.pieces.in_full()}


def blasted(piece, minutes=None):
    factories.StepFactory(piece=piece, kind="blasted", happened_at=NOON, minutes=minutes)


def settle(visit, by, hours=2.0, paid="270.00", used=None, timed=None):
    return actions.settle_visit(
        visit, by=by, hours=Quantity(hours, "hour"), paid=Decimal(paid), used=used or {}, timed=timed or {}, now=EVENING
    )


def test_a_new_visit_has_what_is_usually_to_be_done(visit):
    assert visit.tasks.count() == len(actions.USUAL_TASKS)
    assert visit.tasks.filter(phase="after").last().what == "Pull every plug"


def test_tasks_kept_again_stay_done(visit):
    first = visit.tasks.first()
    actions.tick_task(first, done=True, now=NOON)
    typed = [(first.pk, VisitTask(phase="needed", what="Water, 200 m of hose", minutes=5, people=1))]
    actions.keep_tasks(visit, [*typed, (None, VisitTask(phase="after", what="Tea", minutes=None, people=3))])
    told = [(task.what, bool(task.done_at)) for task in visit.tasks.all()]
    assert told == [("Water, 200 m of hose", True), ("Tea", False)]


def test_each_piece_gets_what_is_advised_for_its_metal(visit, pieces):
    actions.choose_pieces(visit, pieces)
    told = {mark: (row.medium.kind, row.pressure_most.magnitude) for mark, row in rows(visit).items()}
    assert told == {"A": ("crushed glass", 6.35), "B": ("crushed glass", 6.35), "P": ("bicarbonate", 3.0)}


def test_a_medium_that_was_chosen_stands_for_all(visit, pieces, workshop):
    garnet = Medium.objects.of(workshop).get(library_key="garnet-fine")
    actions.choose_pieces(visit, pieces, medium=garnet, grade="Sa 3")
    assert {(row.medium, row.grade) for row in rows(visit).values()} == {(garnet, "Sa 3")}


def test_choosing_again_keeps_what_was_changed_and_takes_others_off(visit, pieces):
    actions.choose_pieces(visit, pieces)
    row = rows(visit)["A"]
    row.mask_how = "two layers of tape"
    row.save()
    actions.choose_pieces(visit, pieces[:1])
    assert {mark: row.mask_how for mark, row in rows(visit).items()} == {"A": "two layers of tape"}


def test_what_was_blasted_stays_on_its_visit(visit, pieces):
    actions.choose_pieces(visit, pieces)
    blasted(pieces[0])
    actions.choose_pieces(visit, [])
    assert set(rows(visit)) == {"A"}


def test_a_refusal_goes_into_the_piece_s_log(visit, pieces, owner):
    actions.choose_pieces(visit, pieces)
    key, seen = uuid.uuid4(), {"surface_temperature": Quantity(4.5, "degC")}
    for _ in range(2):  # sent twice
        actions.refuse_piece(rows(visit)["A"], by=owner, key=key, reason="it sweated", now=NOON, **seen)
    assert rows(visit)["A"].state == VisitPiece.State.REFUSED
    step = Step.objects.get()
    assert (step.kind, step.note) == ("noted", "Not blasted on the visit of Grit Brothers: it sweated")
    assert step.surface_temperature.magnitude == 4.5
    actions.wait_again(rows(visit)["A"])
    assert rows(visit)["A"].state == VisitPiece.State.WAITING


def test_money_goes_by_timed_minutes_and_the_rest_by_what_was_reckoned(visit, pieces, owner):
    """Two hours: A timed 80 minutes, B is left with the other 40. 270.00 by 2 to 1."""
    actions.choose_pieces(visit, pieces[:2])
    blasted(pieces[0], minutes=80)
    blasted(pieces[1])
    whole = settlement(settle(visit, owner))
    assert {row.piece.mark: (minutes, share) for row, minutes, share in whole.borne} == {
        "A": (80, Decimal("180.00")),
        "B": (40, Decimal("90.00")),
    }


def test_what_was_refused_or_still_waits_bears_nothing(visit, pieces, owner):
    actions.choose_pieces(visit, pieces)
    blasted(pieces[0])
    actions.refuse_piece(rows(visit)["B"], by=owner, key=uuid.uuid4(), reason="cold", now=NOON)
    whole = settlement(settle(visit, owner))
    assert [(row.piece.mark, share) for row, _, share in whole.borne] == [("A", Decimal("270.00"))]
    assert [row.piece.mark for row in whole.refused] == ["B"]
    assert [row.piece.mark for row in whole.waiting] == ["P"]


def test_a_day_on_which_nothing_was_blasted_falls_on_none(visit, pieces, owner):
    actions.choose_pieces(visit, pieces)
    assert settlement(settle(visit, owner)).shares == {}


def test_minutes_typed_afterwards_go_into_the_log(visit, pieces, owner):
    actions.choose_pieces(visit, pieces[:2])
    for piece in pieces[:2]:
        blasted(piece)
    settle(visit, owner, timed={rows(visit)["A"].pk: Quantity(50, "minute")})
    assert rows(visit)["A"].timed.magnitude == 50
    assert rows(visit)["B"].timed is None
    step = Step.objects.get(kind="noted")
    assert (step.piece.mark, step.minutes.magnitude) == ("A", 50)


def test_a_visit_settled_anew_voids_the_minutes_it_wrote(visit, pieces, owner):
    actions.choose_pieces(visit, pieces[:1])
    blasted(pieces[0])
    pk = rows(visit)["A"].pk
    for minutes in (50, 50, 45):
        settle(visit, owner, timed={pk: Quantity(minutes, "minute")})
    assert rows(visit)["A"].timed.magnitude == 45
    standing = Step.objects.filter(kind="noted", voided_by=None)
    assert [step.minutes.magnitude for step in standing] == [45]
    assert Step.objects.filter(kind="noted").count() == 2
    settle(visit, owner)
    assert rows(visit)["A"].timed is None


def test_minutes_of_the_days_own_entry_are_never_written_twice(visit, pieces, owner):
    actions.choose_pieces(visit, pieces[:1])
    blasted(pieces[0], minutes=30)
    settle(visit, owner, timed={rows(visit)["A"].pk: Quantity(50, "minute")})
    assert rows(visit)["A"].timed.magnitude == 30
    assert not Step.objects.filter(kind="noted").exists()


def test_medium_is_shared_by_minutes_and_adds_up(visit, pieces, owner):
    actions.choose_pieces(visit, pieces[:2])
    blasted(pieces[0], minutes=80)
    blasted(pieces[1], minutes=40)
    glass = rows(visit)["A"].medium
    settle(visit, owner, used={glass.pk: Quantity(62.5, "kg")})
    used = [row.used.magnitude for row in rows(visit).values()]
    assert used == [41.67, 20.83]


def test_estimate_and_outcome_stand_side_by_side(visit, pieces, owner):
    """Reckoned 60 + 30 + 90 · 1 h = 180 for an hour; two hours and 270 are 100 and 50 % more."""
    actions.choose_pieces(visit, pieces[:1])
    VisitPiece.objects.update(minutes=60)
    blasted(pieces[0])
    whole = settlement(settle(visit, owner))
    assert (whole.hours.reckoned, whole.hours.real, whole.hours.more) == (1.0, 2.0, 100)
    assert (whole.money.reckoned, whole.money.real, whole.money.more) == (Decimal("180.00"), Decimal("270.00"), 50)


def test_a_piece_knows_its_share_before_and_after(visit, pieces, owner):
    actions.choose_pieces(visit, pieces[:1])
    (before,) = shares_of(pieces[0])
    assert not before.paid
    assert before.money > 90
    blasted(pieces[0])
    settle(visit, owner)
    (after,) = shares_of(pieces[0])
    assert (after.paid, after.money) == (True, Decimal("270.00"))
    actions.cancel_visit(visit, now=NOON)
    assert shares_of(pieces[0]) == []


def test_cancelled_once_it_keeps_its_moment(visit):
    for now in (NOON, EVENING):
        actions.cancel_visit(visit, now=now)
    assert Visit.objects.get().cancelled_at == NOON


def test_every_rig_that_is_proposed_or_tried_is_one_of_our_own():
    """6 mm in a hose of 25; at 5 bar it takes 1.60 m³/min, and 2.6 are half as much again (choked flow, C = 0.80,
    against [NOZZLE-TABLE]; the reserve common practice): the form, the calculators and the tests' visits alike."""
    at_five_bar = nozzle_air(USUAL_RIG["nozzle_bore"], Quantity(5, "bar"))
    assert at_five_bar.to("m**3/minute").magnitude == pytest.approx(1.60, abs=0.06)
    assert USUAL_RIG["free_air"] >= 1.5 * at_five_bar
    asked = NozzleAir.base_fields
    assert {name: asked[box].initial for name, box in RIG_BOXES.items()} == USUAL_RIG
    made = factories.VisitFactory.build()
    assert {name: Quantity(getattr(made, name), value.units) for name, value in USUAL_RIG.items()} == USUAL_RIG


RIG_BOXES = {"nozzle_bore": "bore", "hose_bore": "hose_bore", "most_pressure": "most_pressure", "free_air": "free_air"}
