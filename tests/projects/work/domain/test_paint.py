"""Litres against V = A·DFT/(10·VS)/(1 − loss) worked by hand; losses and dead film as science.film has them."""

from datetime import timedelta
from decimal import Decimal

import pytest

from finishing.coatings.models import Additive
from projects.record.models import Piece
from projects.work.domain.paint import first_coats, paint_list
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def enamel(workshop):
    return factories.CoatingFactory(
        workshop=workshop, name="enamel", volume_solids=45, dry_film=40, thinning=10, is_primer=False
    )


@pytest.fixture
def two_coats(workshop, enamel):
    system = factories.SystemFactory(workshop=workshop)
    for position in (1, 2):
        factories.LayerFactory(system=system, position=position, coating=enamel)
    return system


@pytest.fixture
def piece(workshop, two_coats, roof):
    part = factories.PartFactory(design__workshop=workshop, system=two_coats, area=4.2, name="Frame")
    return factories.PieceFactory(part=part, place=roof, mark="F-01")


def paints(all_layers=False, wanted="high"):
    return paint_list(Piece.objects.with_log(), all_layers=all_layers, wanted=wanted)


def litres(spread):
    return tuple(round(end.to("L").magnitude, 3) for end in (spread.low, spread.likely, spread.high))


def test_two_brushed_coats_take_what_the_formula_says(piece):
    (need,) = paints().needs
    # 4.2 · 40 / 450 / 0.9 = 0.415 L a coat; losses of 5, 10, 15 %
    assert [litres(coat.each)[1] for coat in need.coats] == [0.415, 0.415]
    assert litres(need.on_pieces) == (0.786, 0.830, 0.878)
    assert litres(need.thinner)[1] == 0.083


def test_five_percent_stay_in_the_tin_of_a_brushed_paint(piece):
    (need,) = paints().needs
    assert litres(need.litres)[1] == round(0.8296 * 1.05, 3)


def test_the_first_coat_fills_the_profile_and_only_the_first(piece):
    piece.part.profile = 60
    piece.part.save()
    first, second = paints().needs[0].coats
    # half of 60 µm is 30 µm of dry film: 4.2 · 70 / 450 / 0.9; a third and all of it are the ends
    assert litres(first.each) == (
        round(4.2 * (40 + 19.8) / 450 / 0.95, 3), round(4.2 * 70 / 450 / 0.9, 3), round(4.2 * 100 / 450 / 0.85, 3),
    )  # fmt: skip
    assert litres(second.each)[1] == 0.415
    assert [working.name for working in first.workings] == ["dead film", "paint from the tin"]


def test_a_piece_that_came_clean_has_no_profile_to_fill(piece):
    piece.part.profile = 60
    piece.part.save()
    factories.StepFactory(piece=piece, kind="came clean", reason="new casting")
    assert {litres(coat.each)[1] for coat in paints().needs[0].coats} == {0.415}


def test_one_that_came_clean_and_bloomed_is_to_be_blasted_and_has_its_profile(piece):
    piece.part.profile = 60
    piece.part.save()
    clean = factories.StepFactory(piece=piece, kind="came clean", reason="new casting")
    factories.StepFactory(piece=piece, kind="bloom", happened_at=clean.happened_at + timedelta(hours=5))
    assert litres(paints().needs[0].coats[0].each)[1] == round(4.2 * 70 / 450 / 0.9, 3)


def test_a_profile_that_nobody_gave_is_told(piece):
    assert [part.name for part in paints().without_profile] == ["Frame"]


def test_pieces_alike_are_counted_together(piece):
    for mark in ("F-02", "F-03"):
        factories.PieceFactory(part=piece.part, project=piece.project, place=piece.place, mark=mark)
    first, _ = paints().needs[0].coats
    assert [one.mark for one in first.pieces] == ["F-01", "F-02", "F-03"]
    assert litres(first.litres)[1] == round(3 * 0.41481, 3)


def test_layers_done_are_left_out_unless_all_are_asked(piece, two_coats):
    blasted = factories.StepFactory(piece=piece, kind="blasted")
    layer = two_coats.layers.first()
    factories.StepFactory(
        piece=piece, kind="coated", layer=layer, coating=layer.coating,
        happened_at=blasted.happened_at + timedelta(hours=1),
    )  # fmt: skip
    assert [coat.layer.position for coat in paints().needs[0].coats] == [2]
    assert [coat.layer.position for coat in paints(all_layers=True).needs[0].coats] == [1, 2]


