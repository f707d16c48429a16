"""A retarder stirred into one layer of a system reaches every page that tells of that layer, and of no other.

65 % and 30 °C without it, 75 % and 35 °C with it, and half as slow again (common practice, no source).
"""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from finishing.air.domain.seasons import SystemThroughYears
from projects.costs.domain.cost_sheet import DesignRoutes
from projects.plans.domain.tasks import RackTask
from projects.record.models import Piece, Slot, Step
from projects.work.domain.outlook import outlooks
from projects.work.domain.paint import paint_list
from projects.work.domain.verdicts import Conditions, judge
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db

NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)  # a Tuesday, nine o'clock by the workshop's clock


@pytest.fixture
def cellulose(workshop):
    """Brushing cellulose, two coats; air of 70 % is too damp for it."""
    tin = factories.CoatingFactory(
        workshop=workshop, generic_type="cellulose enamel", humidity_max=65, temperature_max=30, self_priming=True
    )
    factories.TinSizeFactory(coating=tin, litres=5, price=60)
    return factories.with_drying_table(tin)


@pytest.fixture
def layers(workshop, cellulose):
    system = factories.SystemFactory(workshop=workshop)
    return [factories.LayerFactory(system=system, position=at, coating=cellulose) for at in (1, 2)]


@pytest.fixture
def retarder(cellulose):
    return cellulose.additives.create(
        workshop=cellulose.workshop, name="retarder", dose=2, slower=1.5, humidity_max=75, temperature_max=35, price=30
    )


@pytest.fixture
def piece(workshop, roof, layers):
    factories.steady_forecast(workshop, NINE - timedelta(days=1), humidity=70)
    part = factories.PartFactory(design__workshop=workshop, system=layers[0].system, area=1)
    piece = factories.PieceFactory(part=part, place=roof, salt="clean")
    factories.StepFactory(piece=piece, kind="blasted", happened_at=NINE - timedelta(hours=1))
    return piece


def look(piece):
    return outlooks(piece.workshop, [Piece.objects.with_log().get(pk=piece.pk)], NINE)[0]


def verdict(piece, layer):
    return judge(look(piece), Step.Kind.COATED, NINE, Conditions(20, 70, 20), layer)


def test_windows_open_for_the_layer_that_has_it(piece, layers, retarder):
    assert look(piece).next_span is None
    layers[1].additives.add(retarder)
    assert look(piece).next_span is None
    layers[0].additives.add(retarder)
    assert look(piece).gates.humidity_max == 75
    assert look(piece).next_span is not None


def test_the_log_judges_each_layer_by_its_own_limits(piece, layers, retarder):
    layers[0].additives.add(retarder)
    assert verdict(piece, layers[0]).word == Step.Verdict.INSIDE
    assert "at most 65 %" in verdict(piece, layers[1]).words


def test_a_coat_that_is_on_dries_as_slowly_as_what_went_into_it(piece, layers, retarder):
    coat = {"layer": layers[0], "coating": layers[0].coating}
    factories.StepFactory(piece=piece, kind="coated", happened_at=NINE, **coat)
    plain = look(piece).last_on.slower
    layers[0].additives.add(retarder)
    assert look(piece).last_on.slower == pytest.approx(1.5 * plain)
    layers[0].coating = factories.CoatingFactory(workshop=piece.workshop)  # what went on was another tin's
    layers[0].save()
    assert look(piece).last_on.slower == plain


def test_seasons_and_plans_reckon_with_it(workshop, yard, layers, retarder):
    layers[0].additives.add(retarder)
    system = layers[0].system
    _, first, second = [named.step for named in SystemThroughYears(workshop, system, yard, 1.0, 0.01, []).steps]
    assert (first.gates.humidity_max, second.gates.humidity_max) == (75, 65)
    assert first.slower == 1.5 * second.slower
    tasks = [RackTask(str(layer), Slot.Kind.COAT, "", 20, layer, layer.coating) for layer in system.layers.all()]
    assert [(task.gates.humidity_max, task.slower) for task in tasks] == [(75, 1.5), (65, 1)]


def test_paint_list_and_costs_buy_it_for_that_layer(piece, layers, retarder):
    layers[0].additives.add(retarder)
    (dose,) = paint_list(Piece.objects.with_log(), all_layers=True, wanted="likely").needs[0].additives
    cost_factories.OperationFactory(part=piece.part, process="painting")
    bought = DesignRoutes(piece.part.design, date(2026, 5, 12)).finishing.paint(1)
    (stirred_in,) = [one for one in bought if one.what.startswith("retarder")]
    assert stirred_in.cost == dose.cost > Decimal("0.01")
