"""Colours tried out: from the part's page to the paint list, by the workshop's members."""

import base64
import uuid
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from finishing.science.colours import difference
from projects.record.models import Candidate, ColourReply, SheetAddress, TryOut
from tests import factories
from tests.projects.lettering.test_pictures import inked, plate_photo

pytestmark = pytest.mark.django_db


@pytest.fixture
def photo(workshop):
    piece = factories.PieceFactory(part__design__workshop=workshop, part__lettering="WREN", part__colour="#26364a")
    return factories.photo_of(factories.StepFactory(piece=piece), plate_photo())


@pytest.fixture
def try_out(photo):
    return factories.TryOutFactory(photo=photo)


def sent(**more):
    return {"id": str(uuid.uuid4()), **more}


def body(client, try_out):
    return client.get(reverse("try-out", args=[try_out.pk])).content.decode()


def test_a_photo_is_chosen_once(restorer_client, photo):
    part = photo.step.piece.part
    page = reverse("try-out-new", args=[part.pk])
    assert page in restorer_client.get(reverse("part", args=[part.pk])).content.decode()
    assert page in restorer_client.get(reverse("piece", args=[photo.step.piece_id])).content.decode()
    assert str(photo.pk) in restorer_client.get(page).content.decode()
    for _ in range(2):
        answer = restorer_client.post(page, {"photo": photo.pk})
        assert answer.url == reverse("try-out", args=[TryOut.objects.get().pk])
    assert "Choose a photo." in restorer_client.post(page, {}).content.decode()


def test_a_photo_of_another_part_is_not_offered(restorer_client, photo):
    other = factories.PieceFactory(part__design=photo.step.piece.part.design)
    answer = restorer_client.post(reverse("try-out-new", args=[other.part_id]), {"photo": photo.pk})
    assert answer.status_code == 200
    assert not TryOut.objects.exists()


def test_marks_are_kept_and_come_back(restorer_client, try_out):
    mask = "data:image/png;base64," + base64.b64encode(inked(blue=(22, 12, 98, 68))).decode()
    keep = reverse("try-out-mark", args=[try_out.pk])
    assert restorer_client.post(keep, {"letters_are": "lighter", "split": "55", "mask": mask}).status_code == 302
    try_out.refresh_from_db()
    assert try_out.mask
    assert try_out.split == pytest.approx(0.55)
    drawn = restorer_client.get(reverse("try-out-marks", args=[try_out.pk]))
    assert Image.open(BytesIO(drawn.content)).getpixel((30, 40)) == (0, 60, 255, 255)
    restorer_client.post(keep, {"letters_are": "darker", "split": ""})  # without script nothing is brushed
    before = try_out.mask
    try_out.refresh_from_db()
    assert (try_out.mask, try_out.split, try_out.letters_are) == (before, None, "darker")


@pytest.mark.parametrize("mask", ["rubbish", "data:image/png;base64,@@", "data:image/png;base64,aGVsbG8="])
def test_broken_marks_are_told_and_change_nothing(restorer_client, try_out, mask):
    answer = restorer_client.post(
        reverse("try-out-mark", args=[try_out.pk]), {"letters_are": "darker", "split": "60", "mask": mask}
    )
    assert "did not arrive whole" in answer.content.decode()
    try_out.refresh_from_db()
    assert (try_out.mask, try_out.letters_are) == ("", "lighter")


def test_a_candidate_by_value_is_shown_and_judged(restorer_client, try_out):
    add = reverse("candidate-new", args=[try_out.pk])
    first = sent(letters="#E6CF8F", body="#26364a", name="cream")
    for _ in range(2):  # a form sent twice is one candidate
        assert restorer_client.post(add, first).status_code == 302
    restorer_client.post(add, sent(letters="#e7d090", body="#26364a"))
    page = body(restorer_client, try_out)
    assert "Stands out well" in page
    assert "This and “cream” cannot be told apart" in page
    assert "7.96" in page or "8.0" in page  # the working is there
    picture = restorer_client.get(reverse("candidate-picture", args=[Candidate.objects.get(name="cream").pk]))
    assert picture["Content-Type"] == "image/jpeg"
    assert Image.open(BytesIO(picture.content)).size == (120, 80)


def test_letters_that_hardly_stand_out_are_told(restorer_client, try_out):
    restorer_client.post(reverse("candidate-new", args=[try_out.pk]), sent(letters="#3f5470", body="#26364a"))
    assert "Hardly stands out" in body(restorer_client, try_out)


def test_the_height_of_the_letters_says_from_how_far_they_are_read(restorer_client, try_out):
    try_out.part.letter_height = 25
    try_out.part.save()
    factories.CandidateFactory(try_out=try_out)
    assert "from up to <b>2.7 m</b>" in body(restorer_client, try_out)


