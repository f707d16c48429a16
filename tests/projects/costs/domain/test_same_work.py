"""One part, four pages: paint list, plan, cost sheet and actuals tell the same area and minutes of it."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from finishing.coatings.models import Coating, System
from finishing.library.actions import load_library
from finishing.science.units import Quantity
from finishing.workshops.models import Workshop
from projects.costs.domain.actuals import estimated_by_work
from projects.costs.domain.cost_sheet import DesignRoutes
from projects.costs.domain.finishing_costs import Finishing
from projects.plans.domain.problem import lay_out_rows
from projects.plans.domain.terms import Terms
from projects.record.models import Operation, Piece, Slot, Step
from projects.work.domain.outlook import outlooks
from projects.work.domain.paint import paint_list
from projects.work.domain.work_log import Rack, reckoned_minutes, worked_area
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db

Process, Kind = Operation.Process, Slot.Kind
BLASTED_AT = datetime(2026, 5, 12, 7, tzinfo=UTC)
AROUND = 30  # minutes: 15 of mixing and 15 of cleaning up, for each session of a paint


@pytest.fixture
def blasted(workshop, owner, shop):
    """A piece of one square metre, just blasted, of a part with this system of the starting library."""

    def piece_of(library_key, **more):
        load_library(workshop)
        system = System.objects.get(library_key=library_key)
        part = factories.PartFactory(design__workshop=workshop, name="frame", system=system, mass=24, area=1, **more)
        piece = factories.PieceFactory(part=part, place=shop, mark="F-1")
        factories.StepFactory(piece=piece, kind=Step.Kind.BLASTED, happened_at=BLASTED_AT, by=owner)
        factories.steady_forecast(workshop, BLASTED_AT - timedelta(days=2))
        return Piece.objects.with_log().get()

    return piece_of


def shop_of(piece):
    return Workshop.objects.get(pk=piece.workshop_id)


def tasks_of(piece):
    now = BLASTED_AT + timedelta(minutes=5)
    return lay_out_rows(Terms(shop_of(piece), {}), [piece.project], now).hung[0].tasks


def coat_areas(piece):
    """m² of each coat on the paint list."""
    needs = paint_list([piece], all_layers=True, wanted="likely").needs
    coats = sorted((coat for need in needs for coat in need.coats), key=lambda coat: coat.layer.position)
    return [coat.area.to("m**2").magnitude for coat in coats]


def logged(piece):
    """Every layer of its system as the log would have it, reckoned: m² and minutes by layer."""
    steps = [
        factories.StepFactory.build(
            piece=piece, kind=Step.Kind.COATED if layer.is_coat else Step.Kind.PREPARED, layer=layer
        )
        for layer in piece.part.system.layers.all()
    ]
    rates = shop_of(piece).rates
    return [(worked_area(step), reckoned_minutes(step, rates)) for step in steps]


def finishing(piece):
    everything = frozenset({Process.BLASTING, Process.PAINTING, Process.LETTERING})
    return Finishing(shop_of(piece), {piece.part: everything})


def costed(piece, process):
    return finishing(piece).minutes(piece.part, process)


def test_a_layer_on_one_side_covers_half_a_part_on_every_page(blasted):
    """1 m²: wiped in 3 min, coated four times on half of it in 10 min, tacked off in 2 min: 45 min in all."""
    piece = blasted("cellulose-by-sides")
    assert coat_areas(piece) == [0.5, 0.5, 0.5, 0.5]
    assert logged(piece) == [(1.0, 3.0), (0.5, 10.0), (0.5, 10.0), (1.0, 2.0), (0.5, 10.0), (0.5, 10.0)]
    estimated = estimated_by_work([piece], shop_of(piece))
    assert (estimated["coats"], estimated["preparing"]) == (40, 5)
    assert costed(piece, Process.PAINTING) == Decimal(45)
    tasks = tasks_of(piece)
    assert [task.minutes for task in tasks if task.kind == Kind.COAT] == [10 + AROUND] * 4
    assert [task.minutes for task in tasks if task.kind == Kind.PREPARE] == [3, 2]
    (outlook,) = outlooks(shop_of(piece), [piece], BLASTED_AT + timedelta(minutes=5))
    assert outlook.application_h == 0.25  # the wipe and the first coat are 13 min, told as a quarter of an hour


def test_turning_over_takes_the_same_on_every_page(blasted):
    """First side, second, first, second: turned three times, 30 min for two each; the costs had nothing of it."""
    piece = blasted("cellulose-by-sides")
    turns = [task for task in tasks_of(piece) if task.kind == Kind.TURN]
    assert [(task.minutes, task.people) for task in turns] == [(30, 2)] * 3
    assert estimated_by_work([piece], shop_of(piece))["turning over"] == 90
    turned = [session for session in finishing(piece).sessions if session.turned]
    assert [session.rates.hands_to_turn_over for session in turned] == [60] * 3
    (around,) = DesignRoutes(with_route(piece.part).design, BLASTED_AT.date()).sessions
    hands = {operation.name: operation.minutes_setup for operation in around.operations if "turning" in operation.name}
    assert list(hands.values()) == [60] * 3
    step = factories.StepFactory.build(piece=piece, kind=Step.Kind.TURNED, minutes=Quantity(25, "minute"))
    assert Rack((step,)).reckoned(shop_of(piece).rates) == 30


def with_route(part):
    cost_factories.OperationFactory(part=part, process=Process.PAINTING)
    return part


def test_a_layer_all_round_covers_a_part_on_every_page(blasted):
    """1 m²: wiped in 3 min, coated twice in 20 min, tacked off in 2 min: 45 min in all.

    A plan has the tacking off in one go with the coat that follows it at once; what is wiped stands for a while first.
    """
    piece = blasted("cellulose-two-coats")
    assert coat_areas(piece) == [1.0, 1.0]
    assert logged(piece) == [(1.0, 3.0), (1.0, 20.0), (1.0, 2.0), (1.0, 20.0)]
    estimated = estimated_by_work([piece], shop_of(piece))
    assert (estimated["coats"], estimated["preparing"]) == (40, 5)
    assert (estimated["wiping"], estimated["mixing"], estimated["cleaning up"]) == (10, 30, 30)
    assert sum(session.rates.around_a_coat for session in finishing(piece).sessions) == 2 * AROUND
    assert costed(piece, Process.PAINTING) == Decimal(45)
    assert costed(piece, Process.BLASTING) == Decimal(20)  # masked and wiped, 10 min each
    tasks = tasks_of(piece)
    assert [task.minutes for task in tasks if task.kind == Kind.COAT] == [20 + AROUND, 2 + 20 + AROUND]
    assert [task.minutes for task in tasks if task.kind == Kind.CLEAN] == [10]
    (outlook,) = outlooks(shop_of(piece), [piece], BLASTED_AT + timedelta(minutes=5))
    assert outlook.application_h == pytest.approx(23 / 60)


def test_raised_letters_take_the_same_on_every_page(blasted):
    """45 min for a piece, whatever its size."""
    piece = blasted("machinery-enamel-one-coat", lettering="FORTH")
    piece.part.lettering_coating = Coating.objects.get(library_key="sign-enamel")
    piece.part.save()
    assert estimated_by_work([piece], shop_of(piece))["lettering"] == 45
    assert costed(piece, Process.LETTERING) == Decimal(45)
    assert [task.minutes for task in tasks_of(piece) if task.kind == Kind.LETTER] == [45]
    lettered = factories.StepFactory.build(piece=piece, kind=Step.Kind.LETTERED)
    assert reckoned_minutes(lettered, shop_of(piece).rates) == 45
    coat = piece.part.system.layers.get(kind="coat")
    factories.StepFactory(
        piece=piece,
        kind=Step.Kind.COATED,
        layer=coat,
        coating=coat.coating,
        happened_at=BLASTED_AT + timedelta(hours=1),
    )
    (outlook,) = outlooks(shop_of(piece), [Piece.objects.with_log().get()], BLASTED_AT + timedelta(hours=2))
    assert outlook.application_h == 0.75
