"""Rows against the handbook's worked batch (amortisation) and against which way of making must win."""

from datetime import date
from decimal import Decimal

import pytest

from projects.costs.domain.cost_sheet import WHOLE, CostSheet, DesignRoutes
from projects.money.unit_cost import CostingTerms, machine_cost
from projects.record.models import CostTerms, Operation, Part, Tool
from projects.record.models.cost_terms import terms_of
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db

Process = Operation.Process
DAY = date(2026, 5, 12)
FREE = CostingTerms(wage=Decimal(0))


@pytest.fixture
def frame(workshop):
    part = factories.PartFactory(design__workshop=workshop, name="frame", mass=12.5)
    return Part.objects.get(pk=part.pk)


@pytest.fixture
def casting(frame):
    """A pattern of 640 and a core box of 180; a set-up of 95; 12.5 kg at 4.20 and 6 of fettling."""
    row = cost_factories.OperationFactory(
        part=frame, setup=Decimal(95), each=Decimal(6), per_kilogram=Decimal("4.20"), position=2
    )
    for kind, cost in ((Tool.Kind.PATTERN, 640), (Tool.Kind.CORE_BOX, 180)):
        cost_factories.ToolFactory(operation=row, kind=kind, cost=Decimal(cost), state=Tool.State.WANTED)
    return row


def part_cost(route, machines, terms):
    return machine_cost([route], machines, terms).parts[0]


def routes(frame, **options):
    return DesignRoutes(frame.design, DAY, **options)


def each(frame, machines, terms=FREE):
    (route,) = routes(frame).made
    return part_cost(route, machines, terms).each


@pytest.mark.parametrize(("machines", "cost"), [(1, "973.50"), (5, "241.50"), (20, "104.25")])
def test_the_amortisation_of_the_handbook(frame, casting, machines, cost):
    # computed in the trade handbook, section 8.2, example 1
    assert each(frame, machines) == Decimal(cost)


def test_tools_spread_over_fifty_lives(frame, casting):
    casting.tools.update(life=50)
    assert each(frame, 5, CostingTerms(wage=Decimal(0), spread_tools=True)) == Decimal("93.90")


def test_a_tool_in_use_is_paid_for(frame, casting):
    casting.tools.update(state=Tool.State.IN_USE)
    assert each(frame, 5) == Decimal("77.50")  # 95 / 5 + 58.50


def test_a_quote_stands_in_for_our_own_figures(frame, casting):
    casting.tools.update(state=Tool.State.IN_USE)
    cost_factories.QuoteFactory(operation=casting, prices={1: "48", 5: "42", 10: "36"})
    assert each(frame, 5) == Decimal(42)
    assert each(frame, 9) == Decimal(40)  # ten are ordered, for 360


def test_at_each_size_the_cheapest_quote_is_taken(frame, casting):
    casting.tools.update(state=Tool.State.IN_USE)
    cost_factories.QuoteFactory(operation=casting, supplier__name="near", prices={1: "50"})
    cost_factories.QuoteFactory(operation=casting, supplier__name="far", prices={1: "40"}, setup=Decimal(100))
    (route,) = routes(frame).made
    suppliers = [part_cost(route, n, FREE).lines[0].operation.supplier for n in (9, 11)]
    assert suppliers == ["near", "far"]


def test_what_may_be_done_here_competes_with_quotes(frame):
    row = cost_factories.OperationFactory(part=frame, process=Process.MACHINING, in_house=True, each_minutes=60)
    cost_factories.QuoteFactory(operation=row, prices={1: "48"})
    assert each(frame, 1, CostingTerms(wage=Decimal(30))) == Decimal(30)
    assert each(frame, 1, CostingTerms(wage=Decimal(90))) == Decimal(48)


def test_a_quote_that_ended_is_left_out_unless_asked_for(frame, casting):
    casting.tools.update(state=Tool.State.IN_USE)
    cost_factories.QuoteFactory(operation=casting, prices={1: "1"}, valid_until=date(2026, 5, 11))
    assert each(frame, 1) == Decimal("153.50")
    (route,) = routes(frame, expired=True).made
    assert part_cost(route, 1, FREE).each == Decimal(1)


def test_a_pattern_is_made_once_and_not_paid_again_with_the_casting(frame, casting):
    made = cost_factories.OperationFactory(part=frame, process=Process.PATTERN, position=1, each=Decimal(700))
    (route,) = routes(frame).made
    pattern, cast = part_cost(route, 5, FREE).lines
    assert (pattern.key, pattern.total, cast.tools) == (str(made.pk), Decimal(700), Decimal(0))


def test_a_pattern_in_use_that_lasts_is_not_made_again(frame, casting):
    cost_factories.OperationFactory(part=frame, process=Process.PATTERN, position=1, each=Decimal(700))
    casting.tools.update(state=Tool.State.IN_USE)
    (route,) = routes(frame).made
    assert part_cost(route, 5, FREE).lines[0].total == 0


def test_the_machine_as_a_whole_has_a_route_of_its_own(frame, casting):
    cost_factories.OperationFactory(part=None, design=frame.design, workshop=frame.workshop,
                                    process=Process.ASSEMBLY, each=Decimal(80))  # fmt: skip
    assert [route.part for route in routes(frame).made] == ["frame", WHOLE]


