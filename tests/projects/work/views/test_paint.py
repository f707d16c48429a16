"""The paint list's page and its CSV."""

import re
from html import unescape

import pytest
from django.urls import reverse

from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def piece(workshop, system, roof):
    part = factories.PartFactory(design__workshop=workshop, system=system, area=4.2, name="Frame", profile=60)
    return factories.PieceFactory(part=part, place=roof, mark="F-01")


def page(client, piece, query=""):
    return client.get(f"{reverse('paint-list', args=[piece.project_id])}{query}").content.decode()


def test_it_tells_litres_by_coating_and_opens_their_working(guest_client, piece):
    told = page(guest_client, piece)
    assert "grey primer" in told
    assert "green enamel" in told
    addresses = re.findall(r'hx-get="([^"]+)"', told)
    assert len(addresses) == told.count('<details class="working"') > 1
    folds = []
    for address in addresses:
        url = reverse("paint-list", args=[piece.project_id]) + unescape(address)
        inside = guest_client.get(url, headers={"HX-Request": "true"}).content.decode()
        assert "<main" not in inside
        assert piece.mark in inside
        assert "V = A · (coats · DFT + D₁) / (10 · VS) / (1 − loss)" in inside
        assert inside.split("<details")[0].strip() in guest_client.get(url).content.decode()  # without script
        folds.append(inside)
    assert "D₁ = share · Rz" in "".join(folds)


def test_pieces_that_cannot_be_reckoned_are_listed_with_the_way_to_mend_it(restorer_client, piece):
    lever = factories.PartFactory(design=piece.part.design, area=None, name="Lever")
    factories.PieceFactory(part=lever, project=piece.project, place=piece.place, mark="L-01")
    told = page(restorer_client, piece)
    assert "no painted area" in told
    assert reverse("part-edit", args=[lever.pk]) in told
    assert "green enamel" in told


def test_layers_done_are_reckoned_when_every_layer_is_asked(guest_client, piece, system):
    factories.StepFactory(piece=piece, kind="blasted")
    for layer in system.layers.all():
        factories.StepFactory(piece=piece, kind="coated", layer=layer, coating=layer.coating)
    assert "No layer is left to do" in page(guest_client, piece)
    assert "grey primer" in page(guest_client, piece, "?layers=all")


@pytest.mark.parametrize("query", ["?layers=some", "?wanted=all+of+it", "?layers=&wanted="])
def test_a_question_that_makes_no_sense_gets_the_usual_list(guest_client, piece, query):
    assert "grey primer" in page(guest_client, piece, query)


def test_tins_are_bought_for_the_amount_that_is_asked(helper_client, piece, enamel):
    factories.TinSizeFactory(coating=enamel, litres=1, price="18.00")
    assert "Buy for the likely amount" in page(helper_client, piece, "?wanted=likely")
    assert "18.00" in page(helper_client, piece)


def test_the_csv_is_a_file_named_after_the_project(guest_client, piece):
    response = guest_client.get(reverse("paint-csv", args=[piece.project_id]))
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert response["Content-Disposition"].startswith('attachment; filename="paint-')
    assert "grey primer" in response.content.decode("utf-8-sig")
