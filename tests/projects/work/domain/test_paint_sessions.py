"""Litres by V = A·DFT/(10·VS)/(1 − loss) worked by hand.

5 % stay in a tin and 0.2 L in a gun: common practice, no source.
"""

from datetime import UTC, datetime, timedelta

import pytest

from finishing.coatings.models import Layer
from projects.record.models import Piece, Plan, Slot
from projects.work.domain.paint import paint_list
from projects.work.domain.paint_sessions import paint_sessions, pieces_planned
from tests import factories

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)


@pytest.fixture
def system(workshop):
    enamel = factories.CoatingFactory(workshop=workshop, volume_solids=45, dry_film=40, thinning=10, is_primer=False)
    system = factories.SystemFactory(workshop=workshop)
    factories.LayerFactory(system=system, coating=enamel)
    return system


@pytest.fixture
def plan(workshop):
    return factories.PlanFactory(run=factories.PlanRunFactory(workshop=workshop), state=Plan.State.KEPT)


@pytest.fixture
def three_racks(plan, system, shop):
    """Of 4.2 m² each, two hours each: the second follows the first, the third waits for the afternoon."""
    part = factories.PartFactory(design__workshop=plan.workshop, system=system, area=4.2, profile=None)
    project = factories.ProjectFactory(design=part.design)
    layer = system.layers.get()
    for rack, hours in (("frame", 0), ("wheel", 2.25), ("table", 6)):
        begin = NINE + timedelta(hours=hours)
        piece = factories.PieceFactory(part=part, project=project, place=shop, mark=rack)
        factories.SlotFactory(
            plan=plan, pieces=[piece], rack=rack, place=shop, kind=Slot.Kind.COAT, layer=layer, key=f"coat:{layer.pk}",
            begin=begin, end=begin + timedelta(hours=2),
        )  # fmt: skip
    return layer


def sessions(plan, **given):
    return paint_sessions(plan.workshop, plan.slots.all(), pieces_planned(plan.slots.all()), **given)


def litres(volume):
    return round(volume.m_as("L"), 3)


def test_racks_of_one_paint_one_after_the_other_are_one_mix(plan, three_racks):
    """4.2 · 40 / 450 / 0.9 = 0.4148 L each, and 5 % more."""
    together, alone = sessions(plan)
    assert (together.racks, alone.racks) == (["frame", "wheel"], ["table"])
    assert (litres(together.litres), litres(alone.litres)) == (0.871, 0.436)
    assert litres(together.waste) == 0.041
    (pot,) = together.mixed.mixes
    assert litres(pot.thinner) == 0.087


def test_a_two_pack_is_mixed_in_pots_that_are_used_up_in_half_the_pot_life(plan, three_racks):
    """4.25 h less half an hour around them at 2 h a pot are two pots of 1.875 h; in 30 °C half as long, four."""
    coating = three_racks.coating
    coating.two_pack, coating.mix_base, coating.mix_hardener, coating.pot_life = True, 4, 1, [[20, 240]]
    coating.save()
    type(plan.workshop).objects.update(mixing_minutes=15, cleaning_minutes=15)
    plan.workshop.refresh_from_db()
    mild, hot = (sessions(plan, hottest=lambda *_, degrees=degrees: degrees)[0] for degrees in (20.0, 30.0))
    assert (len(mild.mixed.mixes), len(hot.mixed.mixes)) == (2, 4)
    assert litres(mild.mixed.mixes[0].hardener) == round(0.8711 / 2 / 5, 3)


@pytest.mark.parametrize("method", [Layer.Method.BRUSH, Layer.Method.HVLP])
def test_the_paint_list_adds_up_to_the_sessions_of_the_plan(plan, three_racks, method):
    """Of two by gun 0.2 L stay in it twice; a fourth rack that is in no plan is sprayed by itself."""
    Layer.objects.update(method=method)
    planned = sessions(plan)
    (need,) = paint_list(Piece.objects.with_log(), all_layers=False, wanted="likely", planned=planned).needs
    assert litres(need.litres.likely) == pytest.approx(sum(litres(mix.litres) for mix in planned), abs=0.001)
    first = Piece.objects.first()
    factories.PieceFactory(part=first.part, project=first.project, place=first.place, mark="late")
    (need,) = paint_list(Piece.objects.with_log(), all_layers=False, wanted="likely", planned=planned).needs
    stays = 4 * 0.0207 if method == Layer.Method.BRUSH else 3 * 0.2
    assert litres(need.left_behind.likely) == pytest.approx(stays, abs=0.001)
