import uuid
from datetime import date

import pytest
from django.urls import reverse

from finishing.workshops.access import IN_WORDS, RIGHTS
from finishing.workshops.models import DayOff, Invitation, Membership, Place
from tests.factories import PlaceFactory, ReadingFactory

pytestmark = pytest.mark.django_db


def settings_of(workshop, **changed):
    return {
        "name": workshop.name,
        "where": "52.4, -1.9",
        "time_zone": "Europe/London",
        "units": "metric",
        "currency": "GBP",
        "altitude": "",
        "weather_service": "none",
        "reading_age_minutes": "90",
        "work_from": "08:00",
        "work_until": "18:00",
        "work_days": ["0", "1", "2", "3", "4"],
        "wage": "",
        "brush_minutes": "25",
        "masking_minutes": "10",
        "blasting_minutes": "15",
        "settling_minutes": "60",
        "mixing_minutes": "15",
        "cleaning_minutes": "15",
        "film_floor": "80",
        "film_thin_share": "20",
        "moving_minutes": "30",
        "salt": "not known",
        "rust_tightening": "1",
        **changed,
    }


def test_an_owner_changes_the_settings(owner_client, workshop):
    answer = owner_client.post(reverse("settings"), settings_of(workshop, name="Lower Works", altitude="120"))
    assert answer.status_code == 302
    workshop.refresh_from_db()
    assert workshop.name == "Lower Works"
    assert workshop.work_days == "1111100"
    assert workshop.altitude.to("m").magnitude == 120


def test_a_place_said_at_last_brings_a_forecast_and_one_taken_back_ends_it(owner_client, workshop):
    workshop.placed = False
    workshop.save()
    owner_client.post(reverse("settings"), settings_of(workshop, where="Ludlow, England"))
    workshop.refresh_from_db()
    assert workshop.placed
    assert (round(workshop.latitude, 1), workshop.weather_service) == (52.4, "met norway")
    wrong = owner_client.post(reverse("settings"), settings_of(workshop, where="", weather_service="met norway"))
    assert "has to know where" in wrong.content.decode()
    owner_client.post(reverse("settings"), settings_of(workshop, where=""))
    workshop.refresh_from_db()
    assert not workshop.placed


@pytest.mark.parametrize(
    ("box", "typed", "said"),
    [
        ("work_until", "07:00", "Work must end after it begins"),
        ("work_days", [], "Tick at least one day"),
        ("brush_minutes", "-3", "Must lie between"),
        ("altitude", "3 kg", "measures something else"),
        ("rust_tightening", "0", "greater than or equal to 0.05"),
        ("weather_service", "oracle", "Select a valid choice"),
        ("time_zone", "../etc/passwd", "not a time zone"),
    ],
)
def test_a_wrong_setting_is_told_at_its_box_and_nothing_is_kept(owner_client, workshop, box, typed, said):
    page = owner_client.post(reverse("settings"), settings_of(workshop, **{"name": "Lower Works", box: typed}))
    shown = page.content.decode()
    assert said in shown
    assert 'value="Lower Works"' in shown
    workshop.refresh_from_db()
    assert workshop.name == "Hollowfield Works"


def test_the_head_of_the_page_keeps_the_workshop_s_own_name_while_a_wrong_one_is_mended(owner_client, workshop):
    page = owner_client.post(reverse("settings"), settings_of(workshop, name="Lower Works", brush_minutes="none"))
    assert '<span class="whose">Hollowfield Works</span>' in page.content.decode()


def test_an_american_workshop_types_feet(owner_client, workshop):
    workshop.units = "us"
    workshop.save()
    owner_client.post(reverse("settings"), settings_of(workshop, units="us", altitude="1000", brush_minutes="2"))
    workshop.refresh_from_db()
    assert workshop.altitude.to("m").magnitude == pytest.approx(304.8)


@pytest.mark.parametrize("role", ["restorer", "helper", "guest"])
def test_only_an_owner_settles(request, role, workshop):
    client = request.getfixturevalue(f"{role}_client")
    assert "An owner changes these" in client.get(reverse("settings")).content.decode()
    for name in ("members", "place-new", "day-off-new"):
        assert client.get(reverse(name)).status_code == 403
    assert client.post(reverse("invite"), {"role": "owner"}).status_code == 403
    assert not Invitation.objects.exists()


def test_a_link_is_made_shown_and_withdrawn(owner_client, workshop):
    owner_client.post(reverse("invite"), {"role": "restorer"})
    link = Invitation.objects.get(workshop=workshop)
    assert link.role == "restorer"
    assert f"http://testserver/join/{link.token}/" in owner_client.get(reverse("members")).content.decode()
    owner_client.post(reverse("invite-withdraw", args=[link.token]))
    assert not Invitation.objects.exists()


