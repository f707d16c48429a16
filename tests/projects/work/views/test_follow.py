"""The customer's page: stages, photos, the promised date; no names of people, no money, and only with the address."""

import uuid
from datetime import date
from io import BytesIO

import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from projects.record.models import Follower
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _own_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def follower(workshop, system, roof):
    project = factories.ProjectFactory(
        design__workshop=workshop, name="Fretsaw of 1911", customer="Ada Quillfeather", promised_on=date(2026, 12, 24)
    )
    part = factories.PartFactory(design=project.design, system=system, name="Frame")
    piece = factories.PieceFactory(part=part, project=project, place=roof, mark="F-01")
    user = factories.UserFactory(username="bartholomew")
    step = factories.StepFactory(piece=piece, kind="blasted", by=user, note="cost us 40 pounds")
    sent = BytesIO()
    Image.new("RGB", (80, 60), "brown").save(sent, "JPEG")
    factories.photo_of(step, sent.getvalue())
    return factories.FollowerFactory(project=project, name="Mr Quillfeather")


def look(follower):
    return Client().get(reverse("follow", args=[follower.token]))


def test_it_shows_stages_photos_and_the_promised_date_to_whoever_has_the_address(follower):
    page = look(follower).content.decode()
    for told in ("Fretsaw of 1911", "24 December 2026", "Frame", "blasted", "thumbnail"):
        assert told in page


def test_it_tells_no_name_of_a_person_no_note_and_no_money(follower):
    page = look(follower).content.decode()
    for secret in ("Quillfeather", "bartholomew", "cost us", "GBP", "pounds"):
        assert secret not in page


def test_a_closed_address_opens_nothing(follower):
    Follower.objects.update(closed=True)
    assert look(follower).status_code == 404


@pytest.mark.parametrize("token", ["x", "a" * 200, "..%2f..%2f", "a%00b", "%C3%A9"])
def test_a_guessed_address_opens_nothing(follower, token):
    assert Client().get(f"/follow/{token}/").status_code == 404


def test_it_is_kept_out_of_search_engines_caches_and_referrers(follower):
    response = look(follower)
    assert "noindex" in response["X-Robots-Tag"]
    assert "no-store" in response["Cache-Control"]
    # under "no-referrer" a browser tells no origin, and what is sent from the page is refused
    assert response["Referrer-Policy"] == "same-origin"


def test_it_may_only_be_read(follower):
    assert Client().post(reverse("follow", args=[follower.token])).status_code == 405


def test_a_photo_of_a_rack_stands_there_once(follower):
    piece = follower.project.pieces.get()
    step = piece.steps.get()
    photo = step.photos.get()
    other = factories.PieceFactory(part=piece.part, project=piece.project, place=piece.place)
    beside = factories.StepFactory(piece=other, kind="blasted")
    photo.pk, photo.step, photo._state.adding = uuid.uuid4(), beside, True
    photo.save()
    assert look(follower).content.decode().count("<img") == 1


def test_what_stays_bare_is_not_told_as_undone(follower, roof):
    part = factories.PartFactory(design=follower.project.design, name="Bush", stays_bare=True)
    factories.PieceFactory(part=part, project=follower.project, place=roof, mark="B-01")
    page = " ".join(look(follower).content.decode().split())
    assert '<b class="number">1</b> stays bare' in page
    assert '<b class="number">0</b> to be blasted' in page
