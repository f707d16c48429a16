"""Suppliers are asked: which lines, at which revision, for how many; more than one of the unproved wants a reason."""

from datetime import UTC, date, datetime

import pytest
import time_machine
from django.urls import reverse

from projects.record.models import QuoteRequest
from tests import cost_factories as costs
from tests import factories
from tests.finishing.calculators.views.rough import rough_answers

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_a_day_in_may():
    with time_machine.travel(datetime(2026, 5, 11, 9, tzinfo=UTC), tick=False):
        yield


@pytest.fixture
def part(workshop):
    part = factories.PartFactory(design__workshop=workshop, name="wheel", number="W-1", quantity=3, mass=12)
    costs.RevisionFactory(part=part, label="A")
    costs.RevisionFactory(part=part, label="B")
    return part


@pytest.fixture
def casting(part):
    return costs.OperationFactory(part=part)


@pytest.fixture
def foundry(workshop):
    return costs.SupplierFactory(workshop=workshop, name="Vale Foundry")


def typed(foundry, *operations, **changes):
    return {
        "supplier": str(foundry.pk), "quantities": "5, 1", "answer_by": "2026-06-01", "note": "boxes welcome",
        "reason": "the pattern is proved on another machine", "operations": [str(one.pk) for one in operations],
        **changes,
    }  # fmt: skip


def send(client, design, sent):
    return client.post(reverse("request-new", args=[design.pk]), sent)


def page(client, name, *args, query=""):
    return " ".join(client.get(reverse(name, args=args) + query).content.decode().split())


def test_a_request_asks_for_what_was_ticked_at_the_current_revision(restorer_client, part, casting, foundry):
    costs.OperationFactory(part=part, process="machining")
    response = send(restorer_client, part.design, typed(foundry, casting))
    made = QuoteRequest.objects.get()
    assert response.url == reverse("request", args=[made.pk])
    [line] = made.lines.all()
    assert (line.operation, str(line.revision), line.pieces) == (casting, "wheel B", {1: 3, 5: 15})
    assert (made.asked_on, made.sizes) == (date(2026, 5, 11), [1, 5])
    shown = page(restorer_client, "request", made.pk)
    assert "Vale Foundry" in shown
    assert "W-1" in shown


def test_an_earlier_revision_may_be_asked_for(restorer_client, part, casting, foundry):
    earlier = part.revisions.get(label="A")
    send(restorer_client, part.design, typed(foundry, casting, **{f"revision-{casting.pk}": str(earlier.pk)}))
    assert QuoteRequest.objects.get().lines.get().revision == earlier


def test_the_same_form_twice_is_one_request(restorer_client, part, casting, foundry):
    form = restorer_client.get(reverse("request-new", args=[part.design_id])).context["form"]
    for _ in range(2):
        send(restorer_client, part.design, typed(foundry, casting, id=str(form["id"].value())))
    assert QuoteRequest.objects.count() == 1


def test_more_than_one_of_an_unproved_revision_wants_a_reason_and_names_it(restorer_client, part, casting, foundry):
    form = send(restorer_client, part.design, typed(foundry, casting, reason=" ")).context["form"]
    assert list(form.errors) == ["reason"]
    assert "wheel B: no check is listed" in str(form.errors["reason"])
    assert not QuoteRequest.objects.exists()
    assert "not proved:</b> no check is listed" in page(restorer_client, "request-new", part.design_id)


def test_one_machine_of_it_wants_none(restorer_client, part, casting, foundry):
    send(restorer_client, part.design, typed(foundry, casting, reason="", quantities="1"))
    assert QuoteRequest.objects.get().reason == ""


def test_what_is_for_the_machine_as_a_whole_has_no_revision_to_prove(restorer_client, part, foundry):
    carriage = costs.OperationFactory(part=None, design=part.design, workshop=part.workshop, process="carriage")
    send(restorer_client, part.design, typed(foundry, carriage, reason=""))
    assert QuoteRequest.objects.get().lines.get().pieces == {1: 1, 5: 5}


@pytest.mark.parametrize(
    ("box", "wrong", "told"),
    [
        ("quantities", "", "required"),
        ("quantities", ",;", "How many machines?"),
        ("quantities", "1, many", "“many” is not a number of machines"),
        ("quantities", "0", "from 1 to 1000"),
        ("quantities", "99999999999", "from 1 to 1000"),
        ("quantities", ",".join(map(str, range(1, 15))), "At most 12"),
        ("operations", [], "Tick at least one line"),
        ("operations", ["00000000-0000-0000-0000-000000000000"], "Select a valid choice"),
        ("answer_by", "soon", "valid date"),
    ],
)
def test_what_cannot_be_is_told_at_its_box(restorer_client, part, casting, foundry, box, wrong, told):
    form = send(restorer_client, part.design, {**typed(foundry, casting), box: wrong}).context["form"]
    assert list(form.errors) == [box]
    assert told in str(form.errors[box])


def test_a_revision_of_another_part_is_told_at_its_box(restorer_client, part, casting, foundry):
    other = costs.RevisionFactory(part=factories.PartFactory(design=part.design))
    box = f"revision-{casting.pk}"
    form = send(restorer_client, part.design, typed(foundry, casting, **{box: str(other.pk)})).context["form"]
    assert list(form.errors) == [box]


def test_all_lines_of_a_process_come_ticked(restorer_client, part, casting):
    costs.OperationFactory(part=part, process="machining")
    assert "Enter a supplier" in page(restorer_client, "request-new", part.design_id)
    costs.SupplierFactory(workshop=part.workshop)
    form = restorer_client.get(reverse("request-new", args=[part.design_id]) + "?process=casting").context["form"]
    assert [line.operation for line in form.line_choices if line.ticked] == [casting]


def test_one_no_longer_asked_is_not_offered(restorer_client, part, casting, foundry):
    foundry.retired = True
    foundry.save()
    form = send(restorer_client, part.design, typed(foundry, casting)).context["form"]
    assert list(form.errors) == ["supplier"]


def test_an_answer_that_is_late_is_marked(restorer_client, part, foundry):
    asked = costs.RequestFactory(design=part.design, supplier=foundry, answer_by=date(2026, 5, 10))
    assert "no answer by 10 May" in page(restorer_client, "requests", part.design_id)
    assert asked.sizes == [1, 5]


def test_only_who_plans_asks(helper_client, guest_client, part, foundry):
    asked = costs.RequestFactory(design=part.design, supplier=foundry)
    named = [("requests", part.design_id), ("request-new", part.design_id), ("request", asked.pk)]
    for client in (helper_client, guest_client):
        for name, pk in named:
            assert client.get(reverse(name, args=[pk])).status_code == 403


def test_another_workshops_request_is_nowhere(stranger_client, part, foundry):
    asked = costs.RequestFactory(design=part.design, supplier=foundry)
    for name, pk in (("requests", part.design_id), ("request-new", part.design_id), ("request", asked.pk)):
        assert stranger_client.get(reverse(name, args=[pk])).status_code == 404


def test_rough_forms_are_no_error_of_ours(restorer_client, part, casting, foundry):
    usual = {**typed(foundry, casting), "operations": str(casting.pk)}
    for sent in rough_answers(usual, times=60, seed=8, usual=usual):
        assert send(restorer_client, part.design, sent).status_code < 500
