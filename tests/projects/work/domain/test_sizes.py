"""Worked by hand from the formulas of any handbook of mensuration; grey iron 7200 kg/m³ (usual handbook value)."""

import pytest

from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity
from projects.work.domain.sizes import size_by_paint, size_by_shape


def test_a_weighed_casting_tells_its_area_and_where_it_comes_from():
    measures = {"mass": Quantity(60, "kg"), "wall": Quantity(12, "mm")}
    size = size_by_shape("casting by weight and wall", measures, "grey iron", "foundry skin", "some ribs and bosses")
    # 2 · 60 / (7200 · 0.012) = 1.3889 m²; + 5 % skin + 10 % ribs
    assert size.area.to("m**2").magnitude == pytest.approx(1.3889 * 1.05 * 1.10, rel=1e-4)
    assert size.basis == (
        "casting by weight and wall: mass 60 kg, wall 12 mm; foundry skin +5 %; some ribs and bosses +10 %"
    )
    assert [working.source for working in size.workings] == ["GEOMETRY", "common practice"]


def test_a_shape_tells_the_weight_too():
    measures = {"length": Quantity(400, "mm"), "width": Quantity(300, "mm"), "height": Quantity(200, "mm")}
    size = size_by_shape("box", measures, "grey iron", "machined or rolled", "plain")
    assert size.area.to("m**2").magnitude == pytest.approx(0.52)
    assert size.mass.to("kg").magnitude == pytest.approx(0.024 * 7200)
    assert len(size.workings) == 1


def test_a_weight_that_the_shape_does_not_tell_stays_unknown():
    measures = {"diameter": Quantity(114.3, "mm"), "length": Quantity(1200, "mm")}
    assert size_by_shape("round bar or pipe, outside", measures, "steel", "machined or rolled", "plain").mass is None


def test_paint_that_went_on_tells_the_area_with_its_range():
    size = size_by_paint(Quantity(0.45, "L"), Quantity(75, "µm"), Quantity(100, "µm"))
    # 450 000 mm³ · 0.9 / 0.0875 mm
    assert size.area.to("m**2").magnitude == pytest.approx(4.629, abs=0.001)
    assert size.basis.endswith("3.83 m² to 5.7 m²")


def test_an_impossible_measure_is_refused():
    measures = {"outer_diameter": Quantity(50, "mm"), "wall": Quantity(40, "mm"), "length": Quantity(1, "m")}
    with pytest.raises(OutsideValidity):
        size_by_shape("tube, inside and out", measures, "steel", "machined or rolled", "plain")
