"""What is proposed for a piece; metals, media and pressures are the trade's (common practice, no source)."""

import pytest

from finishing.library.actions import load_library
from finishing.media.models import Medium
from finishing.science.grit import likely_pressure
from finishing.science.units import Quantity
from projects.work.domain.blast_advice import medium_for, pressures_for, surface_of
from tests import factories

pytestmark = pytest.mark.django_db


def bar(value):
    return Quantity(value, "bar")


def kept(row):
    """As it comes back from the database, its numbers quantities."""
    row.refresh_from_db()
    return row


def part(workshop, **values):
    return kept(factories.PartFactory(design__workshop=workshop, **values))


@pytest.fixture
def media(workshop):
    load_library(workshop)
    return list(Medium.objects.of(workshop))


@pytest.mark.parametrize(
    ("material", "wall", "metal"),
    [
        ("grey iron", 8, "grey iron"),
        ("grey iron", None, "grey iron"),
        ("grey iron", 4, "thin or cracked iron"),
        ("ductile iron", 8, "ductile iron"),
        ("steel", 6, "steel plate"),
        ("steel", 1, "steel sheet"),
        ("bronze", 1, "brass and bronze"),
        ("aluminium", None, "aluminium"),
    ],
)
def test_a_part_goes_by_its_metal_and_its_wall(workshop, material, wall, metal):
    assert part(workshop, material=material, wall=wall).metal == metal


def test_old_paint_comes_off_first(workshop, yard):
    piece = factories.PieceFactory(part=part(workshop), place=yard, old_paint=True)
    assert surface_of(piece) == "thick old paint"


def test_a_new_casting_has_its_foundry_skin_and_an_old_one_rust(workshop, yard):
    new = factories.PieceFactory(part=part(workshop), place=yard)
    assert surface_of(new) == "foundry skin or tight scale"
    old = factories.PieceFactory(part=part(workshop, design__hidden=True), place=yard)
    assert surface_of(old) == "plain rust"


@pytest.mark.parametrize(("kinds", "surface"), [("bloom", "light rust"), ("wrinkled", "thick old paint")])
def test_what_is_blasted_again_has_bloom_or_paint(workshop, yard, system, kinds, surface):
    """Its old paint went at the first blasting."""
    piece = factories.PieceFactory(part=part(workshop, system=system), place=yard, old_paint=True)
    layer = system.layers.first()
    factories.StepFactory(piece=piece, kind="blasted")
    if kinds == "wrinkled":
        factories.StepFactory(piece=piece, kind="coated", layer=layer, coating=layer.coating)
    factories.StepFactory(piece=piece, kind=kinds, back_to="blast")
    assert surface_of(piece) == surface


@pytest.mark.parametrize(
    ("material", "surface", "kind"),
    [
        ("grey iron", "foundry skin or tight scale", "crushed glass"),
        ("brass", "grease and dirt", "bicarbonate"),
        ("bronze", "thick old paint", "bicarbonate"),
        ("aluminium", "plain rust", "glass bead"),
    ],
)
def test_the_medium_that_one_would_reach_for(workshop, media, material, surface, kind):
    """Medium crushed glass lifts foundry skin; bicarbonate is the one for brass and bronze."""
    assert medium_for(part(workshop, material=material), surface, media).kind == kind


def test_own_bags_come_before_the_librarys(workshop, media):
    own = kept(factories.MediumFactory(workshop=workshop, kind="garnet", bulk_density=2200))
    assert medium_for(part(workshop), "plain rust", [*media, own]) == own


def test_the_grain_follows_the_profile_that_is_wanted(workshop, media):
    fine, medium = (medium_for(part(workshop, profile=profile), "plain rust", media) for profile in (25, 55))
    assert (fine.grain, medium.grain) == ("fine", "medium")


def test_what_is_refused_or_cannot_be_reckoned_with_is_never_proposed(workshop):
    sand = kept(factories.MediumFactory(workshop=workshop, free_silica=95))
    unweighed = kept(factories.MediumFactory(workshop=workshop, bulk_density=None))
    assert medium_for(part(workshop), "plain rust", [sand, unweighed]) is None


def test_no_more_pressure_is_planned_than_the_rig_sends(workshop):
    """Tight scale on grey iron may take 7 bar; of 6 in the pot 0.5 is lost in the hose and 0.15 feeds the medium."""
    scale = part(workshop), "foundry skin or tight scale"
    assert pressures_for(*scale, bar(8), bar(0.15)) == (bar(2), bar(7))
    start, most = pressures_for(*scale, bar(6), bar(0.15))
    assert (start.magnitude, most.magnitude) == pytest.approx((2, 5.35))


def test_crushed_glass_on_a_casting_works_at_two_and_a_quarter_to_two_and_a_half_bar(workshop):
    assert likely_pressure(bar(2), bar(7)) == bar(4.5)
    assert likely_pressure(bar(2), bar(5)) == bar(3.5)
