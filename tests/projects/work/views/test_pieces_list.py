"""The list of a project's pieces: narrowed, fifty a page, and many changed at once."""

import pytest
from django.urls import reverse

from projects.record.models import Piece
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def project(workshop):
    part = factories.PartFactory(design__workshop=workshop, name="Frame")
    project = factories.ProjectFactory(design=part.design, workshop=workshop)
    yard = factories.PlaceFactory(workshop=workshop, name="yard")
    for number in range(60):
        factories.PieceFactory(part=part, project=project, place=yard, mark=f"F-{number:02}")
    return project


def marks(client, project, **asked):
    page = client.get(reverse("pieces", args=[project.pk]), asked)
    return [piece.mark for piece, _, _ in page.context["rows"]]


def test_pieces_are_found_by_where_they_stand_now_their_stage_and_their_mark(owner_client, workshop, project):
    shop = factories.PlaceFactory(workshop=workshop, name="shop")
    moved, back, coated = project.pieces.order_by("mark")[:3]
    factories.StepFactory(piece=moved, kind="moved", place=shop)
    gone = factories.StepFactory(piece=back, kind="moved", place=shop)
    factories.StepFactory(piece=back, kind="voided", voids=gone)
    factories.StepFactory(piece=coated, kind="blasted")
    assert len(marks(owner_client, project)) == 50
    assert len(marks(owner_client, project, page=2)) == 10
    assert marks(owner_client, project, place=shop.pk) == ["F-00"]
    assert marks(owner_client, project, stage="blasted") == ["F-02"]
    assert marks(owner_client, project, text="f 57") == ["F-57"]
    assert marks(owner_client, project, text="nowhere") == []


def test_what_a_log_says_of_where_a_piece_stands_is_not_changed_beside_it(owner_client, workshop, project):
    shop = factories.PlaceFactory(workshop=workshop, name="shop")
    logged = project.pieces.get(mark="F-03")
    factories.StepFactory(piece=logged, kind="noted")
    here = f"{reverse('pieces-change', args=[project.pk])}?all=1"
    told = owner_client.post(here, {"place": shop.pk, "salt": "coast"}).content.decode()
    assert "60 of 60 pieces would change" in told
    assert "They stand in: 59" in told
    assert f"kind=moved&amp;piece={logged.pk}" in told
    assert not Piece.objects.filter(place=shop).exists()
    owner_client.post(here, {"place": shop.pk, "salt": "coast", "change": "1"})
    assert Piece.objects.filter(place=shop).count() == 59
    assert Piece.objects.filter(salt="coast").count() == 60
    one = f"{reverse('pieces-change', args=[project.pk])}?piece={logged.pk}"
    owner_client.post(one, {"set_aside": "yes", "change": "1"})
    assert marks(owner_client, project, aside="on") == ["F-03"]