def test_the_last_owner_can_neither_step_down_nor_leave(owner_client, owner):
    mine = Membership.objects.get(user=owner)
    page = owner_client.post(reverse("member-role", args=[mine.pk]), {"role": "guest"}, follow=True)
    assert "needs an owner" in page.content.decode()
    owner_client.post(reverse("member-remove", args=[mine.pk]))
    mine.refresh_from_db()
    assert mine.role == "owner"


def test_an_owner_raises_a_helper_and_may_then_step_down(owner_client, owner, helper):
    theirs, mine = Membership.objects.get(user=helper), Membership.objects.get(user=owner)
    owner_client.post(reverse("member-role", args=[theirs.pk]), {"role": "owner"})
    owner_client.post(reverse("member-role", args=[mine.pk]), {"role": "restorer"})
    assert Membership.objects.get(user=helper).role == "owner"
    assert Membership.objects.get(user=owner).role == "restorer"


def test_a_member_taken_out_sees_no_page_of_the_workshop(owner_client, helper_client, helper):
    owner_client.post(reverse("member-remove", args=[Membership.objects.get(user=helper).pk]))
    assert helper_client.get(reverse("places")).url == reverse("no-workshop")


def test_a_place_is_made_once_even_when_its_form_is_sent_twice(owner_client, workshop):
    form = {"id": uuid.uuid4(), "name": "Paint shop", "kind": "shop", "held_at": "18"}
    for _ in range(2):
        assert owner_client.post(reverse("place-new"), form).status_code == 302
    assert Place.objects.of(workshop).count() == 1
    assert Place.objects.get().pk == form["id"]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": "Yard"}, "There is one with this name already"),
        ({"kind": "yard", "held_at": "18"}, "Only a shop is heated"),
        ({"humidity_ceiling": "140"}, "Must lie between"),
        ({"held_at": "warm"}, "Give a number"),
        ({"kind": "cellar"}, "Select a valid choice"),
    ],
)
def test_a_wrong_place_is_told_at_its_box(owner_client, yard, typed, said):
    page = owner_client.post(reverse("place-new"), {"name": "Paint shop", "kind": "shop", **typed})
    assert said in page.content.decode()
    assert Place.objects.count() == 1


def test_an_id_that_another_workshop_has_does_not_reach_its_row(owner_client, workshop, other_workshop):
    theirs = PlaceFactory(workshop=other_workshop, name="Their yard")
    owner_client.post(reverse("place-new"), {"id": theirs.pk, "name": "My yard", "kind": "yard"})
    theirs.refresh_from_db()
    assert theirs.name == "Their yard"
    assert Place.objects.of(workshop).get().name == "My yard"


def test_a_place_with_readings_stays_and_says_why(owner_client, yard):
    ReadingFactory(place=yard)
    page = owner_client.post(reverse("place-remove", args=[yard.pk]), follow=True)
    assert "stands in the records" in page.content.decode()
    assert Place.objects.filter(pk=yard.pk).exists()


def test_an_unused_place_goes(owner_client, yard):
    owner_client.post(reverse("place-remove", args=[yard.pk]))
    assert not Place.objects.exists()


@pytest.mark.parametrize("name", ["place-edit", "place-remove"])
def test_another_workshop_s_place_is_nowhere(stranger_client, yard, name):
    assert stranger_client.post(reverse(name, args=[yard.pk]), {"name": "Mine", "kind": "yard"}).status_code == 404
    yard.refresh_from_db()
    assert yard.name == "Yard"


def test_another_workshop_s_members_and_links_are_nowhere(stranger_client, owner, workshop):
    theirs = Membership.objects.get(user=owner)
    link = Invitation.objects.create(workshop=workshop)
    assert stranger_client.post(reverse("member-role", args=[theirs.pk]), {"role": "guest"}).status_code == 404
    assert stranger_client.post(reverse("member-remove", args=[theirs.pk])).status_code == 404
    assert stranger_client.post(reverse("invite-withdraw", args=[link.token])).status_code == 404
    assert link.token not in stranger_client.get(reverse("members")).content.decode()


def test_days_off_are_kept_and_refused_backwards(owner_client, workshop):
    wrong = {"first": "2026-08-10", "last": "2026-08-03", "reason": "summer"}
    assert "before the first" in owner_client.post(reverse("day-off-new"), wrong).content.decode()
    owner_client.post(reverse("day-off-new"), {**wrong, "last": "2026-08-16"})
    kept = DayOff.objects.get()
    assert (kept.first, kept.last) == (date(2026, 8, 10), date(2026, 8, 16))
    owner_client.post(reverse("day-off-remove", args=[kept.pk]))
    assert not DayOff.objects.exists()


def test_what_each_role_may_is_read_from_the_rights_themselves(owner_client):
    assert IN_WORDS.keys() == RIGHTS.keys()
    page = owner_client.get(reverse("members"))
    assert "Who may do what" in page.content.decode()
    shown = {words: {str(role) for role, has in holders if has} for words, holders in page.context["rights"]}
    assert shown == {IN_WORDS[right]: {str(role) for role in holders} for right, holders in RIGHTS.items()}
