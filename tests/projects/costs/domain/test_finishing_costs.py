"""Minutes against areas times rates, paint against the paint list of pieces that are there, days by hand."""

from datetime import date
from decimal import Decimal

import pytest

from finishing.workshops.models import Place, Workshop
from projects.costs.domain.finishing_costs import Bought, Finishing
from projects.record.models import Operation, Part, Piece, Visit
from projects.work.domain.paint import paint_list
from tests import factories

pytestmark = pytest.mark.django_db

Process = Operation.Process


@pytest.fixture
def enamel(workshop):
    coating = factories.CoatingFactory(workshop=workshop, name="enamel", is_primer=False)
    factories.TinSizeFactory(coating=coating, litres=1, price="18.00")
    factories.TinSizeFactory(coating=coating, litres=5, price="70.00")
    return coating


@pytest.fixture
def part(workshop, enamel):
    system = factories.SystemFactory(workshop=workshop)
    for position in (1, 2):
        factories.LayerFactory(system=system, position=position, coating=enamel, minutes=20)
    part = factories.PartFactory(design__workshop=workshop, system=system, area=2, quantity=2, lettering="FORTH")
    return Part.objects.get(pk=part.pk)


@pytest.fixture
def finishing(workshop, part):
    everything = frozenset({Process.BLASTING, Process.PAINTING, Process.LETTERING})
    return Finishing(Workshop.objects.get(pk=workshop.pk), {part: everything})


@pytest.fixture
def visit(workshop):
    return Visit.objects.create(
        workshop=workshop, date=date(2026, 5, 12), contractor="Tom's grit", nozzle_bore=6,
        call_out=Decimal(60), travel=Decimal("35.50"), rate=Decimal(85),
    )  # fmt: skip


def test_two_coats_are_brushed_twice(finishing, part):
    # 2 m² · 20 min/m² · 2 coats
    assert finishing.minutes(part, Process.PAINTING) == Decimal(80)


def test_a_paint_is_mixed_once_a_coat_whatever_the_number_of_parts(finishing, part):
    """Eight parts with the same two coats: 2 · 30 min around them, where each part by itself had it make 480.

    Source: the handbook's corrections, mixing and cleaning up are once a session of one paint [common practice].
    """
    others = [
        factories.PartFactory(design=part.design, name=f"part {n}", system=part.system, area="0.1") for n in range(7)
    ]
    parts = Part.objects.filter(pk__in=[part.pk, *(other.pk for other in others)])
    every = Finishing(finishing.workshop, dict.fromkeys(parts, frozenset({Process.PAINTING})))
    assert [session.what for session in every.sessions] == ["enamel, coat 1", "enamel, coat 2"]
    assert sum(session.rates.around_a_coat for session in every.sessions) == 60


def test_a_session_ends_with_the_day(finishing, part):
    """Two pieces of 2 m² at 20 min/m² are 80 min a machine: 7½ machines in the ten hours from 8 until 18."""
    first, _ = finishing.sessions
    assert (first.minutes, first.machines) == (80, Decimal("7.5"))
    assert [first.rates.sessions(80 * machines) for machines in (1, 7, 8, 15, 16)] == [1, 1, 2, 2, 3]


def test_parts_of_another_paint_have_a_session_of_their_own(finishing, part, workshop):
    other = factories.CoatingFactory(workshop=workshop, name="black")
    system = factories.SystemFactory(workshop=workshop)
    factories.LayerFactory(system=system, position=1, coating=other, minutes=20)
    wheel = factories.PartFactory(design=part.design, name="wheel", system=system, area=1)
    parts = (part, Part.objects.get(pk=wheel.pk))
    both = Finishing(finishing.workshop, dict.fromkeys(parts, finishing.processes[part]))
    assert [session.what for session in both.sessions] == ["enamel, coat 1", "enamel, coat 2", "black, coat 1"]


def test_a_contractor_leaves_masking_and_wiping_to_us(finishing, part):
    assert finishing.minutes(part, Process.BLASTING) == Decimal(40)  # 2 m² · (10 + 10) min/m²


def test_with_a_cabinet_the_blasting_is_ours_and_no_contractor_comes(finishing, part, workshop, visit):
    factories.PlaceFactory(workshop=workshop, kind=Place.Kind.SHOP, cabinet=True)
    assert finishing.minutes(part, Process.BLASTING) == Decimal(70)  # and 2 m² · 15 min/m²
    assert finishing.blasting(3) == []


