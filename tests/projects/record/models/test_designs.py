"""What a part is to heat."""

import pytest

from finishing.science import metal
from finishing.science.metal import metal_temperature
from finishing.science.units import Quantity
from projects.record.models import Part
from tests.finishing.science.test_metal import steady

UNITS = {"mass": "kg", "area": "m**2", "wall": "mm"}


def body_of(material="grey iron", **measures):
    return Part(material=material, **{name: Quantity(value, UNITS[name]) for name, value in measures.items()}).body


def test_volume_by_area_comes_from_mass_and_area():
    """60 kg of grey iron, 1.1 m²: 7.58 mm, worked by hand: 60 / 7200 / 1.1."""
    body = body_of(mass=60, area=1.1)
    assert 1000 * body.length_m == pytest.approx(7.58, abs=0.01)
    assert not body.assumed
    assert not body.beyond


def test_without_them_it_is_half_the_wall():
    assert body_of(wall=30, mass=60).length_m == pytest.approx(0.015)


def test_a_part_that_says_neither_is_taken_for_a_heavy_one():
    body = body_of()
    assert (body.length_m, body.assumed) == (0.0125, True)


@pytest.mark.parametrize("material", metal.MATERIALS)
@pytest.mark.parametrize("shelter", metal.SHELTERS)
def test_a_mistyped_mass_spoils_an_estimate_and_no_page(material, shelter):
    body = body_of(material, mass=20000, area=0.5)
    assert body.beyond
    air = steady(3, temperature=10, humidity=60)
    assert metal_temperature(air, body.length_m, None, shelter, material=body.material) == pytest.approx(10, abs=0.01)