def test_a_side_takes_half_and_both_sides_meet_bare_metal(workshop, piece, enamel):
    system = factories.SystemFactory(workshop=workshop)
    for position, side in ((1, "first"), (2, "second"), (3, "all")):
        factories.LayerFactory(system=system, position=position, side=side, coating=enamel)
    piece.part.system = system
    piece.part.save()
    assert [litres(coat.each)[1] for coat in paints().needs[0].coats] == [0.207, 0.207, 0.415]
    assert [layer.position for layer in first_coats(system.coats)] == [1, 2]


def test_what_cannot_be_reckoned_is_listed_and_the_rest_is_reckoned(workshop, piece):
    bare = factories.PartFactory(design=piece.part.design, system=piece.part.system, area=None)
    plain = factories.PartFactory(design=piece.part.design, system=None)
    empty = factories.PartFactory(
        design=piece.part.design, system=factories.SystemFactory(workshop=workshop, name="empty")
    )
    for part in (bare, plain, empty):
        factories.PieceFactory(part=part, project=piece.project, place=piece.place)
    listed = paints()
    whys = ["no painted area", "no coating system", "empty has no coat yet"]
    assert [why for _, why in listed.missing] == whys
    assert len(listed.needs[0].coats) == 2


def test_pieces_set_aside_take_no_paint(piece):
    Piece.objects.update(set_aside=True)
    assert not paints().needs


def test_the_cheapest_tins_hold_the_high_amount(piece, enamel):
    factories.TinSizeFactory(coating=enamel, litres=1, price="18.00")
    factories.TinSizeFactory(coating=enamel, litres=0.5, price="12.50")
    (need,) = paints().needs
    assert litres(need.litres)[2] == 0.922
    assert [(tin.size.magnitude, count) for tin, count in need.purchase.tins] == [(1, 1)]
    assert paints().cost == Decimal("18.00")
    assert litres_over(need) == round(1 - 0.9224, 3)


def litres_over(need):
    return round(need.purchase.left_over.to("L").magnitude, 3)


def test_without_prices_the_tins_that_leave_least_over_are_named_at_no_cost(piece, enamel):
    for size in (2.5, 1):
        factories.TinSizeFactory(coating=enamel, litres=size, price=None)
    listed = paints()
    assert [(tin.size.magnitude, count) for tin, count in listed.needs[0].purchase.tins] == [(1, 1)]
    assert listed.cost == 0
    assert listed.unpriced == [enamel]


def test_without_tin_sizes_nothing_is_bought(piece):
    assert paints().needs[0].purchase is None


def test_a_two_pack_is_bought_in_whole_kits_and_parted_by_its_mix(workshop, piece):
    epoxy = factories.CoatingFactory(workshop=workshop, name="epoxy", two_pack=True, mix_base=4, mix_hardener=1)
    factories.TinSizeFactory(coating=epoxy, litres=5, price="90")
    system = factories.SystemFactory(workshop=workshop)
    factories.LayerFactory(system=system, position=1, coating=epoxy, method="airless", dry_film=50)
    piece.part.system = system
    piece.part.save()
    (need,) = paints(wanted="likely").needs
    base, hardener = need.components
    assert base.magnitude == pytest.approx(4 * hardener.magnitude)
    assert [count for _, count in need.purchase.tins] == [1]
    # sprayed under a roof open at the sides: 35 % and the wind's 10 %, 4.2 · 50 / 450 / 0.55, and 0.2 L stay in the gun
    assert litres(need.litres)[1] == round(4.2 * 50 / 450 / 0.55 + 0.2, 3)


def test_an_additive_follows_its_dose_in_the_layers_that_have_it_stirred_in(piece, enamel, two_coats):
    """Two coats of 0.8296 L together, 5 % of it in the tin: an additive of one of them is half as much as of both."""
    flow, oil = (
        Additive.objects.create(workshop=enamel.workshop, coating=enamel, name=name, dose=5, price=20)
        for name in ("flow", "oil")
    )
    first, second = two_coats.coats
    first.additives.add(flow, oil)
    second.additives.add(flow)
    doses = {dose.additive.name: dose.volume.to("L").magnitude for dose in paints().needs[0].additives}
    both = 0.8296 * 1.05 * 0.05
    assert doses == pytest.approx({"flow": both, "oil": both / 2}, abs=1e-4)
    assert paints().cost == Decimal("1.31")  # 43.6 and 21.8 mL at 20 a litre; no tin has a price


def test_letters_still_to_be_picked_out_are_listed_by_their_paint(workshop, piece, enamel):
    piece.part.lettering, piece.part.lettering_coating = "HOLLOW", enamel
    piece.part.save()
    (need,) = paints().letters
    coating, pieces = need.coating, [*need.pieces]
    assert (coating, [one.mark for one in pieces]) == (enamel, ["F-01"])
