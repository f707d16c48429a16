"""A mesh sent for a part: measured, refused in words, taken into the part."""

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from projects.proving.imports import meshes as reader
from tests import factories, meshes

pytestmark = pytest.mark.django_db
BOX = meshes.box(400.0, 300.0, 200.0)


@pytest.fixture
def part(workshop):
    return factories.PartFactory(design__workshop=workshop, name="bed", material="grey iron", mass=None, wall=None)


def sent(client, part, name, content, **told):
    file = SimpleUploadedFile(name, content)
    asked = {"file": file, "unit": "mm", "texture": "machined or rolled", "axis": "z", **told}
    return client.post(reverse("mesh", args=[part.pk]), asked)


WRITTEN = {"a.stl": meshes.as_stl, "a.OBJ": meshes.as_obj, "a.ply": meshes.as_ply}


@pytest.mark.parametrize("name", WRITTEN)
def test_a_box_is_measured_from_every_kind_of_file_and_taken_with_one_tap(restorer_client, part, name):
    answer = sent(restorer_client, part, name, WRITTEN[name](*BOX), direction="-z")
    assert answer.status_code == 200, answer.context["form"].errors
    shown = " ".join(answer.content.decode().split())
    assert 'Painted area <b class="number">0.4 m²</b>, weight <b class="number">173 kg</b>' in shown  # 24 L · 7.2 kg/L
    restorer_client.post(reverse("mesh-take", args=[part.pk]), {"measured": answer.context["signed"]})
    part.refresh_from_db()
    assert part.area.to("m**2").magnitude == pytest.approx(0.4)
    assert part.area_basis == f"mesh {name}; without the underside (−z)"
    assert part.mass.to("kg").magnitude == pytest.approx(172.8)
    assert part.wall.to("mm").magnitude == pytest.approx(2 * 24_000 / 520, rel=1e-6)  # 2·V/A by hand


def test_an_open_mesh_gives_its_area_alone_and_says_so(restorer_client, part):
    points, faces = BOX
    answer = sent(restorer_client, part, "a.stl", meshes.as_stl(points, faces[:-2]))
    assert "The mesh is open" in answer.content.decode()
    assert answer.context["size"].mass is None


WRONG = {
    "empty.stl": (b"", "empty"),
    "words.stl": (b"solid of words, and no more", "not a mesh|cut short"),
    "short.stl": (meshes.as_stl(*BOX)[:-40], "cut short"),
    "ten-million.stl": (meshes.ten_million("stl"), "not a mesh"),
    "ten-million.ply": (meshes.ten_million("ply"), "250,000 is the most"),
    "nan.stl": (meshes.as_stl(np.full((3, 3), np.nan), np.array([[0, 1, 2]])), "not numbers"),
    "points.obj": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "no faces|not a mesh"),
    "nowhere.obj": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", "not in the file|not a mesh"),
    "flat.obj": (b"v 0 0 0\nv 1 0 0\nv 2 0 0\nf 1 2 3\n", "no area"),
    "archive.ply": (b"PK\x03\x04" + bytes(300), "not a mesh"),
    "drawing.dwg": (b"AC1032", "none of"),
}


@pytest.mark.parametrize("name", WRONG)
def test_nonsense_gets_a_clear_word_at_its_box(restorer_client, part, name):
    content, said = WRONG[name]
    answer = sent(restorer_client, part, name, content)
    assert answer.status_code == 422
    (error,) = answer.context["form"].errors["file"]
    assert any(word in error for word in said.split("|")), error


def test_a_wrong_unit_and_a_cut_that_leaves_nothing_are_told(restorer_client, part):
    box = meshes.as_stl(*BOX)
    for told, field in (({"unit": "m"}, "file"), ({"unit": "in"}, "unit"), ({"below": "900"}, "file")):
        assert sent(restorer_client, part, "a.stl", box, **told).context["form"].errors[field]
    assert sent(restorer_client, part, "a.stl", box, below="9", above="3").context["form"].errors["above"]


def test_without_the_extra_the_page_says_how_to_get_it(restorer_client, part, monkeypatch):
    monkeypatch.setattr(reader, "load_mesh", None)
    (error,) = sent(restorer_client, part, "a.stl", meshes.as_stl(*BOX)).context["form"].errors["file"]
    assert "fettlebook[mesh]" in error


def test_what_was_not_measured_is_not_taken(restorer_client, helper_client, part):
    take = reverse("mesh-take", args=[part.pk])
    assert restorer_client.post(take, {"measured": "made up"}).status_code == 404
    other = factories.PartFactory(design=part.design, name="other")
    signed = sent(restorer_client, other, "a.stl", meshes.as_stl(*BOX)).context["signed"]
    assert restorer_client.post(take, {"measured": signed}).status_code == 404
    assert helper_client.get(reverse("mesh", args=[part.pk])).status_code == 403
