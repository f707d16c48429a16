"""Paint bought for a project: noted at its paint list, taken back, and held against the estimate."""

import uuid

import pytest
from django.urls import reverse

from projects.record.models import PaintReceipt
from tests import cost_factories
from tests.projects.worked import brushed_frame, two_pieces

pytestmark = pytest.mark.django_db


@pytest.fixture
def frame(workshop):
    return brushed_frame(workshop)


@pytest.fixture
def project(frame):
    return two_pieces(frame)[0].project


@pytest.fixture
def enamel(frame):
    return frame.system.layers.get().coating


@pytest.fixture
def receipt(project, enamel, owner):
    return cost_factories.PaintReceiptFactory(project=project, coating=enamel, by=owner, supplier="Paint shop")


def typed(enamel, **other):
    usual = {"coating": enamel.pk, "litres": "2.5 L", "price": "46,20", "currency": "gbp", "bought_on": "2026-05-11"}
    return {"id": str(uuid.uuid4()), **usual, **other}


def note(client, project, data):
    return client.post(reverse("paint-receipt-new", args=[project.pk]), data)


def shown(client, name, pk):
    return " ".join(client.get(reverse(name, args=[pk])).content.decode().split())


def test_what_was_bought_stands_at_the_list_and_beside_the_estimate(restorer_client, project, enamel):
    data = typed(enamel, supplier="Paint shop by the bridge")
    for _ in range(2):  # sent twice
        assert note(restorer_client, project, data).status_code == 302
    kept = PaintReceipt.objects.get()
    assert (kept.litres.to("L").magnitude, str(kept.price), kept.currency) == (2.5, "46.20", "GBP")
    at_the_list = shown(restorer_client, "paint-list", project.pk)
    assert "Paint shop by the bridge" in at_the_list
    assert reverse("project-costs", args=[project.pk]) in at_the_list
    beside = shown(restorer_client, "project-costs", project.pk)
    assert "2.5 L on 1 receipt" in beside
    assert "46.20" in beside


@pytest.mark.parametrize(
    ("box", "wrong", "told"),
    [
        ("price", "-3", "not negative"),
        ("price", "dear", "is not understood"),
        ("litres", "0", "Must lie between"),
        ("litres", "", "required"),
        ("currency", "USD", "There is no exchange rate for USD yet"),
        ("currency", "euros", "at most 3 characters"),
        ("bought_on", "2098-01-01", "still to come"),
        ("bought_on", "2999-01-01", "The year 2999 cannot be meant"),
    ],
)
def test_bad_input_is_told_at_its_box_and_stays_typed(restorer_client, project, enamel, box, wrong, told):
    response = note(restorer_client, project, typed(enamel, note="for the frames", **{box: wrong}))
    page = response.content.decode()
    assert response.status_code == 422
    assert told.lower() in page.lower()
    assert "for the frames" in page
    assert not PaintReceipt.objects.exists()


def test_anothers_paint_cannot_be_noted(restorer_client, other_workshop, project):
    strange = cost_factories.PaintReceiptFactory(project__design__workshop=other_workshop).coating
    assert note(restorer_client, project, typed(strange)).status_code == 422


def test_a_receipt_is_taken_back_by_another_and_stays_to_be_read(restorer_client, project, receipt):
    address = reverse("paint-receipt-void", args=[receipt.pk])
    assert "Void this receipt?" in restorer_client.get(address).content.decode()
    restorer_client.post(address, {"reason": "meant for the other saw"})
    assert "Void: meant for the other saw" in shown(restorer_client, "paint-list", project.pk)
    assert "on 1 receipt" not in shown(restorer_client, "project-costs", project.pk)


def test_prices_are_for_those_who_plan_and_for_their_workshop_alone(
    helper_client, guest_client, stranger_client, project, receipt
):
    for name, pk in (("paint-receipt-new", project.pk), ("paint-receipt-void", receipt.pk)):
        address = reverse(name, args=[pk])
        clients = (helper_client, guest_client, stranger_client)
        assert [client.get(address).status_code for client in clients] == [403, 403, 404]
    assert "Paint shop" not in shown(helper_client, "paint-list", project.pk)
