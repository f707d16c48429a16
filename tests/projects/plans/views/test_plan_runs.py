"""A run of the planner as its pages tell it: asked for, watched, stopped, without a plan, with something left out."""

import uuid

import pytest
from django.urls import reverse

from projects.record.models import Plan, PlanRun
from tests import factories

from .plan_cast import NINE, coat, plan_of, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_a_tuesday")]
State = Plan.State


def test_a_run_is_asked_for_once_however_often_the_form_is_sent(owner_client, pieces):
    key = uuid.uuid4()
    for _ in range(2):
        owner_client.post(reverse("plan-run"), {"key": key})
    run = PlanRun.objects.get()
    assert run.pk == key
    assert [*run.projects.all()] == [pieces[0].project]


def test_a_key_that_another_workshop_s_run_has_makes_a_run_of_ones_own(owner_client, other_workshop, pieces):
    theirs = factories.PlanRunFactory(workshop=other_workshop, projects=[])
    owner_client.post(reverse("plan-run"), {"key": theirs.pk})
    own = PlanRun.objects.exclude(pk=theirs.pk).get()
    assert [*own.projects.all()] == [pieces[0].project]
    theirs.refresh_from_db()
    assert theirs.workshop == other_workshop


def test_a_run_takes_the_terms_of_the_last_one(owner_client, workshop, pieces):
    factories.PlanRunFactory(workshop=workshop, projects=[], settings={"overtime": 2.0}, aims=["cost", "finish"])
    owner_client.post(reverse("plan-run"))
    run = PlanRun.objects.first()
    assert (run.settings, run.aims) == ({"overtime": 2.0}, ["cost", "finish"])


def test_while_it_is_planned_the_page_asks_again_and_shows_finish_and_gap(owner_client, run):
    run.state, run.progress = PlanRun.State.RUNNING, {"finish": "2026-05-14T15:00:00+00:00", "gap": 12.5, "seconds": 3}
    run.save()
    for address in (reverse("plan"), reverse("plan-progress", args=[run.pk])):
        page = owner_client.get(address)
        assert "Being improved" in text(page)
        assert "Thu 16:00" in text(page)
        assert "12.5 %" in text(page)
        assert f'hx-get="{reverse("plan-progress", args=[run.pk])}"' in page.content.decode()
        assert "Look again" in text(page)  # for a page without script


def test_each_plan_that_it_offers_is_shown_and_accepted_only_when_it_is_over(owner_client, run, pieces):
    PlanRun.objects.update(state=PlanRun.State.RUNNING)
    offered = plan_of(run, State.OFFERED)
    coat(offered, pieces)
    page = owner_client.get(reverse("plan"))
    assert "The plan so far" in text(page)
    assert "Accept" not in text(page)
    asked = f"{reverse('plan-progress', args=[run.pk])}?offered={offered.pk}"
    assert f'hx-get="{asked}"' in page.content.decode()
    by_script = {"HX-Request": "true"}
    assert f'hx-get="{asked}"' in owner_client.get(asked, headers=by_script).content.decode()
    offered.delete()
    another = plan_of(run, State.OFFERED)
    assert owner_client.get(asked, headers=by_script).headers["HX-Refresh"] == "true"
    assert str(another.pk) in owner_client.get(reverse("plan")).content.decode()


def test_when_it_is_done_the_page_is_shown_anew(owner_client, run):
    address = reverse("plan-progress", args=[run.pk])
    assert owner_client.get(address, headers={"HX-Request": "true"}).headers["HX-Refresh"] == "true"
    assert owner_client.get(address).url == reverse("plan")


def test_it_can_be_stopped(owner_client, run):
    PlanRun.objects.update(state=PlanRun.State.RUNNING)
    owner_client.post(reverse("plan-stop", args=[run.pk]))
    run.refresh_from_db()
    assert run.stop_wanted
    assert "Stopping" in text(owner_client.get(reverse("plan")))


