"""Area and mass of parts, against worked examples, limits of solid geometry and the painter's own litres."""

from math import isnan, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science import surface
from finishing.science.sources import SOURCES
from finishing.science.surface import SHAPES, Range
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity

from .published import rows

size = st.floats(0.01, 2.0)


def mm(number):
    return Quantity(number, "mm")


def metres(*numbers):
    return [Quantity(number, "m") for number in numbers]


def measures_of(text):
    pairs = (pair.split("=") for pair in text.split("; "))
    return {name: Quantity(float(value.split()[0]), value.split()[1]) for name, value in pairs}


@pytest.mark.parametrize("row", rows("part_area"), ids=lambda row: row["measures"])
def test_areas_agree_with_the_worked_examples_to_their_last_digit(row):
    area, _ = SHAPES[row["shape"]].function(**measures_of(row["measures"]))
    half_a_digit = 0.5 * 10.0 ** -len(row["area_m2"].split(".")[1])
    assert area.to("m**2").magnitude == pytest.approx(float(row["area_m2"]), abs=half_a_digit * 1.001)


def test_a_tube_without_its_end_rings_agrees_with_the_worked_example():
    """Tube 114.3 × 6 × 1200: both faces 0.8166 m², the same as 2·V/t. Worked example, solid geometry."""
    area, volume = surface.tube(mm(114.3), mm(6), mm(1200))
    rings = pi / 2 * (0.1143**2 - 0.1023**2)
    assert area.magnitude - rings == pytest.approx(0.8166, abs=5e-5)
    assert 2 * volume.magnitude / 0.006 == pytest.approx(0.8166, abs=5e-5)


@given(size, size)
def test_a_torus_obeys_pappus(middle, bar):
    """Pappus: area is perimeter × path of the middle, volume is section × path. Solid geometry, from memory."""
    bar = min(bar, middle)
    area, volume = surface.torus(*metres(middle, bar))
    assert area.magnitude == pytest.approx((pi * bar) * (pi * middle))
    assert volume.magnitude == pytest.approx((pi * bar**2 / 4) * (pi * middle))


@given(size, size)
def test_a_tube_that_is_all_wall_has_the_metal_of_a_cylinder(diameter, length):
    area, volume = surface.tube(*metres(diameter, diameter / 2, length))
    solid_area, solid_volume = surface.cylinder(*metres(diameter, length))
    assert volume.magnitude == pytest.approx(solid_volume.magnitude)
    assert area.magnitude == pytest.approx(solid_area.magnitude)


@given(size, size)
def test_a_frustum_with_equal_ends_is_a_cylinder(diameter, height):
    side, volume = surface.frustum(*metres(diameter, diameter, height))
    assert side.magnitude == pytest.approx(surface.round_side(*metres(diameter, height))[0].magnitude)
    assert volume.magnitude == pytest.approx(surface.cylinder(*metres(diameter, height))[1].magnitude)


def test_a_cone_holds_a_third_of_its_cylinder():
    _, cone = surface.frustum(*metres(0.4, 0, 0.3))
    _, cylinder = surface.cylinder(*metres(0.4, 0.3))
    assert 3 * cone.magnitude == pytest.approx(cylinder.magnitude)


@given(size)
def test_a_sphere_has_two_thirds_of_the_skin_and_metal_of_its_cylinder(diameter):
    """Archimedes, On the sphere and cylinder; from memory."""
    area, volume = surface.sphere(*metres(diameter))
    around_area, around_volume = surface.cylinder(*metres(diameter, diameter))
    assert area.magnitude == pytest.approx(around_area.magnitude * 2 / 3)
    assert volume.magnitude == pytest.approx(around_volume.magnitude * 2 / 3)


def test_a_weighed_round_bar_agrees_with_its_formula():
    """A = 4·m/(ρ·d) for a round bar. Solid geometry."""
    diameter, mass, density = 0.0254, 10.0, 7850.0
    section = Quantity(pi * diameter**2 / 4, "m**2")
    area, _ = surface.weighed_section(
        Quantity(mass, "kg"), Quantity(pi * diameter, "m"), section, Quantity(density, "kg/m**3")
    )
    assert area.magnitude == pytest.approx(4 * mass / (density * diameter))


@given(size, size, size)
def test_a_weighed_bar_has_the_area_of_its_box_without_the_ends(length, width, thickness):
    area, volume = surface.box(*metres(length, width, thickness))
    density = Quantity(7850, "kg/m**3")
    by_weight, _ = surface.weighed_bar(surface.mass(volume, density), *metres(width, thickness), density)
    ends = 2 * width * thickness
    assert by_weight.magnitude == pytest.approx(area.magnitude - ends)


@given(size, st.floats(1.5, 3))
def test_shapes_scale_as_square_and_cube(length, factor):
    small = surface.box(*metres(length, length, length))
    large = surface.box(*metres(*3 * [length * factor]))
    assert large[0].magnitude == pytest.approx(small[0].magnitude * factor**2)
    assert large[1].magnitude == pytest.approx(small[1].magnitude * factor**3)


def test_a_sphere_has_a_sixth_of_its_diameter_behind_each_square_metre():
    """V/A of a sphere is d/6. Solid geometry."""
    density = surface.density_of("grey iron")
    area, volume = surface.sphere(mm(120))
    length = surface.characteristic_length(surface.mass(volume, density), density, area)
    assert length.to("mm").magnitude == pytest.approx(20)