def test_what_nobody_knows_is_named_with_its_page(frame):
    row = cost_factories.OperationFactory(part=frame, process=Process.MACHINING)
    other = factories.PartFactory(design=frame.design, name="wheel")
    found = [(gap.page, gap.row.pk) for gap in routes(frame).gaps]
    assert found == [("route", other.pk), ("operation", row.pk)]


@pytest.fixture
def painted(frame, casting):
    system = factories.SystemFactory(workshop=frame.workshop)
    coating = factories.CoatingFactory(workshop=frame.workshop)
    factories.TinSizeFactory(coating=coating, litres=1, price="18.00")
    factories.LayerFactory(system=system, position=1, coating=coating, minutes=20)
    Part.objects.filter(pk=frame.pk).update(system=system, area=2)
    cost_factories.OperationFactory(part=frame, process=Process.PAINTING, position=3)
    return Part.objects.get(pk=frame.pk)


def test_paint_is_bought_in_whole_tins_for_all_machines(painted):
    (paint,) = DesignRoutes(painted.design, DAY).bought_for_all([1, 2, 12])
    costs = [part_cost(paint, machines, FREE).total for machines in (1, 2, 12)]
    assert costs[0] == Decimal(18)
    assert costs[2] < 12 * costs[0]
    assert all(cost % 18 == 0 for cost in costs)


def test_painting_takes_our_minutes_from_area_and_system(painted):
    (frame,) = DesignRoutes(painted.design, DAY).made
    line = part_cost(frame, 3, CostingTerms(wage=Decimal(60))).lines[-1]
    assert (line.setup, line.work) == (Decimal(0), Decimal(120))  # 3 · 2 m² · 20 min/m²


def test_mixing_and_cleaning_up_stand_on_the_sheet_once_a_session(painted):
    """15 + 15 min for one machine and for fifteen, of 40 min each; the sixteenth begins another day of ten hours."""
    (around,) = DesignRoutes(painted.design, DAY).sessions
    costs = [part_cost(around, machines, CostingTerms(wage=Decimal(60))).total for machines in (1, 15, 16)]
    assert costs == [Decimal(30), Decimal(30), Decimal(60)]


def test_the_sheet_takes_the_workshops_wage_and_says_when_there_is_none(painted):
    terms = terms_of(painted.design)
    assert [gap.page for gap in CostSheet(painted.design, terms, DAY).gaps] == ["cost-terms"]
    terms.wage = Decimal(30)
    assert CostSheet(painted.design, terms, DAY).gaps == []


def test_a_one_off_carries_all_development_a_batch_its_share(frame, casting):
    cost_factories.ExpenseFactory(design=frame.design, amount=Decimal(1500))
    CostTerms.objects.create(workshop=frame.workshop, design=frame.design, recover_over=20)
    sheet = CostSheet(frame.design, terms_of(frame.design), DAY)
    assert sheet.one_off.each == Decimal("2473.50")
    assert sheet.batch(5).each == Decimal("316.50")  # 241.50 and a twentieth of 1500


def test_dearer_castings_move_the_whole_ladder(frame, casting):
    sheet = CostSheet(frame.design, terms_of(frame.design), DAY, shares={"casting": Decimal(2)})
    assert sheet.ladder.rungs[4].each == Decimal("319.00")  # 820 / 5 + 2 · (95 / 5 + 58.50)


def test_a_quote_of_an_earlier_revision_is_left_out_unless_asked_for(frame, casting):
    """As the ordering plan has it: 42 each for revision A; B is drawn, and our own 77.50 counts again."""
    casting.tools.update(state=Tool.State.IN_USE)
    first = cost_factories.RevisionFactory(part=frame, label="A")
    cost_factories.QuoteFactory(operation=casting, revision=first, prices={1: "42"})
    assert each(frame, 5) == Decimal(42)
    cost_factories.RevisionFactory(part=frame, label="B")
    assert each(frame, 5) == Decimal("77.50")
    assert len(routes(frame).left_out) == 1
    (route,) = routes(frame, expired=True).made
    assert part_cost(route, 5, FREE).each == Decimal(42)


@pytest.mark.parametrize(
    "spoilt",
    [
        lambda quote: quote.__class__.objects.update(withdrawn=True),
        lambda quote: quote.supplier.__class__.objects.update(retired=True),
    ],
)
def test_withdrawn_quotes_and_suppliers_no_longer_asked_never_count(frame, casting, spoilt):
    casting.tools.update(state=Tool.State.IN_USE)
    spoilt(cost_factories.QuoteFactory(operation=casting, prices={1: "42"}))
    (route,) = routes(frame, expired=True).made
    assert part_cost(route, 5, FREE).each == Decimal("77.50")
    assert not routes(frame).left_out


def test_a_quote_in_money_without_a_rate_is_named(frame, casting):
    quote = cost_factories.QuoteFactory(operation=casting, supplier__currency="CHF", prices={1: "42"})
    (gap,) = routes(frame).gaps
    assert (gap.page, gap.row) == ("quote", quote)
    assert "CHF" in gap.why
