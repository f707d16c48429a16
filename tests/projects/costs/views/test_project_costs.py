"""What a project was thought to take and what it took, on its page."""

import pytest
from django.urls import reverse

from tests import cost_factories, factories
from tests.projects.worked import brushed_frame, coated, two_pieces

pytestmark = pytest.mark.django_db


@pytest.fixture
def project(workshop):
    return two_pieces(brushed_frame(workshop))[0].project


@pytest.fixture
def casting(project):
    return cost_factories.OperationFactory(part=project.design.parts.get(), each=50)


def page(client, project, section=""):
    response = client.get(reverse("project-costs", args=[project.pk]), {"section": section} if section else {})
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def test_thought_and_taken_stand_side_by_side(owner_client, project):
    coated(project.pieces.get(mark="F-1"), minutes=13, litres=0.08)
    shown = page(owner_client, project)
    assert "1 of 1 entries with a time" in shown
    assert "+30 %" in shown


def test_a_part_s_lines_come_when_it_is_opened(owner_client, project):
    coated(project.pieces.get(mark="F-1"), minutes=13, litres=0.08)
    part = project.design.parts.get()
    assert f'hx-get="?part={part.pk}"' in page(owner_client, project)
    address = reverse("project-costs", args=[project.pk]) + f"?part={part.pk}"
    inside = owner_client.get(address, headers={"HX-Request": "true"}).content.decode()
    assert "<main" not in inside
    assert "Minutes of finishing" in inside
    assert "1 of 1 coats with litres" in inside
    assert inside.strip() in owner_client.get(address).content.decode()  # without script


def test_sections_come_when_they_are_scrolled_to_or_asked_for(owner_client, project, casting):
    address = reverse("project-costs", args=[project.pk])
    first = page(owner_client, project)
    headings = {"finishing": "Paint bought", "blasting": "Blasting media", "making": "Castings, machining and what"}
    for section, heading in headings.items():
        inside = owner_client.get(address, {"section": section}, headers={"HX-Request": "true"}).content.decode()
        assert "<main" not in inside
        assert heading in inside
        assert inside.strip() in owner_client.get(address, {"section": section}).content.decode()  # without script
        assert (heading in first) == (section == "finishing")
        assert (f'hx-get="?section={section}"' in first) == (section != "finishing")


def test_nothing_logged_is_said_and_is_not_nought(owner_client, project):
    shown = page(owner_client, project)
    assert "nothing logged" in shown
    assert "0 min" not in shown.replace("20 min", "").replace("30 min", "").replace("10 min", "")


def test_a_project_of_which_nothing_is_known_says_so(owner_client, workshop):
    bare = factories.ProjectFactory(design__workshop=workshop)
    shown = page(owner_client, bare)
    assert "nothing thought and nothing logged" in shown
    assert reverse("pieces-new", args=[bare.pk]) in shown


def test_more_starts_than_anybody_would_make_are_told(owner_client, project, casting):
    casting.good_percent = "0.01"
    casting.save()
    project.design.parts.update(quantity=50)
    assert "frame: More than 100000 would have to be started" in page(owner_client, project, "making")


def test_its_sheet_leaves_as_a_file(owner_client, project, casting):
    assert reverse("lines-csv", args=[project.design_id]) in page(owner_client, project, "making")


def test_it_is_found_from_the_project_and_from_its_design(owner_client, restorer_client, project, casting):
    address = reverse("project-costs", args=[project.pk])
    for name, pk in (("project", project.pk), ("design-costs", project.design_id)):
        assert address in restorer_client.get(reverse(name, args=[pk])).content.decode()


def test_money_is_for_those_who_plan_and_for_their_workshop_alone(
    helper_client,
    guest_client,
    stranger_client,
    project,
):
    address = reverse("project-costs", args=[project.pk])
    clients = (helper_client, guest_client, stranger_client)
    assert [client.get(address).status_code for client in clients] == [403, 403, 404]
    assert address not in helper_client.get(reverse("project", args=[project.pk])).content.decode()
