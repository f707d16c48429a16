"""Pages as PDF: the page's own numbers, the page's own rights."""

from datetime import UTC, datetime

import numpy as np
import pytest
import time_machine
from django.urls import reverse

from finishing.library.actions import load_library
from projects.visits import actions
from tests import cost_factories as costs
from tests import factories
from tests.pdfs import pictures_of, words_of
from tests.projects.record.test_images import half_red, written

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _in_may(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    with time_machine.travel(datetime(2026, 5, 12, 9, tzinfo=UTC), tick=False):
        yield


@pytest.fixture
def piece(workshop, roof, system):
    part = factories.PartFactory(design__workshop=workshop, system=system, area=0.6, mask="journals", name="frame")
    return factories.PieceFactory(part=part, project__design=part.design, place=roof, mark="F-01")


@pytest.fixture
def visit(workshop, piece):
    load_library(workshop)
    visit = factories.VisitFactory.build(workshop=workshop)
    actions.prepare_visit(visit)
    visit.refresh_from_db()
    actions.choose_pieces(visit, type(piece).objects.with_log())
    return visit


def sheets(client, name, row):
    answer = client.get(reverse(name, args=[row.pk]))
    assert answer["Content-Type"] == "application/pdf"
    return words_of(answer.content)


def test_a_blast_sheet_on_paper_says_what_its_page_says_and_to_a_guest_no_money(owner_client, guest_client, visit):
    page = " ".join(owner_client.get(reverse("blast-sheet", args=[visit.pk])).content.decode().split())
    owners, guests = (" ".join(sheets(client, "blast-sheet-pdf", visit)) for client in (owner_client, guest_client))
    for told in (owners, guests):
        assert all(word in told for word in ("F-01 frame", "journals", "Blasting dust.", "12 May 2026", "page 1 of"))
        assert str(visit.workshop) in told
    cost = page.split("<dt>Cost</dt><dd><b>")[1].split("</b>")[0]
    assert f"Cost {cost}" in owners
    assert visit.workshop.currency not in guests


def test_paint_list_order_and_request_come_on_paper(owner_client, guest_client, piece, owner):
    assert "Paint list" in sheets(guest_client, "paint-pdf", piece.project)[0]
    operation = costs.OperationFactory(part=piece.part)
    asked = costs.RequestFactory(design=piece.part.design, operations=[operation])
    factories.photo_of(factories.StepFactory(piece=piece, by=owner), written(half_red()))
    answer = owner_client.get(reverse("request-pdf", args=[asked.pk]))
    assert "Request for prices" in words_of(answer.content)[0]
    red, green, _ = np.moveaxis(np.asarray(pictures_of(answer.content, 40)[0], dtype=int), 2, 0)
    assert np.count_nonzero((red > 150) & (green < 90)) > 20  # the photo of the part that has no drawing
    assert guest_client.get(reverse("request-pdf", args=[asked.pk])).status_code == 403


def test_the_paper_of_another_workshop_is_not_found(stranger_client, visit):
    assert stranger_client.get(reverse("blast-sheet-pdf", args=[visit.pk])).status_code == 404
