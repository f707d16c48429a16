"""The film map: readings noted by a tap or in words, judged, taken back."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import time_machine
from django.urls import reverse
from PIL import Image

from projects.record.models import FilmReading, Step
from tests import factories
from tests.pdfs import pictures_of, words_of
from tests.projects.record.test_images import half_red, written

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 12, 9, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _in_may(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def piece(workshop, roof, system, owner):
    """With a primer and a coat of enamel on, each of the dry film that its tin asks."""
    part = factories.PartFactory(design__workshop=workshop, system=system, area=0.6, profile=75)
    piece = factories.PieceFactory(part=part, project__design=part.design, place=roof, mark="F-01")
    own = {"piece": piece, "by": owner}
    factories.StepFactory(kind=Step.Kind.BLASTED, happened_at=NOW - timedelta(days=4), **own)
    for ago, layer in zip((3, 2), system.coats, strict=False):
        at = NOW - timedelta(days=ago)
        factories.StepFactory(kind=Step.Kind.COATED, layer=layer, coating=layer.coating, happened_at=at, **own)
    return piece


def asked_of(system):
    return sum(layer.dry_film_used.to("µm").magnitude for layer in system.coats[:2])


def noted(client, piece, reading, gauge="corrected", **told):
    return client.post(reverse("film", args=[piece.pk]), {"reading": reading, "gauge": gauge, **told})


def page(client, piece):
    return " ".join(client.get(reverse("film", args=[piece.pk])).content.decode().split())


def test_readings_are_held_against_the_coats_that_are_on_and_the_thinnest_spot_is_named(
    helper_client, guest_client, piece, system
):
    asked = asked_of(system)
    for spot, reading in (("hub", asked + 30), ("rim, left", asked - 10), ("spoke", asked + 4)):
        assert noted(helper_client, piece, reading, spot=spot).status_code == 302
    shown = page(guest_client, piece)
    assert "Too thin" in shown  # one of three is more than a fifth
    assert "the thinnest spot is <b>rim, left</b>" in shown
    assert f"<dt>Mean</dt><dd><b>{asked + 8:g} µm</b>" in shown
    assert "1 of 3, 33&nbsp;%" in shown
    assert "Note it" not in shown
    (said,) = words_of(guest_client.get(reverse("film-pdf", args=[piece.pk])).content)
    assert "the thinnest spot is rim, left" in said
    thin = FilmReading.objects.get(spot="rim, left")
    for _ in range(2):
        assert helper_client.post(reverse("film-void", args=[thin.pk])).status_code == 302
    assert FilmReading.objects.count() == 4  # nothing is lost, and it is taken back once
    assert "Thick enough" in page(guest_client, piece)
    assert guest_client.post(reverse("film-void", args=[thin.pk])).status_code == 403


def test_a_tap_on_a_photo_is_a_spot_and_the_profile_is_taken_off(helper_client, piece, owner, system):
    photo = factories.photo_of(piece.steps.first(), written(half_red((400, 200))))
    assert 'value="medium" selected' in page(helper_client, piece)  # Rz 75 µm
    noted(helper_client, piece, asked_of(system) + 25, "medium", across="25", down="50")
    row = FilmReading.objects.get()
    assert (row.photo, row.film) == (photo, asked_of(system))
    assert 'cx="100.0" cy="100.0"' in page(helper_client, piece)


def test_on_paper_a_spot_lies_on_the_photo_where_it_was_read(helper_client, piece, owner, system):
    factories.photo_of(piece.steps.first(), written(Image.new("RGB", (400, 200), "red")))
    noted(helper_client, piece, asked_of(system) + 25, "medium", across="25", down="50")
    (sheet,) = pictures_of(helper_client.get(reverse("film-pdf", args=[piece.pk])).content)
    pixels = np.asarray(sheet, dtype=int)
    down, across = np.nonzero((pixels[..., 0] > 200) & (pixels[..., 1] < 60))  # of the photo
    wide, high = np.ptp(across), np.ptp(down)
    assert wide / high == pytest.approx(2, abs=0.02)
    row = pixels[down.min() + high // 2]
    white = np.nonzero((row[across.min() : across.max()] > 240).all(axis=1))[0]
    assert white.min() < wide / 4 < white.max()
    assert np.ptp(white) < wide / 15


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"reading": "thick"}, "reading"),
        ({"reading": "-5"}, "reading"),
        ({"reading": "nan"}, "reading"),
        ({"reading": "90"}, "spot"),
        ({"reading": "90", "across": "20"}, "down"),
        ({"reading": "90", "across": "120", "down": "5"}, "across"),
        ({"reading": "90", "spot": "rim", "gauge": "by eye"}, "gauge"),
    ],
)
def test_what_cannot_be_is_told_at_its_box_and_nothing_is_kept(helper_client, piece, told, field):
    factories.photo_of(piece.steps.first(), written(half_red()))
    answer = noted(helper_client, piece, **told)
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert not FilmReading.objects.exists()


def test_without_a_coat_nothing_says_what_the_film_should_be(helper_client, workshop, roof):
    bare = factories.PieceFactory(part__design__workshop=workshop, place=roof)
    assert "nothing says what the film should be" in page(helper_client, bare)
    assert noted(helper_client, bare, 80, spot="rim").status_code == 422


def test_the_limits_are_the_workshop_s_own(helper_client, piece, workshop, system):
    workshop.film_thin_share = 40
    workshop.save()
    for spot, more in (("hub", 30), ("rim", -10), ("spoke", 4)):
        noted(helper_client, piece, asked_of(system) + more, spot=spot)
    assert "Thick enough" in page(helper_client, piece)
    assert "at most 40 % of the readings" in page(helper_client, piece)
