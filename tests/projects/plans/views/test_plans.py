"""The plan's pages: what is offered and kept, what is broken, a step and why it stands there."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from projects.record.models import Plan, Slot, Step
from tests import factories

from .plan_cast import NINE, coat, plan_of, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_a_tuesday")]
State = Plan.State


# -- the plan


def test_without_a_plan_the_page_says_what_to_do(owner_client, pieces):
    assert "Nothing is planned yet" in text(owner_client.get(reverse("plan")))
    assert "Make a plan" in text(owner_client.get(reverse("plan")))


def test_without_a_project_it_leads_to_one(owner_client):
    page = owner_client.get(reverse("plan")).content.decode()
    assert "No project is open" in page
    assert reverse("project-new") in page


def test_without_a_forecast_it_leads_to_the_weather(owner_client, workshop):
    factories.ProjectFactory(design=factories.DesignFactory(workshop=workshop))
    assert "It needs a forecast" in text(owner_client.get(reverse("plan")))


def test_a_kept_plan_is_told_by_its_days(owner_client, run, pieces):
    plan = plan_of(run, State.KEPT, cost=Decimal("412.50"), margin=1.4)
    slot = coat(plan, pieces)
    page = owner_client.get(reverse("plan"))
    assert "The kept plan" in text(page)
    assert "412.50 GBP" in text(page)
    assert "1.4 °C above what is asked" in text(page)
    assert "10:00–12:00 coat of green enamel frames" in text(page)
    assert page.content.decode().count(reverse("plan-slot", args=[slot.pk])) >= 2  # from the picture and from the list


def test_how_far_from_best_is_told_aim_by_aim(owner_client, run, pieces):
    """As the planner keeps them: minutes late, instants, money, °C."""
    ends = {"value": "2026-05-14T15:00:00+00:00", "bound": "2026-05-14T12:00:00+00:00"}
    bounds = [
        {"aim": "lateness", "value": 0, "bound": 0, "proven": True},
        {"aim": "finish", **ends, "proven": False},
        {"aim": "cost", "value": 90.0, "bound": 60.0, "proven": False},
        {"aim": "margin", "value": 1.5, "bound": None, "proven": False},
    ]
    coat(plan_of(run, State.KEPT, bounds=bounds), pieces)
    page = text(owner_client.get(reverse("plan")))
    assert "promised dates by nothing, finish by 3 h, cost by 30.00 GBP, margin not known" in page


def test_a_plan_tells_in_how_many_members_it_stands_and_opens_the_working(owner_client, run, pieces):
    told = {"of": 10, "whole": 6, "model": "gfs_seamless", "fetched_at": NINE.isoformat(), "until": NINE.isoformat()}
    plan = plan_of(run, State.KEPT, members=told)
    coat(plan, pieces, stands_in=9)
    weakest = coat(plan, pieces, begin=NINE + timedelta(hours=5), key="coat:2", label="last coat", stands_in=7)
    page = owner_client.get(reverse("plan"))
    assert "6 of 10 members of the ensemble" in text(page)
    assert "its weakest step, frames: last coat , in 7" in text(page)
    assert "members without a broken step / all members" in text(page)
    assert "after which the forecast alone is asked" in text(page)
    assert "It stands in 7 of 10 members" in text(owner_client.get(reverse("plan-slot", args=[weakest.pk])))


def test_without_an_ensemble_the_plan_says_what_stands_in_for_it(owner_client, run, pieces):
    coat(plan_of(run, State.KEPT), pieces)
    assert "no ensemble is known: the margin stands in for it" in text(owner_client.get(reverse("plan")))


def test_a_plan_that_is_proven_best_says_so(owner_client, run, pieces):
    told = [{"aim": aim, "value": 1, "bound": 1, "proven": True} for aim in ("lateness", "cost")]
    coat(plan_of(run, State.KEPT, bounds=told), pieces)
    assert "by nothing: proven best" in text(owner_client.get(reverse("plan")))


def test_what_a_plan_counts_on_leads_to_where_it_is_arranged(owner_client, workshop, pieces, shop):
    visit = factories.VisitFactory(workshop=workshop, date=NINE.date() + timedelta(days=1))
    moved = (NINE + timedelta(days=10)).date()
    settings = {"shifted": {str(visit.pk): moved.isoformat()}, "hold": {str(shop.pk): 18.0}, "overtime": 2.0}
    run = factories.PlanRunFactory(workshop=workshop, projects=[pieces[0].project], settings=settings)
    coat(plan_of(run, State.KEPT), pieces, visit=visit, begin=NINE + timedelta(days=10))
    page = owner_client.get(reverse("plan"))
    for said in ("Grit Brothers comes on Friday 22 May", "Shop held at 18 °C", "days up to 2 h longer"):
        assert said in text(page).split("It counts on:")[1]
    visit_form, place_form = (
        owner_client.get(re.search(rf'href="({reverse(name, args=[row.pk])}[^"]+)"', page.content.decode())[1])
        for name, row in (("visit-edit", visit), ("place-edit", shop))
    )
    assert visit_form.context["form"]["date"].value() == moved
    assert place_form.context["form"]["held_at"].value() == "18"
    assert 'class="visit booked"' in page.content.decode()  # drawn on the day that was tried


def test_once_the_rows_agree_the_plan_no_longer_says_that_it_counts_on_them(owner_client, workshop, pieces, shop):
    visit = factories.VisitFactory(workshop=workshop, date=NINE.date() + timedelta(days=1))
    settings = {"shifted": {str(visit.pk): visit.date.isoformat()}, "hold": {str(shop.pk): 16.0}}
    run = factories.PlanRunFactory(workshop=workshop, projects=[pieces[0].project], settings=settings)
    coat(plan_of(run, State.KEPT), pieces)
    assert "It counts on" not in text(owner_client.get(reverse("plan")))


def test_a_holding_primer_leads_to_the_system_whose_first_layer_it_is_to_be(owner_client, workshop, pieces):
    paint = factories.CoatingFactory(workshop=workshop, name="red holding primer")
    run = factories.PlanRunFactory(workshop=workshop, projects=[pieces[0].project], settings={"holding": str(paint.pk)})
    coat(plan_of(run, State.KEPT), pieces)
    page = owner_client.get(reverse("plan"))
    assert "red holding primer on first, as a holding primer" in text(page)
    assert reverse("system", args=[pieces[0].part.system_id]) in page.content.decode()


@pytest.mark.parametrize("asked", ["?date=soon", "?date=", "?date=2026-13-40"])
def test_a_day_that_is_none_is_passed_over(owner_client, workshop, asked):
    visit = factories.VisitFactory(workshop=workshop)
    page = owner_client.get(reverse("visit-edit", args=[visit.pk]) + asked)
    assert page.context["form"]["date"].value() == visit.date


def test_a_move_is_logged_from_its_slot_to_the_place_planned(owner_client, run, pieces, roof):
    plan = plan_of(run, State.KEPT)
    move = coat(plan, pieces, kind=Slot.Kind.MOVE, key="move:out:coat", layer=None, place=roof, origin=pieces[0].place)
    page = owner_client.get(reverse("plan-slot", args=[move.pk])).content.decode()
    form = owner_client.get(re.search(r'href="(/log/\?[^"]+)"', page)[1].replace("&amp;", "&")).context["form"]
    assert form.entry == Step.Kind.MOVED
    assert form["place"].value() == roof.pk
    plain = owner_client.get(reverse("log"), {"piece": pieces[0].pk, "kind": "moved", "place": "nowhere"})
    assert plain.context["form"]["place"].value() == pieces[0].place_id


def test_a_coat_is_logged_from_its_slot_with_its_layer(owner_client, run, pieces):
    slot = coat(plan_of(run, State.KEPT), pieces)
    page = owner_client.get(reverse("plan-slot", args=[slot.pk])).content.decode()
    form = owner_client.get(re.search(r'href="(/log/\?[^"]+)"', page)[1].replace("&amp;", "&")).context["form"]
    assert (form["layer"].value(), form["place"].value()) == (slot.layer_id, pieces[0].place_id)


def test_the_bar_of_a_paint_has_its_own_colour(owner_client, run, pieces):
    coat(plan_of(run, State.KEPT), pieces)
    page = owner_client.get(reverse("plan")).content.decode()
    assert 'class="bar coat"' in page
    assert 'fill="#2f5d3a"' in page


def test_from_the_list_a_tap_leads_to_the_log_with_pieces_and_kind(owner_client, run, pieces):
    coat(plan_of(run, State.KEPT), pieces)
    page = owner_client.get(reverse("plan")).content.decode()
    link = re.search(r'href="(/log/\?[^"]+)"', page)[1].replace("&amp;", "&")
    form = owner_client.get(link).context["form"]
    assert form.entry == Step.Kind.COATED
    assert {str(piece.pk) for piece in pieces} == {str(pk) for pk in form["pieces"].value()}


def test_what_is_logged_is_not_asked_for_again(owner_client, run, pieces, owner):
    slot = coat(plan_of(run, State.KEPT), pieces)
    for piece in pieces:
        factories.StepFactory(piece=piece, kind=Step.Kind.COATED, layer=slot.layer, happened_at=NINE, by=owner)
    page = owner_client.get(reverse("plan"))
    assert "frames logged" in text(page)
    assert "Log it" not in text(page)


def test_a_rack_is_logged_only_when_all_its_pieces_are(owner_client, run, pieces, owner):
    slot = coat(plan_of(run, State.KEPT), pieces)
    factories.StepFactory(piece=pieces[0], kind=Step.Kind.COATED, layer=slot.layer, happened_at=NINE, by=owner)
    assert "Log it" in text(owner_client.get(reverse("plan")))


def test_a_broken_step_is_marked_with_its_reason(owner_client, run, pieces):
    coat(plan_of(run, State.KEPT), pieces, broken="rain before the work may be left")
    page = owner_client.get(reverse("plan"))
    assert "1 step no longer holds" in text(page)
    assert text(page).count("rain before the work may be left") >= 2
    assert "broken" in page.content.decode()


def test_an_offer_is_told_as_changes_and_nothing_moves_before_it_is_accepted(owner_client, run, pieces):
    kept = plan_of(run, State.KEPT)
    coat(kept, pieces)
    moved = {
        "rack": "frames", "label": "coat of green enamel", "was": (NINE + timedelta(hours=1)).isoformat(),
        "now": (NINE + timedelta(hours=24)).isoformat(), "place_was": "Shop", "place": "Shop", "why": "rain",
    }  # fmt: skip
    offered = factories.PlanFactory(run=run, state=State.OFFERED, made_at=NINE, instead_of=kept, changes=[moved])
    coat(offered, pieces, begin=NINE + timedelta(hours=24))
    page = text(owner_client.get(reverse("plan")))
    assert "coat of green enamel frames: today 10:00 → tomorrow 09:00 (rain)" in page
    assert "was today 10:00–12:00" in page
    assert "today 10:00 → tomorrow 09:00" in text(owner_client.get(reverse("day-sheet")))
    assert "The kept plan" in text(owner_client.get(reverse("plan") + "?kept=1"))
    kept.refresh_from_db()
    assert kept.state == State.KEPT


def test_accepting_keeps_the_offer_and_lets_the_plan_before_it_go(owner_client, owner, run, pieces):
    kept, offered = plan_of(run, State.KEPT), plan_of(run, State.OFFERED)
    owner_client.post(reverse("plan-accept", args=[offered.pk]))
    for plan in (kept, offered):
        plan.refresh_from_db()
    assert (kept.state, offered.state) == (State.REPLACED, State.KEPT)
    assert (offered.decided_by, offered.decided_at) == (owner, NINE)


def test_refusing_moves_nothing(owner_client, run, pieces):
    kept, offered = plan_of(run, State.KEPT), plan_of(run, State.OFFERED)
    owner_client.post(reverse("plan-refuse", args=[offered.pk]))
    for plan in (kept, offered):
        plan.refresh_from_db()
    assert (kept.state, offered.state) == (State.KEPT, State.REFUSED)


@pytest.mark.parametrize("state", [State.REPLACED, State.REFUSED])
def test_what_is_not_offered_any_more_cannot_be_accepted(owner_client, run, state):
    plan = plan_of(run, state)
    answer = owner_client.post(reverse("plan-accept", args=[plan.pk]), follow=True)
    assert "not offered any more" in text(answer)
    plan.refresh_from_db()
    assert plan.state == state


def test_a_helper_sees_the_plan_and_decides_nothing(helper_client, run, pieces):
    offered = plan_of(run, State.OFFERED)
    coat(offered, pieces)
    assert "Accept" not in text(helper_client.get(reverse("plan")))
    assert helper_client.post(reverse("plan-accept", args=[offered.pk])).status_code == 403


def test_a_guest_sees_no_way_to_the_log(guest_client, run, pieces):
    coat(plan_of(run, State.KEPT), pieces)
    assert "Log it" not in text(guest_client.get(reverse("plan")))


def test_a_project_s_plan_is_the_one_it_is_in(owner_client, run, pieces, workshop):
    coat(plan_of(run, State.KEPT), pieces)
    other = factories.ProjectFactory(design=factories.DesignFactory(workshop=workshop))
    assert "The kept plan" in text(owner_client.get(reverse("project-plan", args=[pieces[0].project_id])))
    assert "Nothing is planned yet" in text(owner_client.get(reverse("project-plan", args=[other.pk])))


# -- a step


def test_a_step_says_why_it_stands_there(owner_client, run, pieces):
    ends = {"opens": "2026-05-12T09:00:00+00:00", "closes": "2026-05-14T09:00:00+00:00"}
    window = {"kind": "recoat", "after": "primer", **ends, "closed_from": None, "closed_until": None}
    why = {
        "windows": [window], "waits_for": {"label": "primer", "until": "2026-05-11T15:00:00+00:00"},
        "earlier": ["RAIN", "HUMIDITY"], "visit": "", "margin": 2.4,
    }  # fmt: skip
    slot = coat(plan_of(run, State.KEPT), pieces, why=why)
    page = owner_client.get(reverse("plan-slot", args=[slot.pk]))
    said = text(page)
    assert "It follows primer, which is over yesterday 16:00" in said
    assert "Recoat window over primer: from today 10:00, at the latest Thu 10:00" in said
    assert "Not an hour earlier: rain before the work may be left; humidity outside the sheet" in said
    assert "2.4 °C above the dew point" in said
    assert "Dew-point margin" in said  # and the working behind it
    assert "Source:" in said


@pytest.mark.parametrize(
    ("why", "words"),
    [
        ({"busy": {"label": "coat", "rack": "bed", "who": "ada", "until": ""}}, "ada is at coat, bed until then"),
        ({"opens": True}, "nobody is at work before"),
        ({}, "the air would allow it sooner"),
    ],
)
def test_a_step_that_the_air_would_allow_sooner_says_who_or_what_stands_against_it(
    owner_client, run, pieces, why, words
):
    slot = coat(plan_of(run, State.KEPT), pieces, why=why)
    assert words in text(owner_client.get(reverse("plan-slot", args=[slot.pk]))).replace("The air", "the air")


def test_how_good_an_offered_plan_is_stands_before_what_asks_to_accept_it(owner_client, run, pieces):
    coat(plan_of(run, State.OFFERED), pieces)
    said = text(owner_client.get(reverse("plan")))
    assert said.index("Could be better at most") < said.index("Accept this plan")


def test_a_plan_says_what_own_work_it_takes_what_its_cost_is_made_of_and_a_guest_sees_no_money(
    owner_client, guest_client, owner, run, pieces
):
    """Two people for two hours at 30.00 beside a call-out of 90.00."""
    type(run.workshop).objects.update(wage=30)
    costs = {"contractor": 9000, "heating": 0, "own": 12000, "hours": 4}
    slot = coat(plan_of(run, State.KEPT, cost=Decimal(210), costs=costs), pieces)
    slot.people.add(owner, factories.UserFactory())
    page, to_a_guest = (text(client.get(reverse("plan"))) for client in (owner_client, guest_client))
    assert re.search(r"Cost 210\.00 ", page)
    assert re.search(r"call-outs of the visits booked 90\.00 .*4 h of our own at 30.*120\.00 ", page)
    assert "Own work" in to_a_guest
    assert "120.00" not in to_a_guest
    assert "210.00" not in to_a_guest


def test_a_step_of_a_plan_that_is_not_kept_is_not_logged(owner_client, run, pieces):
    slot = coat(plan_of(run, State.OFFERED), pieces)
    assert "Log it" not in text(owner_client.get(reverse("plan-slot", args=[slot.pk])))


def test_a_step_outside_the_known_air_has_no_working_and_no_error(owner_client, run, pieces):
    slot = coat(plan_of(run, State.KEPT), pieces, begin=NINE + timedelta(days=300))
    answer = owner_client.get(reverse("plan-slot", args=[slot.pk]))
    assert answer.status_code == 200
    assert answer.context["workings"] == []


# -- the day sheet


def test_the_day_sheet_shows_today_s_steps_and_marks_the_broken(owner_client, run, pieces):
    plan = plan_of(run, State.KEPT)
    coat(plan, pieces, broken="rain before the work may be left")
    coat(plan, pieces, begin=NINE + timedelta(days=1), key="coat:2", label="letters", broken="frost")
    page = text(owner_client.get(reverse("day-sheet")))
    assert "Today by the plan" in page
    assert "10:00–12:00 coat of green enamel" in page
    assert "No longer holds: rain before the work may be left" in page
    assert "1 other step of the plan no longer holds" in page
    assert "letters" not in page.split("Today by the plan")[1].split("other step")[0]


def test_without_a_kept_plan_the_day_sheet_is_silent_about_plans(owner_client, run, pieces):
    coat(plan_of(run, State.OFFERED), pieces)
    assert "Today by the plan" not in text(owner_client.get(reverse("day-sheet")))


def test_slots_have_no_entry_of_their_own_for_what_the_log_does_not_know():
    assert Slot(kind=Slot.Kind.MASK).logged_as is None


def test_plan_step_day_sheet_and_calendar_tell_one_mix_for_two_racks(owner_client, run, pieces):
    """Two racks of 1 m², one after the other: 40 / 450 / 0.9 = 98.8 mL each and 5 % more are 207 mL."""
    type(pieces[0].part).objects.update(area=1)
    plan = plan_of(run, State.KEPT)
    first, second = (
        coat(plan, [piece], rack=piece.mark, begin=NINE + timedelta(hours=hours))
        for piece, hours in zip(pieces, (1, 3), strict=True)
    )
    told = "Decant 207 mL of green enamel"
    for page in (reverse("plan"), reverse("plan-slot", args=[second.pk]), reverse("day-sheet")):
        said = text(owner_client.get(page))
        assert said.count(told) == 1
        assert "once for frame and wheel." in said
    feed = owner_client.get(reverse("plan-file", args=[plan.pk])).content.decode().replace("\r\n ", "")
    assert feed.count(f"{told}\\, for frame\\, wheel.") == 1
    paint = text(owner_client.get(reverse("paint-list", args=[run.projects.get().pk])))
    assert re.search(r"green enamel .{0,200}207 mL", paint)
