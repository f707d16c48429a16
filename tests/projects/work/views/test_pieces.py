"""Pieces: several made at once, changed, set aside, and shown with their log."""

import uuid
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.urls import reverse

from projects.record.models import Piece
from tests import factories

pytestmark = pytest.mark.django_db
TEN = datetime(2026, 5, 12, 9, tzinfo=UTC)


@pytest.fixture
def project(workshop):
    project = factories.ProjectFactory(design__workshop=workshop)
    for number in ("1", "2"):
        factories.MachineFactory(project=project, number=number)
    return project


@pytest.fixture
def legs(project):
    return factories.PartFactory(design=project.design, name="Leg", quantity=3)


@pytest.fixture
def piece(project, system, roof):
    part = factories.PartFactory(design=project.design, name="Frame", system=system)
    return factories.PieceFactory(part=part, project=project, place=roof, mark="F-01")


def rows(project, part, *marks, place, **more):
    machine = project.machines.first()
    data = {"form-TOTAL_FORMS": len(marks), "form-INITIAL_FORMS": 0, "place": place.pk, **more}
    for number, mark in enumerate(marks):
        row = {"id": uuid.uuid4(), "part": part.pk, "machine": machine.pk, "mark": mark}
        data |= {f"form-{number}-{name}": str(value) for name, value in row.items()}
    return data


def address(project):
    return reverse("pieces-new", args=[project.pk])


def test_the_number_per_machine_times_the_machines_is_proposed(restorer_client, project, legs):
    machines = "".join(f"&machine={machine.pk}" for machine in project.machines.all())
    response = restorer_client.get(f"{address(project)}?part={legs.pk}{machines}")
    marks = [row["mark"].value() for row in response.context["rows"]]
    assert marks == ["L-01", "L-02", "L-03", "L-04", "L-05", "L-06"]


def test_without_a_machine_the_pieces_of_one_are_proposed(restorer_client, workshop):
    part = factories.PartFactory(design__workshop=workshop, quantity=2)
    project = factories.ProjectFactory(design=part.design)
    response = restorer_client.get(f"{address(project)}?part={part.pk}")
    assert len(response.context["rows"].forms) == 2


def test_they_are_made_with_the_marks_as_changed_and_an_empty_one_left_out(restorer_client, project, legs, roof):
    factories_revision(legs, "A", "2025-01-01")
    newest = factories_revision(legs, "B", "2026-01-01")
    data = rows(project, legs, "L-01", "left hind", "", place=roof, salt="coast", old_paint="on")
    response = restorer_client.post(address(project), data)
    assert response.url == reverse("project", args=[project.pk])
    made = Piece.objects.order_by("mark")
    assert [piece.mark for piece in made] == ["L-01", "left hind"]
    assert {(piece.place, piece.salt, piece.old_paint, piece.revision) for piece in made} == {
        (roof, "coast", True, newest)
    }


def factories_revision(part, label, made_on):
    return part.revisions.create(workshop=part.workshop, label=label, made_on=made_on)


def test_the_same_form_sent_twice_makes_them_once(restorer_client, project, legs, roof):
    data = rows(project, legs, "L-01", "L-02", place=roof)
    for _ in range(2):
        assert restorer_client.post(address(project), data).status_code == 302
    assert Piece.objects.count() == 2


def test_a_mark_twice_is_told_at_its_row_and_nothing_is_made(restorer_client, project, legs, roof):
    page = restorer_client.post(address(project), rows(project, legs, "L-01", "L-01", place=roof)).content.decode()
    assert "There is a L-01 already." in page
    assert not Piece.objects.exists()


def test_a_mark_that_the_project_has_is_told_at_its_row(restorer_client, project, legs, piece, roof):
    page = restorer_client.post(address(project), rows(project, legs, "F-01", place=roof)).content.decode()
    assert "There is a F-01 already." in page


def test_no_mark_at_all_is_told(restorer_client, project, legs, roof):
    page = restorer_client.post(address(project), rows(project, legs, "", "", place=roof)).content.decode()
    assert "nothing to make" in page


def test_a_part_of_another_design_is_refused(restorer_client, project, workshop, roof):
    other = factories.PartFactory(design__workshop=workshop)
    page = restorer_client.post(address(project), rows(project, other, "X-01", place=roof)).content.decode()
    assert "not in this project" in page
    assert not Piece.objects.exists()


@pytest.mark.parametrize("broken", [{}, {"form-TOTAL_FORMS": "many"}, {"form-TOTAL_FORMS": "1", "form-0-part": "x"}])
def test_a_broken_form_is_answered_with_the_page(restorer_client, project, legs, broken):
    assert restorer_client.post(address(project), broken).status_code == 200
    assert not Piece.objects.exists()


@pytest.mark.parametrize("query", ["part=", "part=x", f"part={factories.NO_ROW}", "machine=1"])
def test_a_broken_question_is_asked_again(restorer_client, project, legs, query):
    response = restorer_client.get(f"{address(project)}?{query}")
    assert response.status_code == 200
    assert response.context["rows"] is None


def test_a_machine_of_a_great_many_parts_is_made_in_several_goes(restorer_client, project, legs):
    legs.quantity = 30_000
    legs.save()
    machines = "".join(f"&machine={machine.pk}" for machine in project.machines.all())
    response = restorer_client.get(f"{address(project)}?part={legs.pk}{machines}")
    assert "more than 1000 pieces" in response.content.decode()


def test_a_design_without_parts_says_what_comes_first(restorer_client, project):
    assert "Enter the first part" in restorer_client.get(address(project)).content.decode()