def blasted_by(part, way):
    """Another part of the design, of 2 m² of steel and two a machine, blasted in this way."""
    row = factories.PartFactory(
        design=part.design, name=way, area=2, quantity=2, material=Part.Material.STEEL, blasted=way
    )
    return Part.objects.select_related("design").get(pk=row.pk)


def test_each_part_says_who_blasts_it(finishing, part, workshop, visit):
    """With a cabinet of ours a contractor still blasts what is his: 4 m² · 15 min/m² a machine, where it was nothing.

    Source: the practitioner's job behind the handbook's corrections; common practice, no source.
    """
    factories.PlaceFactory(workshop=workshop, kind=Place.Kind.SHOP, cabinet=True)
    his, clean = blasted_by(part, Part.Blasted.CONTRACTOR), blasted_by(part, Part.Blasted.CLEAN)
    every = Finishing(finishing.workshop, dict.fromkeys((part, his, clean), frozenset({Process.BLASTING})))
    assert every.blasted(part) == Part.Blasted.HERE
    minutes = [every.minutes(one, Process.BLASTING) for one in (part, his, clean)]
    assert minutes == [70, 40, 0]  # 2 m² · (10 masked + 10 wiped + 15 blasted); masked and wiped; nothing
    (days,) = every.blasting(8)
    assert days.cost == Decimal("775.50")


def test_our_own_grit_is_bought_in_bags_and_taken_away(finishing, part, workshop):
    """4 m² of flat steel with plain rust at 24.4 kg/m² [MEDIA-USE] are 97.6 kg, thrown twice: 48.8 kg.

    Two bags of 25 kg at 14, and 6.50 to be rid of each, where own grit was free.
    """
    medium = factories.MediumFactory(
        workshop=workshop, kind="garnet", reused=True, cycles_low=2, cycles_high=2, bag=25, bulk_density=1602,
        price=Decimal(14), disposal=Decimal("6.50"),
    )  # fmt: skip
    own = blasted_by(part, Part.Blasted.HERE)
    every = Finishing(finishing.workshop, {own: frozenset({Process.BLASTING})})
    costs = [every.grit(machines) for machines in (1, 10)]
    assert [[one.cost for one in own] for own in costs] == [[2 * Decimal("20.50")], [20 * Decimal("20.50")]]
    assert every.unpriced_grit == every.without_grit == []
    type(medium).objects.update(price=None)
    again = Finishing(finishing.workshop, every.processes)
    assert (again.grit(1), again.unpriced_grit) == ([], [medium])


def test_paint_is_what_the_paint_list_buys_for_such_pieces(finishing, part, workshop, yard):
    project = factories.ProjectFactory(design=part.design)
    for _ in range(6):
        factories.PieceFactory(part=part, project=project, place=yard)
    (need,) = paint_list(Piece.objects.with_log(), all_layers=True, wanted="likely").needs
    (bought,) = finishing.paint(3)
    assert bought.cost == need.purchase.cost


def test_tins_are_whole_so_that_more_machines_cost_less_each(finishing):
    costs = [finishing.paint(machines)[0].cost for machines in range(1, 21)]
    assert costs == sorted(costs)
    assert costs[19] / 20 < costs[0]


def test_a_contractor_comes_for_as_many_days_as_it_takes(finishing, visit):
    # 4 m² a machine · 15 min/m² = 60 min; his day has 480
    assert finishing.blasting(8) == [
        Bought("blasting contractor", "1 day, 480 min, as Tom's grit last asked", Decimal("775.50"))
    ]
    (two_days,) = finishing.blasting(9)
    assert two_days.cost == 2 * Decimal("95.50") + 9 * Decimal(85)


@pytest.mark.parametrize(
    ("process", "spoil", "told"),
    [
        (Process.PAINTING, {"area": None}, "the part has no painted area"),
        (Process.PAINTING, {"system": None}, "the part has no coating system"),
        (Process.LETTERING, {}, "the letters have no paint"),
        (Process.BLASTING, {}, "no visit tells what a blasting contractor asks"),
    ],
)
def test_it_says_what_is_lacking(finishing, part, process, spoil, told):
    for column, value in spoil.items():
        setattr(part, column, value)
    assert finishing.lacking(part, process) == told


def test_a_paint_without_a_price_is_named(finishing, enamel):
    enamel.tin_sizes.update(price=None)
    assert finishing.unpriced == [enamel]
    assert finishing.paint(1) == []
