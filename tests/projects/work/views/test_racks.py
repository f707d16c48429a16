"""A whole rack is taken back or corrected at once: by a tap on the message, or from one of its entries."""

import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from projects.record.models import Photo, Step
from tests import factories

from .test_log import TEN, _at_ten, fine, post, rack  # noqa: F401  # the same pieces at the same moment

pytestmark = pytest.mark.django_db


@pytest.fixture
def coated(helper_client, rack):  # noqa: F811
    post(helper_client, fine(rack, minutes="40", litres="0.4", batch="L 2217"))
    return list(Step.objects.filter(kind="coated").order_by("piece__part__area"))


def stands(kind="coated"):
    return Step.objects.filter(kind=kind, voided_by=None)


def test_the_message_that_says_what_was_logged_takes_it_back_by_one_tap(helper_client, coated):
    page = helper_client.get(reverse("day-sheet")).content.decode()
    undo = reverse("rack-undo", args=[coated[0].rack])
    assert f'action="{undo}"' in page
    helper_client.post(undo)
    helper_client.post(undo)
    assert not stands().exists()
    assert Step.objects.filter(kind="voided", reason="undone at once").count() == 2


def test_what_was_undone_may_be_coated_again(helper_client, coated, rack):  # noqa: F811
    helper_client.post(reverse("rack-undo", args=[coated[0].rack]))
    post(helper_client, fine(rack))
    assert [step.layer_position for step in stands()] == [1, 1]


def test_a_rack_is_corrected_with_its_old_values_in_the_boxes(helper_client, coated, rack):  # noqa: F811
    page = helper_client.get(reverse("log"), {"corrects": coated[0].rack}).content.decode()
    assert "Correct an entry" in page
    assert all(f'value="{piece.pk}" checked' in page for piece in rack)
    for name, value in {"minutes": "40", "litres": "0.4", "batch": "L 2217", "humidity": "55"}.items():
        assert re.search(rf'name="{name}"[^>]*value="{value}|value="{value}"[^>]*name="{name}"', page), name
    assert post(helper_client, fine(rack, humidity="60", corrects=coated[0].rack)).status_code == 302
    assert [step.humidity.magnitude for step in stands()] == [60, 60]
    assert [step.layer_position for step in stands()] == [1, 1]  # the wrong coat does not count as one below
    assert [step.verdict for step in stands()] == ["inside", "inside"]


def test_a_correction_sent_twice_is_one_and_leaves_the_old_to_be_read(helper_client, coated, rack):  # noqa: F811
    data = fine(rack, corrects=coated[0].rack)
    post(helper_client, data)
    post(helper_client, data)
    assert stands().count() == 2
    assert Step.objects.filter(kind="coated").count() == 4


def test_a_piece_that_was_not_in_the_rack_is_left_out_by_the_correction(helper_client, coated, rack):  # noqa: F811
    post(helper_client, fine(rack[:1], corrects=coated[0].rack))
    assert [step.piece for step in stands()] == rack[:1]


def test_photos_come_along_with_a_correction(helper_client, coated, rack, settings, tmp_path):  # noqa: F811
    settings.MEDIA_ROOT = tmp_path
    photo = factories.photo_of(coated[0], factories.grey_photo())
    post(helper_client, fine(rack, corrects=coated[0].rack))
    (right,) = Photo.objects.exclude(pk=photo.pk)
    assert (right.step.piece, right.image.name) == (rack[0], photo.image.name)
    assert right.step in stands()


def test_one_entry_or_all_of_its_rack_are_voided_from_one_of_them(helper_client, coated):
    address = reverse("step-void", args=[coated[0].pk])
    assert "Of these pieces" in helper_client.get(address).content.decode()
    helper_client.post(address, {"reason": "wrong tin", "entries": [coated[0].pk]})
    assert [*stands()] == [coated[1]]
    other = reverse("step-void", args=[coated[1].pk])
    assert "Of these pieces" not in helper_client.get(other).content.decode()
    helper_client.post(other, {"reason": "wrong tin"})
    assert not stands().exists()


def test_nobody_of_another_workshop_takes_anything_back(stranger_client, coated):
    stranger_client.post(reverse("rack-undo", args=[coated[0].rack]))
    assert stands().count() == 2
    assert stranger_client.post(reverse("rack-undo", args=[uuid.uuid4()])).status_code == 404


def test_an_entry_is_for_pieces_that_are_ticked_already(helper_client, rack):  # noqa: F811
    page = helper_client.get(reverse("log"), {"kind": "coated"}).content.decode()
    assert all(f'value="{piece.pk}" checked' in page for piece in rack)
    factories.StepFactory(piece=rack[0], kind="blasted", happened_at=TEN - timedelta(minutes=20))
    assert "checked" not in helper_client.get(reverse("log"), {"kind": "lettered"}).content.decode()