def test_a_piece_is_changed(restorer_client, piece, shop):
    data = {"mark": "F-1a", "place": shop.pk, "salt": ""}
    restorer_client.post(reverse("piece-edit", args=[piece.pk]), data)
    piece.refresh_from_db()
    assert (piece.mark, piece.place) == ("F-1a", shop)


def test_a_mark_taken_is_told_when_a_piece_is_changed(restorer_client, piece, roof):
    factories.PieceFactory(part=piece.part, project=piece.project, place=roof, mark="F-02")
    data = {"mark": "F-02", "place": roof.pk, "salt": ""}
    assert "already" in restorer_client.post(reverse("piece-edit", args=[piece.pk]), data).content.decode()


def test_a_piece_is_set_aside_and_taken_up_again(restorer_client, piece):
    restorer_client.post(reverse("piece-set-aside", args=[piece.pk]), {"aside": "1"})
    assert Piece.objects.get().set_aside
    page = restorer_client.get(reverse("piece", args=[piece.pk])).content.decode()
    assert "Take it up again" in page
    restorer_client.post(reverse("piece-set-aside", args=[piece.pk]))
    assert not Piece.objects.get().set_aside


@time_machine.travel(TEN, tick=False)
def test_the_page_tells_stage_next_step_and_coat_before(guest_client, piece, workshop):
    factories.steady_forecast(workshop, TEN - timedelta(days=2))
    factories.StepFactory(piece=piece, kind="blasted", happened_at=TEN - timedelta(hours=1))
    page = guest_client.get(reverse("piece", args=[piece.pk])).content.decode()
    assert "Blasted" in page
    assert "Coat before" in page
    assert "Coat of grey primer" in page


def test_the_log_stands_as_it_happened_not_as_it_was_entered(guest_client, piece):
    factories.StepFactory(piece=piece, kind="noted", note="second", happened_at=TEN)
    factories.StepFactory(piece=piece, kind="noted", note="first", happened_at=TEN - timedelta(hours=5))
    page = guest_client.get(reverse("piece", args=[piece.pk])).content.decode()
    assert page.index("first") < page.index("second")


def test_a_voided_entry_stays_with_its_reason(guest_client, piece):
    bloom = factories.StepFactory(piece=piece, kind="bloom", note="rust on the rim")
    factories.StepFactory(
        piece=piece, kind="voided", voids=bloom, reason="it was dust", happened_at=TEN + timedelta(days=1)
    )
    page = guest_client.get(reverse("piece", args=[piece.pk])).content.decode()
    assert 'class="entry voided"' in page
    assert "rust on the rim" in page
    assert "it was dust" in page


def test_what_an_entry_notes_is_shown_with_it(guest_client, piece, primer, system, roof):
    factories.StepFactory(
        piece=piece, kind="coated", layer=system.layers.first(), coating=primer, layer_label="coat of grey primer",
        place=roof, air_temperature=18, humidity=86, wet_film=98, batch="B-14", minutes=35,
        verdict="outside", outside="humidity 86 %, the sheet allows 85 %", reason="no other day",
    )  # fmt: skip
    page = guest_client.get(reverse("piece", args=[piece.pk])).content.decode()
    for told in ("18 °C", "86 %", "98 µm", "batch B-14", "35 min", "outside the sheet", "no other day", "Lean-to"):
        assert told in page


@pytest.mark.parametrize("name", ["piece", "piece-edit"])
def test_another_workshops_piece_is_not_there(stranger_client, piece, name):
    assert stranger_client.get(reverse(name, args=[piece.pk])).status_code == 404


def test_another_workshops_piece_is_not_set_aside(stranger_client, piece):
    assert stranger_client.post(reverse("piece-set-aside", args=[piece.pk]), {"aside": "1"}).status_code == 404
    assert not Piece.objects.get().set_aside


def test_a_pieces_page_says_where_it_keeps_dry_and_what_the_estimate_stands_on(guest_client, workshop, piece, shop):
    """20 °C and 55 % for days: nothing sweats anywhere, and no measure of the part is known but its factory's."""
    factories.steady_forecast(workshop, TEN - timedelta(days=3))
    factories.StepFactory(piece=piece, kind="blasted", happened_at=TEN)
    with time_machine.travel(TEN, tick=False):
        page = " ".join(guest_client.get(reverse("piece", args=[piece.pk])).content.decode().split())
    assert "<b>Left in Lean-to:</b> 3 °C above its dew point for the next 36 hours." in page
    assert "<b>To Shop:</b> without sweating at any time in the next 36 hours." in page
    assert "<b>Dry</b> through the next three days." in page
    assert "Biot number" in page
    assert "A wall of 25 mm is assumed" not in page


def test_a_part_without_measures_is_said_to_be_assumed(restorer_client, workshop, piece):
    type(piece.part).objects.update(mass=None)
    with time_machine.travel(TEN, tick=False):
        page = restorer_client.get(reverse("piece", args=[piece.pk])).content.decode()
    assert "A wall of 25 mm is assumed" in page
    assert "Not known</b> whether it keeps dry" in page


def test_a_mistyped_mass_is_said_and_breaks_no_page(restorer_client, workshop, piece, shop):
    type(piece.part).objects.update(mass=20000)
    factories.steady_forecast(workshop, TEN - timedelta(days=3))
    with time_machine.travel(TEN, tick=False):
        assert "Too thick to be true" in restorer_client.get(reverse("piece", args=[piece.pk])).content.decode()
        assert restorer_client.get(reverse("day-sheet")).status_code == 200
