"""Meshes against solids whose area and volume are exact, and against the formulas of the shapes."""

import numpy as np
import pytest

from finishing.science import surface
from finishing.science.mesh import Mesh, NoMesh, Unpainted
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity
from tests import meshes

ROUND = {
    "sphere": (lambda fine: meshes.sphere(0.1, fine), surface.sphere, (0.1,)),
    "torus": (lambda fine: meshes.torus(0.3, 0.025, fine), surface.torus, (0.3, 0.025)),
    "ring": (lambda fine: meshes.ring(0.6, 0.05, 0.02, 4 * fine), surface.rim, (0.6, 0.05, 0.02)),
}


def metres(*values):
    return [Quantity(value, "m") for value in values]


@pytest.mark.parametrize("name", ROUND)
def test_a_round_solid_comes_to_the_shape_s_formula_as_the_mesh_is_made_finer(name):
    """Halved edges, a quarter of the error: flat faces lie inside a curve by the square of their length."""
    make, formula, measures = ROUND[name]
    area, volume = (value.to_base_units().magnitude for value in formula(*metres(*measures)))
    errors = []
    for fine in (8, 16, 32):
        mesh = Mesh(*make(fine))
        assert mesh.closed
        errors.append((abs(mesh.area / area - 1), abs(mesh.volume / volume - 1)))
    assert max(errors[-1]) < 0.01
    for coarse, fine in zip(errors, errors[1:], strict=False):
        assert np.array(coarse) / np.array(fine) == pytest.approx(4.0, rel=0.15)


def test_a_box_is_exact_whole_and_without_its_underside_or_cut_by_a_plane():
    mesh = Mesh(*meshes.box(0.4, 0.3, 0.2))
    assert (mesh.area, mesh.volume, mesh.closed) == (pytest.approx(0.52), pytest.approx(0.024), True)
    assert mesh.mean_wall == pytest.approx(2 * 0.024 / 0.52)
    assert mesh.painted(Unpainted(direction="-z")) == pytest.approx(0.52 - 0.12)
    # below z = 0.05 lie the underside and a quarter of the four sides
    assert mesh.painted(Unpainted(below=0.05)) == pytest.approx(0.52 - 0.12 - 0.25 * 0.28)
    assert mesh.painted(Unpainted(below=0.05, above=0.15)) == pytest.approx(0.5 * 0.28)
    assert mesh.painted(Unpainted(direction="+x", axis="x", above=0.1)) == pytest.approx(0.06 + 0.1 * (0.2 + 0.2 + 0.6))
    loose = Mesh(mesh.points[mesh.faces].reshape(-1, 3), np.arange(36).reshape(-1, 3))  # each corner thrice, as in STL
    assert (loose.closed, loose.volume) == (True, pytest.approx(0.024))
    inside_out = Mesh(mesh.points, mesh.faces[:, ::-1])
    assert inside_out.volume == pytest.approx(0.024)
    assert inside_out.painted(Unpainted(direction="-z")) == pytest.approx(0.4)


def test_an_open_mesh_has_an_area_and_no_volume():
    points, faces = meshes.box(0.4, 0.3, 0.2)
    without_a_lid = Mesh(points, faces[:-2])
    assert without_a_lid.area == pytest.approx(0.4)
    assert without_a_lid.open_edges == 4
    assert np.isnan(without_a_lid.volume)
    turned = faces.copy()
    turned[0] = turned[0][::-1]
    assert not Mesh(points, turned).closed


@pytest.mark.parametrize(
    ("points", "faces", "said"),
    [
        (np.zeros((3, 3)), np.zeros((0, 3), dtype=int), "no faces"),
        (np.zeros((3, 3)), np.array([[0, 1, 2]]), "no area"),
        (np.full((3, 3), np.nan), np.array([[0, 1, 2]]), "not numbers"),
        (np.array([[0, 0, 0], [np.inf, 0, 0], [0, 1, 0]]), np.array([[0, 1, 2]]), "not numbers"),
        (np.eye(3), np.array([[0, 1, 7]]), "not in the file"),
    ],
)
def test_nonsense_gets_a_clear_word(points, faces, said):
    with pytest.raises(NoMesh, match=said):
        Mesh(points, faces)


def test_too_many_faces_are_refused():
    with pytest.raises(OutsideValidity, match="faces"):
        Mesh(np.eye(3), np.tile([[0, 1, 2]], (250_001, 1)))