def test_a_colour_from_a_tin_and_from_a_lid(restorer_client, workshop, try_out):
    tin = factories.CoatingFactory(workshop=workshop, colour="#c8102e", colour_name="signal red")
    add = reverse("candidate-new", args=[try_out.pk])
    restorer_client.post(add, sent(letters_coating=tin.pk))
    assert Candidate.objects.get(letters_coating=tin).name == "signal red"
    lid = BytesIO()
    Image.new("RGB", (90, 90), (230, 207, 143)).save(lid, "PNG")
    restorer_client.post(add, sent(lid=SimpleUploadedFile("lid.png", lid.getvalue()), name="lid"))
    assert difference(Candidate.objects.get(name="lid").letters, "#e6cf8f") < 1  # a JPEG rounds


@pytest.mark.parametrize(
    ("wrong", "word"),
    [
        ({}, "Give the letters a colour"),
        ({"letters": "cream"}, "six digits"),
        ({"letters": "#e6cf8f", "body": "blue"}, "six digits"),
        ({"lid": SimpleUploadedFile("lid.jpg", b"<svg onload='x'>")}, "not a photo"),
    ],
)
def test_a_wrong_colour_is_told_at_its_box(restorer_client, try_out, wrong, word):
    answer = restorer_client.post(reverse("candidate-new", args=[try_out.pk]), sent(**wrong))
    assert word in answer.content.decode()
    assert not Candidate.objects.exists()


def test_no_more_than_twelve_stand_on_a_sheet(restorer_client, try_out):
    factories.CandidateFactory.create_batch(12, try_out=try_out)
    answer = restorer_client.post(reverse("candidate-new", args=[try_out.pk]), sent(letters="#e6cf8f"))
    assert "the most on one sheet" in answer.content.decode()


def test_the_chosen_one_goes_into_the_finish_and_onto_the_paint_list(restorer_client, workshop, try_out):
    part = try_out.part
    part.system = factories.LayerFactory(system__workshop=workshop).system
    part.area = 0.8
    part.save()
    tin = factories.CoatingFactory(workshop=workshop, colour="#e6cf8f", name="cream sign enamel")
    chosen = factories.CandidateFactory(try_out=try_out, letters_coating=tin, body="#2f5a44")
    other = factories.CandidateFactory(try_out=try_out, chosen=True)
    restorer_client.post(reverse("candidate-choose", args=[chosen.pk]))
    part.refresh_from_db()
    other.refresh_from_db()
    assert (part.lettering_colour, part.colour, part.lettering_coating) == ("#e6cf8f", "#2f5a44", tin)
    assert not other.chosen
    project = try_out.photo.step.piece.project_id
    assert "cream sign enamel" in restorer_client.get(reverse("paint-list", args=[project])).content.decode()


def test_a_helper_notes_an_answer_and_a_guest_only_looks(helper_client, guest_client, try_out):
    candidate = factories.CandidateFactory(try_out=try_out)
    note = reverse("reply-new", args=[try_out.pk])
    assert helper_client.post(note, sent(candidate=candidate.pk, name="Mrs Wren")).status_code == 302
    assert ColourReply.objects.get().candidate == candidate
    assert "Mrs Wren" in body(guest_client, try_out)
    assert guest_client.post(note, sent(words="no", name="x")).status_code == 403
    assert guest_client.post(reverse("candidate-choose", args=[candidate.pk])).status_code == 403


def test_a_sheet_is_shared_renewed_and_closed(restorer_client, try_out):
    factories.CandidateFactory(try_out=try_out)
    share = reverse("try-out-share", args=[try_out.pk])
    restorer_client.post(share)
    first = SheetAddress.objects.get()
    assert reverse("colour-sheet", args=[first.token]) in body(restorer_client, try_out)
    restorer_client.post(share)
    assert SheetAddress.objects.in_use().get() != first
    restorer_client.post(share, {"close": "1"})
    assert not SheetAddress.objects.in_use().exists()


def test_colours_of_a_deleted_project_are_out_of_sight(restorer_client, try_out):
    project = try_out.photo.step.piece.project
    project.deleted_at = try_out.made_at
    project.save()
    assert restorer_client.get(reverse("try-out", args=[try_out.pk])).status_code == 404


def test_a_photo_whose_file_is_gone_leaves_the_page(restorer_client, try_out):
    try_out.photo.image.storage.delete(try_out.photo.image.name)
    try_out.split = 0.123  # no picture of it is in memory
    try_out.save()
    assert restorer_client.get(reverse("try-out", args=[try_out.pk])).status_code == 200
    assert restorer_client.get(reverse("try-out-photo", args=[try_out.pk])).status_code == 404
