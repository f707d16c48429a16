"""Photos go to members of the workshop and to whoever follows the project; to nobody else."""

from io import BytesIO

import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _own_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def step(workshop, roof):
    piece = factories.PieceFactory(part__design__workshop=workshop, place=roof)
    return factories.StepFactory(piece=piece)


@pytest.fixture
def photo(step):
    sent = BytesIO()
    Image.new("RGB", (800, 600), "brown").save(sent, "PNG")
    return factories.photo_of(step, sent.getvalue())


@pytest.fixture
def token(step):
    return factories.FollowerFactory(project=step.piece.project).token


@pytest.mark.parametrize("name", ["photo", "photo-thumbnail"])
def test_a_member_sees_it_as_the_jpeg_it_was_made_into(guest_client, photo, name):
    response = guest_client.get(reverse(name, args=[photo.pk]))
    assert response.status_code == 200
    assert response["Content-Type"] == "image/jpeg"
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Content-Disposition"] == "inline"
    assert "private" in response["Cache-Control"]
    assert Image.open(BytesIO(b"".join(response.streaming_content))).format == "JPEG"


@pytest.mark.parametrize("name", ["photo", "photo-thumbnail"])
def test_another_workshop_does_not_see_it(stranger_client, photo, name):
    assert stranger_client.get(reverse(name, args=[photo.pk])).status_code == 404


def test_somebody_signed_out_is_asked_to_sign_in(photo):
    assert Client().get(reverse("photo", args=[photo.pk])).status_code == 302


@pytest.mark.parametrize("name", ["follow-photo", "follow-thumbnail"])
def test_a_follower_sees_it(photo, token, name):
    response = Client().get(reverse(name, args=[token, photo.pk]))
    assert response.status_code == 200
    assert "noindex" in response["X-Robots-Tag"]
    assert response["Cache-Control"] == "private, no-store"


def test_a_follower_sees_nothing_of_another_project(workshop, photo):
    other = factories.FollowerFactory(project=factories.ProjectFactory(design__workshop=workshop))
    assert Client().get(reverse("follow-photo", args=[other.token, photo.pk])).status_code == 404


def test_a_follower_sees_no_photo_of_a_voided_entry(step, photo, token):
    factories.StepFactory(piece=step.piece, kind="voided", voids=step)
    assert Client().get(reverse("follow-photo", args=[token, photo.pk])).status_code == 404


def test_a_follower_sees_no_photo_of_a_piece_set_aside(step, photo, token):
    step.piece.set_aside = True
    step.piece.save()
    assert Client().get(reverse("follow-photo", args=[token, photo.pk])).status_code == 404


def test_a_file_that_is_gone_is_not_an_error(guest_client, photo):
    photo.image.storage.delete(photo.image.name)
    assert guest_client.get(reverse("photo", args=[photo.pk])).status_code == 404
