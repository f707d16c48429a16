"""Patterns and jigs: where each is, whose, and how much is left for the next batch."""

import uuid
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from projects.buying.domain.tool_wear import next_batch, wear_of
from projects.record.models import Order, OrderLine, Receipt, Supplier, Tool
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def casting(workshop):
    return cost_factories.OperationFactory(part__design__workshop=workshop, part__name="Column", good_percent=80)


@pytest.fixture
def design(casting):
    return casting.design


def typed(casting, **more):
    first = {"id": str(uuid.uuid4()), "kind": "pattern", "name": "P-7", "operation": casting.pk, "state": "in use"}
    return {**first, "cost": "480", "made_before": "0", "lead_days": "0", **more}


def post(client, casting, **more):
    return client.post(reverse("tool-new", args=[casting.design_id]), typed(casting, **more))


def receive(casting, person, good, rejected=0):
    supplier = Supplier.objects.create(workshop=casting.workshop, name="Hill Foundry")
    order = Order.objects.create(
        workshop=casting.workshop, supplier=supplier, design=casting.design, ordered_on=date(2026, 5, 1)
    )
    line = OrderLine.objects.create(workshop=casting.workshop, order=order, operation=casting, quantity=good + rejected)
    Receipt.objects.create(
        workshop=casting.workshop, line=line, received_on=date(2026, 5, 12), good=good, rejected=rejected, by=person
    )


def page_of(client, name, row):
    return client.get(reverse(name, args=[row.pk])).content.decode()


