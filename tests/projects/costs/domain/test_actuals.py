"""Estimates of a project against what its log, visits and orders tell, by hand."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from finishing.science.units import Quantity
from projects.buying.actions.paint_receipts import void_paint
from projects.costs.domain.actuals import ActualLine, ProjectActuals
from projects.record.models import CostTerms, Project, Step
from tests import cost_factories, factories
from tests.projects.worked import brushed_frame, coated, taken_back, two_pieces, worked

pytestmark = pytest.mark.django_db

Kind = Step.Kind
DAY = date(2026, 5, 12)


@pytest.fixture
def frame(workshop):
    return brushed_frame(workshop)


@pytest.fixture
def project(frame):
    return two_pieces(frame)[0].project


def first(project):
    return project.pieces.get(mark="F-1")


def actuals(project):
    return ProjectActuals(Project.objects.get(pk=project.pk), DAY)


def row(rows, what):
    return next(row for row in rows if row.what == what)


def test_only_what_has_a_time_is_held_against_it(project):
    """Two coats of 10 min are thought; one is done, in 13."""
    coated(first(project), minutes=13)
    coated(project.pieces.get(mark="F-2"))
    coats = row(actuals(project).minutes, "coats")
    assert (coats.estimate, coats.estimate_to_date, coats.actual) == (20, 10, 13)
    assert (coats.difference, coats.more, coats.rests_on) == (3, 30, "1 of 2 entries with a time")


def test_nothing_logged_is_not_nothing(project):
    coats = row(actuals(project).minutes, "coats")
    assert (coats.estimate_to_date, coats.actual, coats.difference, coats.more) == (None, None, None, None)


def test_an_entry_taken_back_took_no_time(project):
    taken_back(coated(first(project), minutes=99))
    assert row(actuals(project).minutes, "coats").actual is None


def test_mixing_and_masking_are_thought(project):
    """15 min before and 15 after one coat of one part; 1 m² · 10 min/m² of masking, and of wiping."""
    rows = actuals(project).minutes
    told = {name: row(rows, name) for name in ("mixing", "cleaning up", "masking", "wiping")}
    assert {name: one.estimate for name, one in told.items()} == {
        "mixing": 15, "cleaning up": 15, "masking": 10, "wiping": 10,
    }  # fmt: skip
    assert all(one.actual is None for one in told.values())


def test_a_second_part_of_the_same_paint_is_no_second_session(project, frame):
    """Two parts with one coat of the same enamel: 15 min of mixing, where each part had its own, 30."""
    wheel = factories.PartFactory(design=frame.design, name="wheel", system=frame.system, area=1)
    factories.PieceFactory(part=wheel, project=project, mark="W-1")
    assert row(actuals(project).minutes, "mixing").estimate == 15


def test_mixing_and_masking_are_held_against_their_entries(project):
    """Half a square metre masked in 7 min where 5 are reckoned; the pot for both pieces mixed in 11 of 15 min."""
    pieces = list(project.pieces.order_by("mark"))
    worked(pieces[:1], "masking", 7)
    worked(pieces, "mixing", 11)
    rows = actuals(project).minutes
    masking, mixing = row(rows, "masking"), row(rows, "mixing")
    assert (masking.estimate_to_date, masking.actual) == (5, 7)
    assert (mixing.estimate_to_date, mixing.actual, mixing.difference) == (15, 11, -4)


def test_own_hands_of_the_routes_are_held_against_their_entries(project, frame):
    """A lot of two with 5 min of set-up: 5 + 2 · 25 thought, 61 taken, in the project and at the part."""
    cost_factories.OperationFactory(part=frame, process="fettling", setup_minutes=5, each_minutes=25)
    worked(project.pieces.order_by("mark"), "fettling", 61)
    fettling = row(actuals(project).hands.by_process, "fettling")
    assert (fettling.estimate, fettling.estimate_to_date, fettling.actual) == (30, 55, 61)
    of_frame = row(actuals(project).of_part(frame), "fettling")
    assert (of_frame.estimate_to_date, of_frame.actual) == (55, 61)


def test_one_piece_fettled_on_two_days_is_thought_once(project, frame):
    cost_factories.OperationFactory(part=frame, process="fettling", setup_minutes=5, each_minutes=25)
    for day in range(2):
        worked([first(project)], "fettling", 20, day=day)
    fettling = row(actuals(project).hands.by_process, "fettling")
    assert (fettling.estimate_to_date, fettling.actual, fettling.rests_on) == (30, 40, "2 entries with a time")


def test_the_second_machine_is_thought_to_go_faster(project, frame):
    """The first takes 100 min, and every doubling leaves 80 % of it: 100 + 80."""
    cost_factories.OperationFactory(
        part=None,
        workshop=frame.workshop,
        design=frame.design,
        process="assembly",
        each_minutes=100,
        learning=Decimal(80),
    )
    for number, piece in enumerate(project.pieces.order_by("mark"), start=1):
        piece.machine = factories.MachineFactory(project=project, number=str(number))
        piece.save()
        worked([piece], "assembly", 95, day=number)
    assembly = row(actuals(project).hands.by_process, "assembly")
    assert (assembly.estimate_to_date, assembly.actual) == (pytest.approx(180), 190)


def test_work_of_no_route_or_of_two_operations_is_taken_and_not_compared(project, frame):
    worked([first(project)], "machining", 40)
    assert (
        row(actuals(project).hands.by_process, "machining").estimate_to_date,
        row(actuals(project).hands.by_process, "machining").actual,
    ) == (
        None,
        40,
    )
    for name in ("turning", "drilling"):
        cost_factories.OperationFactory(part=frame, process="machining", name=name, each_minutes=10)
    machining = row(actuals(project).hands.by_process, "machining")
    assert (machining.estimate_to_date, machining.actual) == (None, 40)
    assert "no single operation" in machining.how


def test_time_for_which_nothing_is_reckoned_has_no_difference(project):
    factories.StepFactory(piece=project.pieces.first(), kind=Kind.TOUCHED_UP, minutes=4)
    touched = row(actuals(project).minutes, "touching up")
    assert (touched.actual, touched.difference) == (4, None)


def test_own_hands_of_the_routes_are_thought(project, frame):
    """One machine of one frame: 5 min of set-up and 25 min of fettling, whatever an hour costs."""
    CostTerms.objects.create(workshop=project.workshop, design=project.design, wage=Decimal(31), overhead=Decimal(40))
    cost_factories.OperationFactory(part=frame, process="fettling", setup_minutes=5, each_minutes=25)
    assert row(actuals(project).hands.by_process, "fettling").estimate == 30


def test_paint_is_held_against_the_paint_list(project):
    coated(first(project), litres=0.08)
    paint = row(actuals(project).paint.by_coating, "enamel")
    (need,) = actuals(project).paint.paints.needs
    likely = need.coats[0].each.likely.to("liter").magnitude
    assert paint.estimate == pytest.approx(2 * likely)
    assert paint.estimate_to_date == pytest.approx(likely)
    assert paint.actual == pytest.approx(0.08)


def test_part_by_part(project, frame):
    coated(first(project), minutes=13, litres=0.08)
    assert actuals(project).parts == {frame: 2}
    rows = actuals(project).of_part(frame)
    minutes = row(rows, "minutes of finishing")
    assert (minutes.estimate_to_date, minutes.actual) == (10, 13)
    assert row(rows, "paint").actual == pytest.approx(0.08)
    assert "blasting" not in [line.what for line in rows]


@pytest.fixture
def visit(project):
    visit = factories.VisitFactory(workshop=project.workshop)
    for piece in project.pieces.all():
        factories.VisitPieceFactory(visit=visit, piece=piece)
        noon = datetime(2026, 5, 12, 11, tzinfo=UTC)
        factories.StepFactory(piece=piece, kind=Kind.BLASTED, happened_at=noon, minutes=12)
    return visit


def test_blasting_is_thought_until_it_is_paid(project, visit):
    (before,) = actuals(project).blast.by_visit
    assert before.estimate > 0
    assert (before.estimate_to_date, before.actual) == (None, None)
    visit.paid, visit.hours = Decimal(240), Quantity(1, "hour")
    visit.save()
    (after,) = actuals(project).blast.by_visit
    assert after.estimate_to_date == after.estimate
    assert after.actual == 240


def test_a_visit_of_two_projects_lays_on_each_its_share(project, visit, frame):
    other = factories.ProjectFactory(design=frame.design)
    stranger = factories.PieceFactory(part=frame, project=other, place=project.pieces.first().place)
    factories.VisitPieceFactory(visit=visit, piece=stranger)
    noon = datetime(2026, 5, 12, 11, tzinfo=UTC)
    factories.StepFactory(piece=stranger, kind=Kind.BLASTED, happened_at=noon, minutes=24)
    visit.paid = Decimal(240)
    visit.save()
    assert actuals(project).blast.by_visit[0].actual == 120  # 12 + 12 of 48 minutes
    assert actuals(other).blast.by_visit[0].actual == 120


@pytest.fixture
def casting(frame):
    row = cost_factories.OperationFactory(part=frame)
    cost_factories.QuoteFactory(operation=row, prices={1: "50"})
    return row


def test_an_order_is_held_against_its_share_of_the_sheet(project, casting):
    """Four frames at 50 are thought; three are ordered for 165."""
    for number in range(4):
        factories.MachineFactory(project=project, number=str(number))
    order = cost_factories.OrderFactory(design=project.design, project=project, delivery=Decimal(12))
    line = cost_factories.OrderLineFactory(order=order, operation=casting, quantity=3, pieces_cost=Decimal(165))
    cost_factories.ReceiptFactory(line=line, good=1, rejected=1, why="porosity")
    cost_factories.PaymentFactory(order=order, amount=Decimal(60))
    orders = actuals(project).orders
    cast = row(orders.rows, "casting")
    assert (cast.estimate, cast.estimate_to_date, cast.actual, cast.more) == (200, 150, 165, 10)
    assert cast.rests_on == "3 ordered, 1 came good, 1 rejected"
    assert row(orders.rows, "delivery and least-order charges").actual == 12
    assert (orders.paid, orders.to_pay) == (60, 117)


def test_an_order_in_other_money_is_told_in_ours(project, casting):
    supplier = cost_factories.SupplierFactory(workshop=project.workshop, currency="EUR")
    order = cost_factories.OrderFactory(design=project.design, project=project, supplier=supplier)
    cost_factories.OrderLineFactory(order=order, operation=casting, quantity=1, pieces_cost=Decimal(100))
    assert actuals(project).orders.source.without_rate == [order]
    cost_factories.RateFactory(workshop=project.workshop)
    assert row(actuals(project).orders.rows, "casting").actual == 85


def test_the_working_says_nothing_logged():
    working = ActualLine("coats", "min", estimate=20.0).working("GBP")
    assert ("took", "nothing logged") in working.inputs
    assert working.result == "not known"


def test_paint_bought_is_held_against_the_tins_of_the_list(project, frame):
    """A litre tin at 20 covers the list; 2 L were bought for 46: 40 are thought for that, 20 for what is needed."""
    enamel = frame.system.layers.get().coating
    factories.TinSizeFactory(coating=enamel, litres=1, price=Decimal(20))
    cost_factories.PaintReceiptFactory(project=project, coating=enamel, price=Decimal(46))
    bought = row(actuals(project).paint.bought, "enamel")
    assert (bought.estimate, bought.estimate_to_date, bought.actual, bought.more) == (20, 40, 46, 15)
    assert bought.rests_on == "2 L on 1 receipt"


def test_paint_of_no_price_is_paid_and_not_thought(project, frame):
    cost_factories.PaintReceiptFactory(project=project, coating=frame.system.layers.get().coating)
    bought = row(actuals(project).paint.bought, "enamel")
    assert (bought.estimate, bought.estimate_to_date, bought.actual) == (None, None, 40)


def test_paint_in_other_money_is_told_in_ours(project, frame):
    cost_factories.RateFactory(workshop=project.workshop)
    given = {"project": project, "coating": frame.system.layers.get().coating}
    cost_factories.PaintReceiptFactory(**given, price=Decimal(100), currency="EUR")
    assert row(actuals(project).paint.bought, "enamel").actual == 85


def test_a_receipt_of_paint_taken_back_is_not_paid(project, frame):
    receipt = cost_factories.PaintReceiptFactory(project=project, coating=frame.system.layers.get().coating)
    for _ in range(2):  # asked for twice
        void_paint(receipt, by=receipt.by, reason="another project's", day=DAY)
    assert actuals(project).paint.bought == []
    assert project.paint_receipts.count() == 2


def test_the_money_of_a_parts_paint_is_by_the_litres_on_it(project, frame):
    """A tin at 20 is for both pieces, 10 for the one that is coated: with 0.08 L at 23 a litre, 2 L for 46."""
    enamel = frame.system.layers.get().coating
    factories.TinSizeFactory(coating=enamel, litres=1, price=Decimal(20))
    cost_factories.PaintReceiptFactory(project=project, coating=enamel, price=Decimal(46))
    coated(first(project), litres=0.08)
    money = row(actuals(project).of_part(frame), "paint, its money")
    assert (money.estimate, money.estimate_to_date, money.actual) == (20, 10, Decimal("1.84"))
    assert money.rests_on == "1 of 1 coats with litres and a receipt"


def test_a_parts_paint_without_receipt_has_cost_nothing_known(project, frame):
    coated(first(project), litres=0.08)
    money = actuals(project).paint.money_on_part(frame)
    assert (money.estimate, money.estimate_to_date, money.actual) == (None, None, None)
    assert money not in actuals(project).of_part(frame)
