"""Projects, their machines and the customer's address."""

import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.record.models import Design, Follower, Project
from tests import factories

pytestmark = pytest.mark.django_db


def typed(**more):
    return {"id": str(uuid.uuid4()), "name": "Old fretsaw", **more}


@pytest.fixture
def project(workshop):
    return factories.ProjectFactory(design__workshop=workshop, name="Old fretsaw", design__name="Old fretsaw")


@pytest.fixture
def piece(project, system, roof):
    part = factories.PartFactory(design=project.design, system=system, name="Frame")
    return factories.PieceFactory(project=project, part=part, place=roof, mark="F-01")


def test_a_restoration_gets_a_design_of_its_own_out_of_sight(restorer_client):
    response = restorer_client.post(reverse("project-new"), typed(machines="1–3, 7"))
    project = Project.objects.get()
    assert response.url == reverse("project", args=[project.pk])
    assert (project.design.name, project.design.hidden) == ("Old fretsaw", True)
    assert [machine.number for machine in project.machines.all()] == ["1", "2", "3", "7"]
    assert "Old fretsaw" not in restorer_client.get(reverse("designs")).content.decode()


def test_a_batch_takes_an_existing_design(restorer_client, workshop):
    design = factories.DesignFactory(workshop=workshop)
    restorer_client.post(reverse("project-new"), typed(design=design.pk))
    assert Project.objects.get().design == design


def test_the_same_form_sent_twice_makes_one_project(restorer_client):
    form = typed(machines="1")
    first, second = (restorer_client.post(reverse("project-new"), form) for _ in range(2))
    assert first.url == second.url
    assert (Project.objects.count(), Design.objects.count()) == (1, 1)


@pytest.mark.parametrize(
    ("machines", "words"),
    [("9–2", "counts down"), ("1–100000", "more than 500"), ("x" * 60, "longer than 40 signs")],
)
def test_numbers_that_make_no_sense_are_told_at_the_field(restorer_client, machines, words):
    response = restorer_client.post(reverse("project-new"), typed(machines=machines))
    assert words in response.content.decode()
    assert machines[:40] in response.content.decode()
    assert not Project.objects.exists()


def test_numbers_keep_their_zeros_and_letters(restorer_client):
    restorer_client.post(reverse("project-new"), typed(machines="M08-M10; 7"))
    assert [machine.number for machine in Project.objects.get().machines.all()] == ["7", "M08", "M09", "M10"]


def test_it_refuses_another_workshops_design(restorer_client, other_workshop):
    design = factories.DesignFactory(workshop=other_workshop)
    assert restorer_client.post(reverse("project-new"), typed(design=design.pk)).status_code == 200
    assert not Project.objects.exists()


def test_a_helper_may_not_begin_a_project(helper_client):
    assert helper_client.get(reverse("project-new")).status_code == 403


def test_the_page_shows_pieces_by_stage_with_their_next_step(guest_client, piece):
    page = guest_client.get(reverse("project", args=[piece.project_id])).content.decode()
    assert "To be blasted" in page
    assert "F-01" in page
    assert "Log the ticked pieces" not in page  # a guest looks on


def test_ticked_pieces_go_to_the_log(helper_client, piece):
    page = helper_client.get(reverse("project", args=[piece.project_id])).content.decode()
    assert f'name="piece" value="{piece.pk}"' in page
    assert f'action="{reverse("log")}"' in page


def test_a_machine_narrows_the_page(owner_client, project, piece, roof):
    machine = factories.MachineFactory(project=project, number="4")
    factories.PieceFactory(project=project, part=piece.part, place=roof, mark="F-04", machine=machine)
    page = owner_client.get(f"{reverse('project', args=[project.pk])}?machine={machine.pk}").content.decode()
    assert "F-04" in page
    assert "F-01" not in page


@pytest.mark.parametrize("machine", ["", "nonsense", factories.NO_ROW])
def test_a_machine_that_is_not_there_breaks_nothing(owner_client, piece, machine):
    assert owner_client.get(f"{reverse('project', args=[piece.project_id])}?machine={machine}").status_code == 200


@pytest.mark.parametrize("name", ["project", "project-edit", "paint-list", "paint-csv", "pieces-new"])
def test_another_workshops_project_is_not_there(stranger_client, project, name):
    assert stranger_client.get(reverse(name, args=[project.pk])).status_code == 404


@pytest.mark.parametrize("name", ["machine-new", "follower-new", "follower-close"])
def test_another_workshops_project_takes_no_change(stranger_client, project, name):
    assert stranger_client.post(reverse(name, args=[project.pk]), {"numbers": "1"}).status_code == 404


def test_a_project_renamed_renames_its_hidden_design(restorer_client, workshop):
    restorer_client.post(reverse("project-new"), typed())
    project = Project.objects.get()
    restorer_client.post(reverse("project-edit", args=[project.pk]), {"name": "Fretsaw of 1911"})
    project.refresh_from_db()
    assert (project.name, project.design.name) == ("Fretsaw of 1911", "Fretsaw of 1911")


def test_machines_are_added_once(restorer_client, project):
    for _ in range(2):
        restorer_client.post(reverse("machine-new", args=[project.pk]), {"numbers": "4, 5"})
    assert project.machines.count() == 2


def test_no_number_is_told_on_the_page(restorer_client, project):
    response = restorer_client.post(reverse("machine-new", args=[project.pk]), {"numbers": " "})
    assert response.status_code == 422
    assert "Machine numbers" in response.content.decode()


def test_a_renewed_address_closes_the_one_before(restorer_client, project):
    for _ in range(2):
        restorer_client.post(reverse("follower-new", args=[project.pk]), {"name": "museum"})
    old, new = Follower.objects.order_by("closed").reverse()
    assert (old.closed, new.closed) == (True, False)
    restorer_client.post(reverse("follower-close", args=[project.pk]))
    assert not Follower.objects.filter(closed=False).exists()


def test_a_finished_project_is_still_read_and_asks_for_nothing(helper_client, piece):
    Project.objects.update(closed=True)
    factories.StepFactory(piece=piece, kind="blasted")
    page = helper_client.get(reverse("project", args=[piece.project_id])).content.decode()
    assert "finished and handed over" in page
    assert "Log the ticked pieces" not in page
    assert "time bare is over" not in page
    assert "The project is finished" in helper_client.get(reverse("piece", args=[piece.pk])).content.decode()


def test_the_list_counts_pieces_by_stage(guest_client, piece):
    factories.StepFactory(piece=piece, kind="blasted")
    page = guest_client.get(reverse("projects")).content.decode()
    assert "1 blasted" in page


def test_an_empty_workshop_is_told_what_to_do(restorer_client):
    assert "Begin the first" in restorer_client.get(reverse("projects")).content.decode()


def test_the_page_asks_a_fixed_number_of_questions(owner_client, piece, roof):
    address = reverse("project", args=[piece.project_id])
    owner_client.get(address)
    with CaptureQueriesContext(connection) as few:
        owner_client.get(address)
    for number in range(2, 8):
        more = factories.PieceFactory(project=piece.project, part=piece.part, place=roof, mark=f"F-0{number}")
        factories.StepFactory(piece=more, kind="blasted")
    with CaptureQueriesContext(connection) as many:
        owner_client.get(address)
    assert len(many) - len(few) <= 8  # steps bring their people, places and coatings, once for all
