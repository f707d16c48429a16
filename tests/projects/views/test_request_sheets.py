"""The sheet of a request: what the supplier sees, and what reads straight back in."""

from datetime import date

import pytest
from django.core.files.base import ContentFile
from django.urls import reverse

from tests import cost_factories as costs
from tests import factories
from tests.projects.test_images import half_red, written

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _files_of_its_own(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def part(workshop):
    return factories.PartFactory(design__workshop=workshop, name="wheel", number="W-1", quantity=3, mass=12)


@pytest.fixture
def asked(part, workshop):
    casting = costs.OperationFactory(part=part)
    request = costs.RequestFactory(
        design=part.design,
        supplier=costs.SupplierFactory(workshop=workshop, name="Vale Foundry"),
        note="boxes welcome",
        answer_by=date(2026, 6, 1),
        operations=[casting],
    )
    request.lines.update(revision=costs.RevisionFactory(part=part, label="B"))
    return request


def page(client, name, *args):
    return " ".join(client.get(reverse(name, args=args)).content.decode().split())


def test_the_printed_sheet_says_what_is_asked(restorer_client, asked):
    shown = page(restorer_client, "request-sheet", asked.pk)
    for word in ("Vale Foundry", "wheel", "no. W-1", "revision B", "grey cast iron", "12 kg", "3 off", "15 off"):
        assert word in shown
    assert "in GBP and without tax" in shown
    assert "boxes welcome" in shown


def test_a_drawing_is_named_and_else_the_latest_photo_is_shown(restorer_client, asked, part, owner, workshop):
    piece = factories.PieceFactory(part=part)
    photo = factories.photo_of(factories.StepFactory(piece=piece, by=owner), written(half_red()))
    address = reverse("photo-thumbnail", args=[photo.pk])
    assert address in page(restorer_client, "request-sheet", asked.pk)
    revision = part.revisions.get()
    revision.drawing.save("x.pdf", ContentFile(b"lines"), save=False)
    revision.drawing_name = "wheel B.pdf"
    revision.save()
    shown = page(restorer_client, "request-sheet", asked.pk)
    assert "wheel B.pdf" in shown
    assert address not in shown
