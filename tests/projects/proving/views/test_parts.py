"""Designs and their parts: area typed, from weight and wall, from a shape, from the paint that went on."""

import uuid

import pytest
from django.urls import reverse

from finishing.workshops.models import Workshop
from projects.record.models import Design, Part, Revision
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(workshop):
    return factories.DesignFactory(workshop=workshop, name="Bench drill")


def typed(**more):
    first = {"id": str(uuid.uuid4()), "name": "Column", "quantity": "1", "material": "grey iron", "way": "typed"}
    return {**first, **more}


def post(client, design, **more):
    return client.post(reverse("part-new", args=[design.pk]), typed(**more))


def area_of(part):
    return part.area.to("m**2").magnitude


def test_an_area_that_is_typed_is_kept_as_typed(restorer_client, design):
    response = post(restorer_client, design, area="0.8", mass="25 lb")
    part = Part.objects.get()
    assert response.url == reverse("part", args=[part.pk])
    assert (area_of(part), part.area_basis) == (0.8, "typed")
    assert part.mass.to("kg").magnitude == pytest.approx(11.34, abs=0.01)


def test_weight_and_mean_wall_give_the_area(restorer_client, design):
    post(
        restorer_client, design, way="casting by weight and wall", mass="60", wall="12",
        texture="machined or rolled", ribbing="plain",
    )  # fmt: skip
    part = Part.objects.get()
    assert area_of(part) == pytest.approx(1.3889, abs=1e-4)  # 2m/(ρt) by hand, grey iron 7200 kg/m³
    assert part.area_basis == "casting by weight and wall: mass 60 kg, wall 12 mm"


def test_a_shape_gives_area_and_weight(restorer_client, design):
    post(
        restorer_client, design, way="box", length="400", width="300 mm", height="20 cm",
        texture="machined or rolled", ribbing="plain",
    )  # fmt: skip
    part = Part.objects.get()
    assert area_of(part) == pytest.approx(0.52)
    assert part.mass.to("kg").magnitude == pytest.approx(172.8)


def test_paint_that_went_on_gives_the_area(restorer_client, design):
    post(restorer_client, design, way="paint used", paint="450 mL", wet_film_low="75", wet_film_high="100")
    assert area_of(Part.objects.get()) == pytest.approx(4.63, abs=0.01)


def test_the_measures_of_a_shape_are_shown_before_anything_is_refused(restorer_client, design):
    page = post(restorer_client, design, way="cylinder", ask="measures", name="Pillar").content.decode()
    assert 'name="diameter"' in page
    assert "Pillar" in page
    assert "Please mend" not in page
    assert "errorlist" not in page
    assert not Part.objects.exists()


def test_the_area_is_worked_out_without_keeping_the_part(restorer_client, design):
    page = post(
        restorer_client, design, name="", ask="area", way="cylinder", diameter="100", length="1000",
        texture="foundry skin", ribbing="plain",
    ).content.decode()  # fmt: skip
    assert "0.3464 m²" in page  # (π·0.1·1 + π·0.1²/2) · 1.05
    assert "A = π·d·l + π·d²/2" in page
    assert not Part.objects.exists()


def test_htmx_is_answered_with_the_section_alone(restorer_client, design):
    response = restorer_client.post(
        reverse("part-new", args=[design.pk]),
        typed(way="sphere", ask="measures"),
        headers={"HX-Request": "true"},
    )
    page = response.content.decode()
    assert page.lstrip().startswith('<section id="size">')


@pytest.mark.parametrize(
    ("measures", "words"),
    [
        ({"way": "cylinder", "diameter": "", "length": "1000"}, "This field is required"),
        ({"way": "cylinder", "diameter": "thick", "length": "1000"}, "Give a number"),
        ({"way": "cylinder", "diameter": "3 kg", "length": "1000"}, "measures something else"),
        ({"way": "cylinder", "diameter": "0", "length": "1000"}, "Must lie between 0.1 and 100000 mm"),
        ({"way": "tube, inside and out", "outer_diameter": "50", "wall": "40", "length": "1000"}, "Must lie between"),
        ({"way": "paint used", "paint": "1", "wet_film_low": "100", "wet_film_high": "75"}, "lies below the lower"),
        ({"way": "sphere", "diameter": "100", "ribbing": ""}, "This field is required"),
        ({"area": "0"}, "Must lie between"),
        ({"area": "-1"}, "Must lie between"),
        ({"area": "1e400"}, "not a unit"),
        ({"quantity": "0"}, "at least once"),
        ({"colour": "green"}, "six digits"),
        ({"name": ""}, "This field is required"),
    ],
)
def test_what_cannot_be_is_told_at_the_field_and_stays_typed(restorer_client, design, measures, words):
    response = post(restorer_client, design, **{"texture": "foundry skin", "ribbing": "plain", **measures})
    page = response.content.decode()
    assert response.status_code == 200
    assert words in page
    assert not Part.objects.exists()
    for value in measures.values():
        assert value in page


