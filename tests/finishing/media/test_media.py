"""Blasting media: looked at by everybody of the workshop, changed by who plans, and sand refused with its reason."""

import uuid

import pytest
from django.urls import reverse

from finishing.library.actions import load_library
from finishing.media.forms import MediumForm
from finishing.media.models import Medium
from tests import factories
from tests.finishing.calculators.views.rough import rough_answers

pytestmark = pytest.mark.django_db

USUAL = {
    "name": "glass of the quarry road", "kind": "crushed glass", "grain": "medium", "bag": "25", "price": "9,80",
    "free_silica": "1", "iron": "free", "bulk_density": "1.36 kg/L", "hardness_low": "5", "hardness_high": "6",
    "profile_low": "40", "profile_high": "65", "use": "24.4", "cycles_low": "1", "cycles_high": "1",
    "feed_difference": "0.15", "source": "sheet of May 2026",
}  # fmt: skip


def sheet(**changes):
    return {"id": str(uuid.uuid4()), **USUAL, **changes}


@pytest.fixture
def glass(workshop):
    return factories.MediumFactory(workshop=workshop, name="our glass")


def test_the_list_shows_the_library_and_ones_own(guest_client, workshop, glass, other_workshop):
    load_library(workshop)
    factories.MediumFactory(workshop=other_workshop, name="their garnet")
    page = guest_client.get(reverse("media")).content.decode()
    assert "our glass" in page
    assert "Bicarbonate of soda" in page
    assert "their garnet" not in page


def test_each_library_sheet_shows_values_basis_and_cautions(guest_client, workshop):
    load_library(workshop)
    for medium in Medium.objects.of(workshop):
        page = guest_client.get(reverse("medium", args=[medium.pk])).content.decode()
        assert "starting library" in page
        assert "common practice" in page
        assert "this is not a permit" in page
        assert "Air to breathe" in page
        assert ("Refused for blasting" in page) == (medium.kind == "silica sand")
        assert ("let it dry neutral" in page) == (medium.kind == "bicarbonate")
        assert "Copy and change" not in page  # a guest only looks


def test_a_medium_is_typed_from_its_bag_in_any_unit(restorer_client, workshop):
    sent = sheet()
    answer = restorer_client.post(reverse("medium-new"), sent)
    made = Medium.objects.of(workshop).get()
    assert answer.url == reverse("medium", args=[made.pk])
    assert str(made.pk) == sent["id"]
    assert made.bulk_density.to("kg/m**3").magnitude == pytest.approx(1360)
    assert made.basis["bulk_density"] == made.basis["profile"] == "sheet of May 2026"
    assert made.refusal is None


def test_a_form_sent_twice_makes_one_medium(restorer_client, workshop):
    sent = sheet()
    first, second = (restorer_client.post(reverse("medium-new"), sent) for _ in range(2))
    assert first.url == second.url
    assert Medium.objects.of(workshop).count() == 1


@pytest.mark.parametrize(("silica", "words"), [("", "is not known"), ("5", "up to 5 %")])
def test_too_much_silica_or_none_said_is_kept_and_refused_with_the_reason(restorer_client, workshop, silica, words):
    restorer_client.post(reverse("medium-new"), sheet(free_silica=silica))
    made = Medium.objects.of(workshop).get()
    page = restorer_client.get(reverse("medium", args=[made.pk])).content.decode()
    assert "Refused for blasting" in page
    assert words in page
    assert "What it suits" not in page


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"bulk_density": "1.36"}, "bulk_density"),  # kg/L meant, kg/m³ read
        ({"profile_low": "65", "profile_high": "40"}, "profile_high"),
        ({"free_silica": "plenty"}, "free_silica"),
        ({"kind": "gravel"}, "kind"),
        ({"name": ""}, "name"),
    ],
)
def test_wrong_values_are_told_at_their_field_and_stay_typed(restorer_client, workshop, wrong, field):
    answer = restorer_client.post(reverse("medium-new"), sheet(**wrong))
    assert answer.status_code == 200
    assert set(answer.context["form"].errors) == {field}
    assert USUAL["source"] in answer.content.decode()
    assert not Medium.objects.of(workshop).exists()


def test_only_what_is_changed_takes_the_new_basis(restorer_client, glass):
    glass.basis = {"free_silica": "common practice"}
    glass.save()
    restorer_client.post(reverse("medium-edit", args=[glass.pk]), sheet(name="our glass", bulk_density="1400"))
    glass.refresh_from_db()
    assert glass.bulk_density.magnitude == 1400
    assert glass.basis["free_silica"] == "common practice"
    assert glass.basis["bulk_density"] == "sheet of May 2026"


def test_the_library_stays_as_it_is_and_is_copied(restorer_client, workshop):
    load_library(workshop)
    medium = Medium.objects.of(workshop).get(library_key="garnet-fine")
    assert restorer_client.get(reverse("medium-edit", args=[medium.pk])).url == reverse("medium", args=[medium.pk])
    copied = restorer_client.post(reverse("medium-copy", args=[medium.pk]), {"id": str(uuid.uuid4())})
    own = Medium.objects.of(workshop).get(from_library=False)
    assert copied.url == reverse("medium-edit", args=[own.pk])


def test_a_helper_looks_and_changes_nothing(helper_client, glass):
    assert helper_client.get(reverse("medium", args=[glass.pk])).status_code == 200
    assert helper_client.get(reverse("medium-new")).status_code == 403
    assert helper_client.post(reverse("medium-copy", args=[glass.pk])).status_code == 403


def test_a_retired_medium_stands_apart(restorer_client, workshop):
    factories.MediumFactory(workshop=workshop, name="old slag", retired=True)
    answer = restorer_client.get(reverse("media"))
    assert [medium.name for medium in answer.context["retired"]] == ["old slag"]
    assert not answer.context["own"]


def test_rough_input_is_an_answer_and_never_a_fault(restorer_client, workshop):
    boxes = [*MediumForm.base_fields, "id"]
    for given in rough_answers(boxes, times=60, seed=3, usual=sheet()):
        answer = restorer_client.post(reverse("medium-new"), given)
        assert answer.status_code in {200, 302}
        if answer.status_code == 302:
            assert restorer_client.get(answer.url).status_code == 200


def test_slag_is_told_with_beryllium_and_others_without(guest_client, workshop):
    """Some slags hold it (common practice, no source): the page of a slag said nothing of it, only the day's sheet."""
    pages = {
        kind: guest_client.get(reverse("medium", args=[factories.MediumFactory(workshop=workshop, kind=kind).pk]))
        for kind in ("mineral slag", "garnet")
    }
    assert "Beryllium in slag" in pages["mineral slag"].content.decode()
    assert "Beryllium" not in pages["garnet"].content.decode()
