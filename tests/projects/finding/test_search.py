"""One box over everything, and the log and the orders as lists."""

from datetime import date

import pytest
from django.urls import reverse

from tests import cost_factories as costs
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def piece(workshop):
    part = factories.PartFactory(design__workshop=workshop, name="Flywheel", number="FW-7")
    piece = factories.PieceFactory(part=part, mark="F-01", project__name="Heron press", project__customer="Ada Hollow")
    factories.StepFactory(piece=piece, kind="noted", note="hairline crack by the third spoke")
    return piece


def found(client, text):
    page = client.get(reverse("search"), {"text": text})
    return {group.kind.name: [row.name for row in group.rows] for group in page.context["groups"]}


def test_every_word_has_to_stand_in_what_is_found(owner_client, workshop, piece):
    factories.CoatingFactory(workshop=workshop, name="Crack filler")
    costs.SupplierFactory(workshop=workshop, name="Spoke and Rim")
    assert found(owner_client, "spoke crack").keys() == {"entries"}
    assert found(owner_client, "CRACK").keys() == {"entries", "coatings"}
    assert found(owner_client, "spoke")["suppliers"] == ["Spoke and Rim"]
    assert found(owner_client, "hollow") == {"projects": ["Heron press"]}
    assert found(owner_client, "fw-7") == {"parts": ["Flywheel"]}
    assert found(owner_client, "heron f-01") == {"pieces": ["F-01 Flywheel"]}
    assert found(owner_client, "nothing like it") == {}


def test_strangers_find_nothing_and_a_guest_no_supplier(stranger_client, guest_client, piece):
    costs.OrderFactory(supplier__name="Flywheel founders", design=piece.part.design)
    assert found(stranger_client, "flywheel") == {}
    assert found(guest_client, "flywheel").keys() == {"parts", "pieces"}
    assert guest_client.get(reverse("search"), {"text": "flywheel", "kind": "orders"}).status_code == 404
    assert guest_client.get(reverse("orders-list")).status_code == 403


def test_of_many_the_first_are_shown_and_all_by_the_page(owner_client, workshop, piece):
    for number in range(59):
        factories.PieceFactory(part=piece.part, project=piece.project, place=piece.place, mark=f"G-{number:02}")
    page = owner_client.get(reverse("search"), {"text": "flywheel"})
    assert [group.more for group in page.context["groups"]] == [False, True]
    all_of_them = owner_client.get(reverse("search"), {"text": "flywheel", "kind": "pieces", "page": 2})
    assert len(all_of_them.context["rows"]) == 10
    assert "51–60 of 60" in all_of_them.content.decode()


def test_the_log_is_narrowed_by_kind_place_project_day_and_words(owner_client, workshop, piece):
    yard = factories.PlaceFactory(workshop=workshop, name="yard")
    moved = factories.StepFactory(piece=piece, kind="moved", place=yard)
    factories.StepFactory(piece=factories.PieceFactory(part__design__workshop=workshop), kind="blasted")

    def kinds(**asked):
        return [step.kind for step in owner_client.get(reverse("entries"), asked).context["page"]]

    assert sorted(kinds()) == ["blasted", "moved", "noted"]
    assert kinds(kind="moved") == kinds(place=yard.pk) == ["moved"]
    assert sorted(kinds(project=piece.project_id)) == ["moved", "noted"]
    assert kinds(text="crack flywheel") == ["noted"]
    assert kinds(since=date(2099, 1, 1)) == []
    factories.StepFactory(piece=piece, kind="voided", voids=moved)
    assert "<s>moved" in owner_client.get(reverse("entries"), {"kind": "moved"}).content.decode()


def test_orders_are_narrowed_by_supplier_and_standing(owner_client, workshop):
    first = costs.OrderFactory(supplier__workshop=workshop, supplier__name="Foundry", design__workshop=workshop)
    costs.OrderFactory(
        supplier__workshop=workshop, supplier__name="Turner", cancelled_on=date(2026, 5, 1), design=first.design
    )

    def suppliers(**asked):
        return [order.supplier.name for order in owner_client.get(reverse("orders-list"), asked).context["page"]]

    assert sorted(suppliers()) == ["Foundry", "Turner"]
    assert (
        suppliers(supplier=first.supplier_id) == suppliers(standing="stands") == suppliers(text="found") == ["Foundry"]
    )