def test_a_pattern_is_kept_with_its_drawing(restorer_client, casting, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    drawing = SimpleUploadedFile("column pattern.step", b"ISO-10303-21;")
    response = post(restorer_client, casting, kept_at="at the foundry", life="400", drawing=drawing)
    tool = Tool.objects.get()
    assert response.url == reverse("tool", args=[tool.pk])
    assert tool.drawing_name == "column pattern.step"
    page = restorer_client.get(response.url).content.decode()
    for words in ("at the foundry", "400 of 400", "480.00 GBP", "column pattern.step", "ours"):
        assert words in page


def test_a_change_without_a_file_keeps_the_drawing(restorer_client, casting, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    post(restorer_client, casting, drawing=SimpleUploadedFile("a.pdf", b"%PDF"))
    tool = Tool.objects.get()
    restorer_client.post(reverse("tool-edit", args=[tool.pk]), typed(casting, name="P-8"))
    tool.refresh_from_db()
    assert (tool.name, tool.drawing_name, bool(tool.drawing)) == ("P-8", "a.pdf", True)


def test_a_file_too_big_is_refused_at_its_box(restorer_client, casting, monkeypatch):
    monkeypatch.setattr("projects.site.forms.papers.PaperField.largest", 1)
    big = SimpleUploadedFile("model.stl", b"x" * (1024**2 + 1))
    assert "larger than 1 MB" in post(restorer_client, casting, drawing=big).content.decode()
    assert not Tool.objects.exists()


@pytest.mark.parametrize(
    ("box", "value", "words"),
    [
        ("cost", "-5", "not negative"),
        ("cost", "dear", "is not understood"),
        ("life", "0", "At least one"),
        ("life", "-3", "greater than or equal to"),
        ("made_before", "-1", "greater than or equal to 0"),
        ("made_before", "many", "whole number"),
        ("name", "", "required"),
        ("name", "x" * 101, "at most 100 characters"),
        ("kind", "hammer", "valid choice"),
        ("operation", factories.NO_ROW, "valid choice"),
        ("revision", factories.NO_ROW, "valid choice"),
    ],
)
def test_what_cannot_be_is_told_at_the_field(restorer_client, casting, box, value, words):
    response = post(restorer_client, casting, **{box: value})
    assert response.status_code == 200
    assert words in response.content.decode()
    assert not Tool.objects.exists()


def test_a_revision_of_another_part_is_refused(restorer_client, casting):
    other = cost_factories.RevisionFactory(part__design=casting.design)
    assert "of another part" in post(restorer_client, casting, revision=other.pk).content.decode()


def test_castings_received_wear_it_good_or_not(restorer_client, casting, owner):
    tool = cost_factories.ToolFactory(operation=casting, life=50, made_before=10)
    receive(casting, owner, good=20, rejected=4)
    tool = Tool.objects.get(pk=tool.pk)
    assert (tool.made, tool.left) == (34, 16)
    assert "16 of 50" in page_of(restorer_client, "tool", tool)


def test_fewer_left_than_the_next_batch_takes_is_warned_of(restorer_client, casting, design):
    """Five machines, one of them a column, four in five good: 5 / 0.8 = 6.25, so 7 mouldings."""
    tool = cost_factories.ToolFactory(operation=casting, life=10, made_before=4)
    assert next_batch(design) == 5
    assert "6 left, and the next batch takes 7" in page_of(restorer_client, "tools", design)
    tool.made_before = 3
    tool.save()
    assert "next batch takes" not in page_of(restorer_client, "tools", design)


def test_the_open_batch_counts_without_the_pieces_that_are_there(casting, design, workshop):
    project = factories.ProjectFactory(design=design)
    for _ in range(8):
        factories.MachineFactory(project=project)
    for _ in range(4):
        factories.PieceFactory(part=casting.part, project=project)
    factories.MachineFactory(project=factories.ProjectFactory(design=design, closed=True))
    assert next_batch(design) == 8
    assert wear_of(design, [cost_factories.ToolFactory(operation=casting)], 8)[0].wanted == 5  # (8 - 4) / 0.8


def test_one_with_none_left_is_worn_out(restorer_client, casting, design):
    cost_factories.ToolFactory(operation=casting, life=10, made_before=12)
    assert "worn out: none left" in page_of(restorer_client, "tools", design)


def test_a_repair_is_noted_once_and_puts_it_back_in_use(restorer_client, casting):
    tool = cost_factories.ToolFactory(operation=casting, state=Tool.State.WORN_OUT)
    form = {"id": str(uuid.uuid4()), "repaired_on": "2026-05-12", "what": "new core print", "cost": "35,50"}
    for _ in range(2):
        restorer_client.post(reverse("tool-repair", args=[tool.pk]), form)
    tool.refresh_from_db()
    assert tool.state == Tool.State.IN_USE
    assert "35.50 GBP" in page_of(restorer_client, "tool", tool)
    assert tool.repairs.count() == 1


def test_a_repair_without_words_is_told_at_its_field(restorer_client, casting):
    tool = cost_factories.ToolFactory(operation=casting)
    response = restorer_client.post(reverse("tool-repair", args=[tool.pk]), {"what": "", "cost": "-1"})
    assert response.status_code == 422
    assert "not negative" in response.content.decode()


def test_without_a_route_the_way_to_it_is_shown(restorer_client, workshop):
    design = factories.DesignFactory(workshop=workshop)
    assert "First say how the parts are made" in page_of(restorer_client, "tools", design)
    assert "no operation yet" in page_of(restorer_client, "tool-new", design)


def test_a_pattern_is_offered_the_operation_it_was_asked_for(restorer_client, casting):
    second = cost_factories.OperationFactory(part__design=casting.design, part__name="Arm")
    page = restorer_client.get(f"{reverse('tool-new', args=[casting.design_id])}?operation={casting.pk}")
    assert f'<option value="{casting.pk}" selected>' in page.content.decode()
    assert str(second.pk) in page.content.decode()


@pytest.mark.parametrize("name", ["tools", "tool-new", "tool", "tool-edit"])
def test_another_workshops_tools_are_not_there(stranger_client, casting, name):
    tool = cost_factories.ToolFactory(operation=casting)
    key = casting.design_id if name in ("tools", "tool-new") else tool.pk
    assert stranger_client.get(reverse(name, args=[key])).status_code == 404


def test_what_cannot_be_kept_changes_nothing_on_the_page_but_its_boxes(restorer_client, casting, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    tool = cost_factories.ToolFactory(operation=casting, name="P-7")
    sent = typed(casting, name="P-8", cost="-1", drawing=SimpleUploadedFile("column.pdf", b"lines"))
    shown = restorer_client.post(reverse("tool-edit", args=[tool.pk]), sent).content.decode()
    assert "not negative" in shown
    assert "<h1>Change pattern P-7</h1>" in shown
    assert "Kept so far" not in shown
    assert 'value="P-8"' in shown
