"""The colour sheet as a customer opens it."""

import uuid

import pytest
from django.urls import reverse

from projects.record.models import ColourReply, SheetAddress
from tests import factories
from tests.projects.lettering.test_pictures import plate_photo

pytestmark = pytest.mark.django_db


@pytest.fixture
def candidate(workshop):
    step = factories.StepFactory(piece=factories.PieceFactory(part__design__workshop=workshop))
    try_out = factories.TryOutFactory(photo=factories.photo_of(step, plate_photo()))
    return factories.CandidateFactory(try_out=try_out, name="cream on blue")


@pytest.fixture
def address(candidate):
    return SheetAddress.objects.create(workshop=candidate.workshop, try_out=candidate.try_out)


def test_a_customer_sees_the_candidates_and_answers(client, candidate, address):
    here = reverse("colour-sheet", args=[address.token])
    page = client.get(here)
    assert "cream on blue" in page.content.decode()
    assert page["X-Robots-Tag"] == "noindex, nofollow"
    picture = client.get(reverse("colour-sheet-picture", args=[address.token, candidate.pk]))
    assert (picture["Content-Type"], picture["Cache-Control"]) == ("image/jpeg", "private, no-store")
    said = {"id": str(uuid.uuid4()), "candidate": candidate.pk, "name": "Mr Quillfeather", "words": "this one"}
    for _ in range(2):
        assert client.post(here, said).status_code == 302
    assert ColourReply.objects.get().words == "this one"
    assert "your answer is noted" in client.get(f"{here}?noted=yes").content.decode()


def test_an_answer_says_which_or_why(client, address):
    here = reverse("colour-sheet", args=[address.token])
    answer = client.post(here, {"name": "Mr Quillfeather"})
    assert "Say which one, or say it in words" in answer.content.decode()
    assert not ColourReply.objects.exists()


def test_no_sheet_fills_the_book(client, candidate, address):
    rows = [ColourReply(workshop=candidate.workshop, try_out=candidate.try_out, name="x", words="y") for _ in range(40)]
    ColourReply.objects.bulk_create(rows)
    here = reverse("colour-sheet", args=[address.token])
    assert "more are not taken" in client.post(here, {"name": "z", "words": "again"}).content.decode()


def test_a_closed_address_opens_nothing(client, candidate, address):
    SheetAddress.objects.update(closed=True)
    assert client.get(reverse("colour-sheet", args=[address.token])).status_code == 404
    assert client.get(reverse("colour-sheet-picture", args=[address.token, candidate.pk])).status_code == 404


def test_a_candidate_of_another_sheet_is_not_shown(client, candidate, address, other_workshop):
    step = factories.StepFactory(piece=factories.PieceFactory(part__design__workshop=other_workshop))
    theirs = factories.CandidateFactory(try_out=factories.TryOutFactory(photo=factories.photo_of(step, plate_photo())))
    assert client.get(reverse("colour-sheet-picture", args=[address.token, theirs.pk])).status_code == 404
    said = {"candidate": theirs.pk, "name": "x"}
    assert client.post(reverse("colour-sheet", args=[address.token]), said).status_code == 200
    assert not ColourReply.objects.exists()