def test_no_plan_names_the_rule_and_what_would_allow_one(owner_client, run, shop):
    hold = {"hold": {str(shop.pk): 15.0}}
    way = {"words": "Hold Shop at 15 °C", "settings": hold, "finish": "2026-05-14T15:00:00+00:00", "cost": 120}
    PlanRun.objects.update(state=PlanRun.State.FAILED, message="air and metal do not allow it", changes=[way])
    page = text(owner_client.get(reverse("plan")))
    assert "No plan is possible" in page
    assert "air and metal do not allow it" in page
    assert "Hold Shop at 15 °C : everything dry Thu 16:00, 120.00 GBP" in page
    owner_client.post(reverse("plan-run"), {"run": run.pk, "change": "0"})
    assert PlanRun.objects.first().settings == hold


@pytest.mark.parametrize("change", ["7", "-1", "x", ""])
def test_a_change_that_was_not_tried_changes_nothing(owner_client, run, change):
    owner_client.post(reverse("plan-run"), {"run": run.pk, "change": change})
    assert PlanRun.objects.first().settings == {}


def test_what_is_missing_leads_to_where_it_is_filled_in(owner_client, run, pieces):
    part = pieces[0].part
    lack = {"about": "frame", "why": "its part has no painted area", "page": "part", "pk": str(part.pk)}
    nowhere = {"about": "frame", "why": "something else", "page": "", "pk": ""}
    PlanRun.objects.update(missing=[lack, nowhere])
    page = owner_client.get(reverse("plan"))
    assert "frame : its part has no painted area" in text(page)
    assert f'href="{reverse("part", args=[part.pk])}"' in page.content.decode()
    assert text(page).count("Mend it here") == 1


def test_an_offer_from_before_there_was_no_plan_any_more_is_no_offer(owner_client, run, pieces):
    offered = plan_of(run, State.OFFERED)
    coat(offered, pieces)
    later = {"asked_at": NINE, "state": PlanRun.State.FAILED, "message": "frame: rain"}
    factories.PlanRunFactory(
        workshop=run.workshop, projects=[pieces[0].project], missing=[{"about": "frame", "why": "rain"}], **later
    )
    page = text(owner_client.get(reverse("plan")))
    assert "No plan is possible" in page
    assert page.count("frame : rain.") == 1
    assert "Accept" not in page


def test_what_keeps_several_out_alike_is_said_once_with_what_would_let_them_in(owner_client, run, pieces):
    lack = {"why": "it finds no time beside the others: there are too few hands", "page": "", "pk": ""}
    way = {"words": "Work 2 hours longer", "settings": {}, "finish": "2026-05-14T15:00:00+00:00", "cost": 30}
    lets_in = {"racks": 3, "of": 4, "more": 12.5, "lets_in": ["bracket", "jaw"], "leaves_out": ["wheel"]}
    missing = [{"about": about, **lack} for about in ("bracket", "jaw")]
    message = "; ".join(f"{one['about']}: {one['why']}" for one in missing)
    PlanRun.objects.update(missing=missing, message=message, changes=[{**way, **lets_in}])
    coat(plan_of(run, State.OFFERED), pieces)
    page = text(owner_client.get(reverse("plan")))
    assert page.count("there are too few hands") == 1
    assert "bracket, jaw : it finds no time" in page
    assert "Work 2 hours longer : lets in bracket; jaw, and leaves out wheel: 3 of 4 racks dry Thu 16:00" in page
    assert "30.00 GBP, 12.50 more than as things stand" in page


def test_that_there_is_no_plan_is_told_at_once_while_changes_are_still_tried(owner_client, run, shop):
    way = {"words": "Hold Shop at 15 °C", "settings": {}, "finish": "2026-05-14T15:00:00+00:00", "cost": 120}
    told = {"state": PlanRun.State.RUNNING, "message": "paint does not dry in time", "changes": [way]}
    PlanRun.objects.update(progress={"words": "What would allow one is tried"}, **told)
    page = text(owner_client.get(reverse("plan-progress", args=[run.pk])))
    assert "No plan is possible as things stand: paint does not dry in time." in page
    assert "Hold Shop at 15 °C : everything dry Thu 16:00, 120.00 GBP" in page
    assert "What would allow one is tried." in page
