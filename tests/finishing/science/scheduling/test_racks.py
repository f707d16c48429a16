"""Pieces hung together."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science.scheduling.racks import PieceToHang, group


def piece(name, area=1.0, preparation="blast", system="grey", **more):
    return PieceToHang(name, area, preparation, system, **more)


def hung(racks):
    return [[p.name for p in rack.pieces] for rack in racks]


def test_pieces_alike_in_preparation_and_system_hang_together():
    racks = group(
        [piece("frame"), piece("wheel", system="red"), piece("table"), piece("guard", preparation="degrease")]
    )
    assert hung(racks) == [["frame", "table"], ["wheel"], ["guard"]]


def test_what_somebody_hung_together_stays_together():
    racks = group([piece("frame", rack="A"), piece("wheel", system="red", rack="A"), piece("table")], largest=1.0)
    assert hung(racks) == [["frame", "wheel"], ["table"]]
    assert [(rack.name, rack.chosen) for rack in racks] == [("A", True), ("rack 1", False)]


def test_a_chosen_name_is_not_given_twice():
    assert [rack.name for rack in group([piece("frame", rack="rack 1"), piece("table")])] == ["rack 1", "rack 2"]


def test_a_large_rack_becomes_several_much_alike():
    racks = group([piece(str(n), area) for n, area in enumerate([3, 3, 2, 2, 1, 1])], largest=6.5)
    assert [rack.area for rack in racks] == [6.0, 6.0]


def test_a_piece_larger_than_a_session_hangs_alone():
    assert hung(group([piece("bed", 9.0), piece("wheel", 1.0)], largest=4.0)) == [["bed"], ["wheel"]]


def test_what_is_kept_apart_hangs_apart():
    assert hung(group([piece("frame", apart="yard"), piece("table", apart="shop")])) == [["frame"], ["table"]]


@given(st.lists(st.floats(0.1, 5.0), min_size=1, max_size=12), st.floats(1.0, 8.0))
def test_every_piece_hangs_once_and_no_rack_is_too_large(areas, largest):
    racks = group([piece(str(n), area) for n, area in enumerate(areas)], largest)
    assert sorted(p.name for rack in racks for p in rack.pieces) == sorted(str(n) for n in range(len(areas)))
    assert all(rack.area <= largest + 1e-6 for rack in racks if len(rack.pieces) > 1)


def test_rough_input_is_refused():
    with pytest.raises(ValueError, match="has no area"):
        piece("frame", 0)
    with pytest.raises(ValueError, match="no coating system"):
        piece("frame", system="")
    with pytest.raises(ValueError, match="largest area"):
        group([piece("frame")], largest=0)
