"""What a plan may use, as a form."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from projects.record.models import Plan, PlanRun
from tests import factories

from .plan_cast import NINE, coat, plan_of, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_a_tuesday")]
State = Plan.State


def filled(page, **typed):
    """The form as it came, with some boxes typed anew; a box that is not ticked is not sent."""
    values = {bound.html_name: _sent(bound.value()) for bound in page.context["form"]}
    return {name: value for name, value in {**values, **typed}.items() if value is not False}


def _sent(value):
    if value is None or isinstance(value, str | bool | int | float):
        return "" if value is None else value
    return [getattr(each, "pk", each) for each in value] if hasattr(value, "__iter__") else value


def test_the_settings_begin_as_usual_and_plan_at_once(owner_client, pieces, owner):
    page = owner_client.get(reverse("plan-settings"))
    project = pieces[0].project_id
    answer = owner_client.post(reverse("plan-settings"), filled(page, projects=[project]))
    assert answer.status_code == 302, answer.context["form"].errors
    run = PlanRun.objects.get()
    assert run.aims == ["lateness", "finish", "cost", "margin"]
    assert run.settings["people"] == [str(owner.pk)]
    assert "hold" not in run.settings


def test_what_was_chosen_is_what_the_planner_is_told(owner_client, pieces, shop, workshop):
    visit = factories.VisitFactory(workshop=workshop, date=NINE.date() + timedelta(days=2))
    page = owner_client.get(reverse("plan-settings"))
    typed = {
        "projects": [pieces[0].project_id],
        "first": "cost", "third": "lateness",
        "overtime": "1,5", "largest": "2 m²",
        "visits": [visit.pk],
        f"hold-{shop.pk}": "18 °C", f"dry-{shop.pk}": "55", f"hold_cost-{shop.pk}": "2,40",
        f"rack-{pieces[0].pk}": "small things", f"not_before-{pieces[1].pk}": "2026-05-14",
    }  # fmt: skip
    answer = owner_client.post(reverse("plan-settings"), filled(page, **typed))
    assert answer.status_code == 302, answer.context["form"].errors
    run = PlanRun.objects.get()
    assert run.aims == ["cost", "finish", "lateness", "margin"]
    assert run.settings["overtime"] == 1.5
    assert run.settings["largest"] == 2.0
    assert run.settings["visits"] == [str(visit.pk)]
    assert run.settings["hold"] == {str(shop.pk): 18.0}
    assert run.settings["dry"] == {str(shop.pk): 55.0}
    assert run.settings["hold_cost"] == {str(shop.pk): "2.40"}
    assert run.settings["racks"] == {str(pieces[0].pk): "small things"}
    assert run.settings["not_before"] == {str(pieces[1].pk): "2026-05-14T08:00:00+01:00"}


def test_the_settings_remember_the_last_ones(owner_client, workshop, pieces, shop):
    factories.PlanRunFactory(
        workshop=workshop,
        projects=[pieces[0].project],
        aims=["cost", "finish", "lateness", "margin"],
        settings={"overtime": 2.0, "hold": {str(shop.pk): 15.0}, "racks": {str(pieces[0].pk): "small things"}},
    )
    page = owner_client.get(reverse("plan-settings")).content.decode()
    assert 'value="small things"' in page
    assert re.search(rf'name="hold-{shop.pk}" value="15"', page)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"projects": []}, "Tick at least one project"),
        ({"people": []}, "Tick at least one person"),
        ({"first": "finish"}, "This stands in the order twice"),
        ({"overtime": "12"}, "less than or equal to 6"),
        ({"seconds": "soon"}, "whole number"),
        ({"largest": "a few"}, "Give a number"),
    ],
)
def test_what_cannot_be_is_told_at_its_box_and_stays_typed(owner_client, pieces, typed, told):
    page = owner_client.get(reverse("plan-settings"))
    answer = owner_client.post(reverse("plan-settings"), filled(page, **{"projects": [pieces[0].project_id], **typed}))
    assert answer.status_code == 422
    assert told in text(answer)
    assert not PlanRun.objects.exists()
    value = next(iter(typed.values()))
    assert not value or isinstance(value, list) or f'value="{value}"' in answer.content.decode()


def test_a_plan_with_no_place_to_work_in_is_refused(owner_client, pieces, shop):
    page = owner_client.get(reverse("plan-settings"))
    sent = filled(page, projects=[pieces[0].project_id])
    del sent[f"use-{shop.pk}"]
    assert "there is nowhere to work" in text(owner_client.post(reverse("plan-settings"), sent))


def test_the_settings_tell_on_which_rack_a_piece_hangs(owner_client, run, pieces):
    coat(plan_of(run, State.KEPT), pieces, rack="frame × 2")
    assert "hung on frame × 2 in the newest plan" in text(owner_client.get(reverse("plan-settings")))


def test_a_plan_may_be_asked_to_stand_in_eight_of_ten_members(owner_client, pieces):
    page = owner_client.get(reverse("plan-settings"))
    owner_client.post(reverse("plan-settings"), filled(page, projects=[pieces[0].project_id], stands_in="8"))
    assert PlanRun.objects.get().settings["stands_in"] == 8
    again = owner_client.get(reverse("plan-settings")).content.decode()
    assert '<option value="8" selected>at least 8 of 10</option>' in again


def opened(page):
    form = page.context["form"]
    return {name for name in ("places", "racks", "way") if getattr(form, f"{name}_open")}


def test_what_is_as_usual_is_folded_and_what_was_chosen_or_is_wrong_lies_open(owner_client, pieces, shop):
    page = owner_client.get(reverse("plan-settings"))
    assert opened(page) == set()

    def send(**typed):
        return owner_client.post(
            reverse("plan-settings"), filled(page, **{"projects": [pieces[0].project_id], **typed})
        )

    assert opened(send(seconds="0")) == {"way"}
    assert opened(send(**{f"hold-{shop.pk}": "200 °C"})) == {"places"}
    send(**{f"rack-{pieces[0].pk}": "small things"})
    assert opened(owner_client.get(reverse("plan-settings"))) == {"racks"}


def test_all_open_projects_are_ticked_to_begin_with_as_one_press_plans_them(owner_client, pieces):
    page = owner_client.get(reverse("plan-settings"))
    assert [*page.context["form"]["projects"].value()] == [pieces[0].project_id]
    assert owner_client.post(reverse("plan-settings"), filled(page)).status_code == 302


def test_pieces_come_by_fifties_and_what_was_said_of_those_not_on_the_page_stays(owner_client, workshop, pieces):
    said = {"racks": {str(pieces[0].pk): "small things", str(pieces[1].pk): "large things"}}
    first = pieces[0]
    for _ in range(60):
        factories.PieceFactory(part=first.part, project=first.project, place=first.place)
    factories.PlanRunFactory(workshop=workshop, projects=[first.project], settings=said)
    page = owner_client.get(reverse("plan-settings"))
    boxes = re.findall(r'name="rack-([^"]+)"', page.content.decode())
    assert len(boxes) == 50
    assert {str(pieces[0].pk), str(pieces[1].pk)} <= {*boxes}  # what was said comes first
    rest = owner_client.get(reverse("plan-settings"), {"page": 2}, headers={"HX-Request": "true"}).content.decode()
    assert "<main" not in rest
    others = re.findall(r'name="rack-([^"]+)"', rest)
    assert len({*boxes, *others}) == len(boxes) + len(others) == len(pieces) + 60

    typed = filled(page, projects=[first.project_id], **{f"rack-{first.pk}": ""})
    answer = owner_client.post(reverse("plan-settings"), {**typed, f"rack-{others[0]}": "far things"})
    assert answer.status_code == 302, answer.context["form"].errors
    assert PlanRun.objects.first().settings["racks"] == {str(pieces[1].pk): "large things", others[0]: "far things"}
    page = owner_client.get(reverse("plan-settings"), {"page": 2})
    typed = filled(page, projects=[first.project_id])
    assert f"rack-{pieces[1].pk}" not in typed
    owner_client.post(reverse("plan-settings"), typed)
    assert PlanRun.objects.first().settings["racks"] == {str(pieces[1].pk): "large things", others[0]: "far things"}