@pytest.mark.parametrize(
    ("side", "words"), [("5000", "900000 kg of weight"), ("8000", "m² of painted area"), ("100000", "range of")]
)
def test_possible_measures_that_make_an_impossible_part_are_refused(restorer_client, design, side, words):
    sides = {"length": side, "width": side, "height": side}
    response = post(restorer_client, design, way="box", texture="machined or rolled", ribbing="plain", **sides)
    assert words in response.content.decode()
    assert not Part.objects.exists()


def test_a_way_that_is_not_there_is_the_typed_one(restorer_client, design):
    assert post(restorer_client, design, way="by guess", area="1").status_code == 200
    assert not Part.objects.exists()


def test_a_us_workshop_types_and_reads_its_own_units(restorer_client, workshop, design):
    Workshop.objects.update(units="us")
    post(restorer_client, design, area="10", mass="25")
    part = Part.objects.get()
    assert area_of(part) == pytest.approx(0.929, abs=0.001)
    page = restorer_client.get(reverse("part", args=[part.pk])).content.decode()
    assert "10 ft²" in page
    assert "25 lb" in page


def test_a_worked_out_area_sent_back_untouched_keeps_its_basis(restorer_client, design):
    post(
        restorer_client, design, way="casting by weight and wall", mass="60", wall="12",
        texture="machined or rolled", ribbing="plain",
    )  # fmt: skip
    part = Part.objects.get()
    restorer_client.post(
        reverse("part-edit", args=[part.pk]), typed(mass="60", wall="12", area="1.38889", mask="bores")
    )
    part.refresh_from_db()
    assert part.mask == "bores"
    assert part.area_basis.startswith("casting by weight and wall")


def test_two_parts_of_a_name_are_told_at_the_name(restorer_client, design):
    post(restorer_client, design)
    assert "already" in post(restorer_client, design).content.decode()
    assert Part.objects.count() == 1


def test_the_same_form_sent_twice_makes_one_part(restorer_client, design):
    form = typed()
    first, second = (restorer_client.post(reverse("part-new", args=[design.pk]), form) for _ in range(2))
    assert first.url == second.url


def test_a_part_without_pieces_may_go_and_one_with_pieces_stays(restorer_client, design):
    post(restorer_client, design)
    part = Part.objects.get()
    piece = factories.PieceFactory(part=part)
    restorer_client.post(reverse("part-remove", args=[part.pk]))
    assert Part.objects.exists()
    piece.delete()
    restorer_client.post(reverse("part-remove", args=[part.pk]))
    assert not Part.objects.exists()


def test_a_revision_is_noted_once_with_its_reason(restorer_client, design):
    part = factories.PartFactory(design=design)
    form = {"id": str(uuid.uuid4()), "label": "B", "reason": "thicker web", "made_on": "2026-03-01"}
    for _ in range(2):
        restorer_client.post(reverse("revision-new", args=[part.pk]), form)
    assert Revision.objects.get().part == part
    again = restorer_client.post(reverse("revision-new", args=[part.pk]), {**form, "id": str(uuid.uuid4())})
    assert again.status_code == 422
    assert "already" in again.content.decode()


@pytest.mark.parametrize("name", ["part", "part-edit"])
def test_another_workshops_part_is_not_there(stranger_client, design, name):
    part = factories.PartFactory(design=design)
    assert stranger_client.get(reverse(name, args=[part.pk])).status_code == 404


def test_another_workshops_system_is_not_offered(restorer_client, design, other_workshop):
    theirs = factories.SystemFactory(workshop=other_workshop)
    assert "valid choice" in post(restorer_client, design, system=theirs.pk).content.decode()


def test_a_guest_reads_and_may_not_change(guest_client, design):
    part = factories.PartFactory(design=design)
    assert guest_client.get(reverse("part", args=[part.pk])).status_code == 200
    assert guest_client.get(reverse("part-edit", args=[part.pk])).status_code == 403


def test_a_design_is_made_listed_and_shown(restorer_client):
    form = {"id": str(uuid.uuid4()), "name": "Bench drill"}
    response = restorer_client.post(reverse("design-new"), form, follow=True)
    assert "Enter the first part" in response.content.decode()
    assert "Bench drill" in restorer_client.get(reverse("designs")).content.decode()
    assert restorer_client.post(reverse("design-new"), form).url == reverse("design", args=[Design.objects.get().pk])


def test_a_designs_parts_stand_by_name_with_what_is_missing(guest_client, design):
    for name in ("Table", "Arm"):
        factories.PartFactory(design=design, name=name, area=None)
    page = guest_client.get(reverse("design", args=[design.pk])).content.decode()
    assert page.index("Arm") < page.index("Table")
    assert "not known" in page


@pytest.mark.parametrize("name", ["colour", "lettering_colour"])
def test_a_colour_is_typed_by_its_name_and_stays_typed_where_it_is_unknown(owner_client, design, name):
    factories.CoatingFactory(workshop=design.workshop, colour_name="deep green", colour="#2f5a44")
    address = reverse("part-new", args=[design.pk])
    assert f'type="color" class="scripted-only" data-fills="id_{name}"' in owner_client.get(address).content.decode()
    back = post(owner_client, design, **{name: "no such colour"}).content.decode()
    assert "“no such colour” is no colour known here" in back
    assert 'value="no such colour"' in back
    post(owner_client, design, **{name: "green"})
    assert getattr(Part.objects.get(), name) == "#2f5a44"