def test_characteristic_length_of_many_pieces_equals_one_by_one():
    masses, density, areas = np.array([60.0, 25, 8]), Quantity(7200, "kg/m**3"), np.array([1.389, 0.868, 0.37])
    together = surface.characteristic_length(Quantity(masses, "kg"), density, Quantity(areas, "m**2"))
    alone = [
        surface.characteristic_length(Quantity(m, "kg"), density, Quantity(a, "m**2")).magnitude
        for m, a in zip(masses, areas, strict=True)
    ]
    assert together.magnitude == pytest.approx(alone)
    assert together.to("mm").magnitude == pytest.approx([6, 4, 3], rel=2e-3)  # half the wall; areas have 3 digits


def test_us_units_give_the_same_area():
    metric, _ = surface.box(mm(254), mm(508), mm(762))
    inches, _ = surface.box(Quantity(10, "inch"), Quantity(20, "inch"), Quantity(30, "inch"))
    assert inches.magnitude == pytest.approx(metric.magnitude)
    assert inches.to("ft**2").magnitude == pytest.approx(2 * (200 + 600 + 300) / 144)


@pytest.mark.parametrize("name", SHAPES)
def test_every_shape_answers_with_its_usual_units_and_opens_its_working(name):
    measures = {measure: Quantity(20, unit) for measure, unit in SHAPES[name].measures.items()}
    measures |= {
        given: value
        for given, value in (("density", Quantity(7200, "kg/m**3")), ("wall", mm(5)), ("thickness", mm(5)))
        if given in measures
    }
    area, volume = SHAPES[name].function(**measures)
    assert area.magnitude > 0
    assert isnan(volume.magnitude) or volume.magnitude > 0
    working = surface.shape_working(name, **measures)
    assert working.result == f"{area:.4g~P}"
    assert len(working.inputs) == len(measures)
    assert working.source in SOURCES


def test_what_is_not_known_stays_unknown():
    _, volume = surface.section(mm(200), Quantity(2.5, "m"))
    assert isnan(surface.mass(volume, surface.density_of("steel")).magnitude)


@pytest.mark.parametrize("material", surface.DENSITIES)
def test_densities_are_those_of_the_handbook(material):
    """Usual handbook values, from memory."""
    handbook = {
        "grey iron": 7200,
        "ductile iron": 7100,
        "steel": 7850,
        "brass": 8500,
        "bronze": 8800,
        "aluminium": 2700,
    }
    assert surface.density_of(material) == Quantity(handbook[material], "kg/m**3")


def test_texture_and_ribs_add_what_the_trade_adds():
    """Foundry skin +5 %, ribs and bosses +10 to +25 %. Common practice, no source."""
    assert surface.TEXTURES["foundry skin"] == 5
    added = [share for share in surface.RIBBING.values() if share]
    assert (min(added), max(added)) == (10, 25)
    area = surface.painted_area(Quantity(2, "m**2"), Quantity(5, "percent"), Quantity(25, "percent"))
    assert area.magnitude == pytest.approx(2 * 1.05 * 1.25)


LOSS = Range(Quantity(5, "percent"), Quantity(10, "percent"), Quantity(15, "percent"))


def test_a_litre_at_a_hundred_microns_wet_covers_ten_square_metres():
    """10 m² per litre at 100 µm: the unit itself."""
    assert surface.covered_area(
        Quantity(1, "L"), Quantity(100, "µm"), Quantity(0, "percent")
    ).magnitude == pytest.approx(10)


@given(st.floats(0.05, 20), st.floats(30, 200), st.floats(0, 50))
def test_area_from_paint_holds_its_range(litres, film, spread):
    comb = Range(Quantity(film, "µm"), Quantity(film + spread / 2, "µm"), Quantity(film + spread, "µm"))
    area = surface.area_from_paint(Quantity(litres, "L"), comb, LOSS)
    assert area.low <= area.likely <= area.high
    assert area.low.magnitude == pytest.approx(1000 * litres * 0.85 / (film + spread))
    assert area.high.magnitude == pytest.approx(1000 * litres * 0.95 / film)


def test_a_range_out_of_order_is_refused():
    with pytest.raises(ValueError, match="low, likely, high"):
        Range(3, 2, 1)


@pytest.mark.parametrize(
    ("ask", "named"),
    [
        (lambda: surface.box(mm(0), mm(1), mm(1)), "length"),
        (lambda: surface.cylinder(mm(-3), mm(1)), "diameter"),
        (lambda: surface.tube(mm(40), mm(21), mm(100)), "wall"),  # thicker than half the tube
        (lambda: surface.rim(mm(40), mm(10), mm(21)), "thickness"),
        (lambda: surface.frustum(mm(100), mm(200), mm(100)), "narrow diameter"),
        (lambda: surface.torus(mm(20), mm(30)), "bar diameter"),
        (lambda: surface.casting(Quantity(0, "kg"), mm(5), Quantity(7200, "kg/m**3")), "mass"),
        (lambda: surface.casting(Quantity(5, "kg"), mm(5), Quantity(7.2, "kg/m**3")), "density"),
        (lambda: surface.characteristic_length("5 kg", "7200 kg/m**3", "0 m**2"), "area"),
        (lambda: surface.painted_area("1 m**2", "-1 percent", "0 percent"), "texture"),
        (lambda: surface.covered_area("1 L", "0 µm", "10 percent"), "wet film"),
        (lambda: surface.covered_area("1 L", "100 µm", "100 percent"), "loss"),
    ],
)
def test_an_impossible_measure_is_named(ask, named):
    with pytest.raises(OutsideValidity) as refusal:
        ask()
    assert refusal.value.name == named
