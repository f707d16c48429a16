from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse
from django.utils import timezone

from finishing.coatings.models import Coating, System
from finishing.workshops.actions.workshops import first_link
from finishing.workshops.models import Invitation, Membership, Place, User, Workshop
from tests.factories import InvitationFactory, UserFactory

pytestmark = pytest.mark.django_db

ACCOUNT = {
    "first_name": "Ada",
    "username": "ada",
    "password1": "grit and iron",
    "password2": "grit and iron",
}
BEGINNING = {
    "name": "Mill Lane",
    "where": "52,41 N 1.9 W",
}


def begin(client, link, **changed):
    return client.post(reverse("first-start", args=[link.token]), {**ACCOUNT, **BEGINNING, **changed})


def test_the_first_link_makes_an_owner_a_workshop_three_places_and_the_library(client):
    link = first_link()
    answer = begin(client, link)
    assert answer.status_code == 302
    workshop = Workshop.objects.get()
    assert (workshop.latitude, workshop.longitude, workshop.currency) == (52.41, -1.9, "GBP")
    assert Membership.objects.get().role == Membership.Role.OWNER
    assert set(Place.objects.of(workshop).values_list("kind", flat=True)) == {"yard", "roof", "shop"}
    assert Coating.objects.of(workshop).exists()
    assert System.objects.of(workshop).exists()
    assert client.session["_auth_user_id"] == str(User.objects.get().pk)


@pytest.mark.parametrize(
    ("where", "follows"),
    [
        ("Ludlow, England", ("Europe/London", "metric", "GBP")),
        ("Ludlow, Massachusetts", ("America/New_York", "us", "USD")),
        ("47°22' N 8°33' E", ("Europe/Zurich", "metric", "CHF")),
    ],
)
def test_clock_units_and_money_follow_from_where_it_stands(client, where, follows):
    begin(client, first_link(), where=where)
    workshop = Workshop.objects.get()
    assert (workshop.time_zone, workshop.units, workshop.currency) == follows
    assert workshop.placed
    assert workshop.weather_service == "met norway"


def test_where_it_stands_may_be_said_later_and_then_no_forecast_is_asked_for(client):
    begin(client, first_link(), where="", time_zone="America/Chicago")
    workshop = Workshop.objects.get()
    assert (workshop.time_zone, workshop.units, workshop.currency) == ("America/Chicago", "us", "USD")
    assert not workshop.placed
    assert workshop.weather_service == "none"
    shown = client.get(reverse("day-sheet")).content.decode()
    assert "nobody has said where the workshop stands" in shown
    assert reverse("reading-new") in shown


def test_towns_are_proposed_while_somebody_types(client):
    assert "Ludlow, England, United Kingdom" in client.get(reverse("towns"), {"where": "Ludl"}).content.decode()
    assert "option" not in client.get(reverse("towns"), {"where": "x"}).content.decode()


def test_the_first_link_works_once(client):
    link = first_link()
    begin(client, link)
    client.logout()
    assert begin(client, link, username="eve").status_code == 410
    assert not User.objects.filter(username="eve").exists()


def test_a_second_workshop_gets_the_same_library_as_the_first(client):
    begin(client, InvitationFactory())
    client.logout()
    begin(client, InvitationFactory(), username="bea", name="Far Lane")
    first, second = Workshop.objects.order_by("name")
    layers = System.objects.order_by("name", "layers__position").values_list("name", "layers__coating__name")
    names = [list(layers.filter(workshop=each)) for each in (first, second)]
    assert names[0] == names[1]
    assert any(coating for _, coating in names[1])


def test_there_is_no_first_link_once_there_is_a_workshop(workshop):
    assert first_link() is None


def test_the_first_link_stays_the_same_until_it_is_used():
    assert first_link() == first_link()


@pytest.mark.parametrize(
    ("box", "typed", "said"),
    [
        ("where", "91, 5", "no coordinates on earth"),
        ("where", "Far away", "No town of this name"),
        ("where", "Springfield", "Springfield, Missouri, United States"),
        ("password2", "something else", "match"),
        ("name", "", "required"),
    ],
)
def test_a_wrong_box_is_told_at_the_box_and_what_was_typed_stays(client, box, typed, said):
    page = begin(client, first_link(), **{box: typed})
    assert page.status_code == 200
    shown = page.content.decode()
    assert said in shown
    assert 'value="Ada"' in shown
    assert not Workshop.objects.exists()
    assert not User.objects.exists()


def test_a_link_is_good_for_fourteen_days(client, workshop):
    link = Invitation.objects.create(workshop=workshop, role="helper")
    with time_machine.travel(timezone.now() + timedelta(days=15)):
        assert client.get(reverse("join", args=[link.token])).status_code == 410


def test_whoever_joins_has_the_role_of_the_link(client, workshop):
    link = Invitation.objects.create(workshop=workshop, role="helper")
    client.post(reverse("join", args=[link.token]), ACCOUNT)
    assert Membership.objects.of(workshop).get(user__username="ada").role == "helper"
    assert Invitation.objects.get(pk=link.pk).used_at


def test_a_signed_in_person_joins_without_a_new_account(stranger_client, stranger, workshop):
    link = Invitation.objects.create(workshop=workshop, role="guest")
    stranger_client.post(reverse("join", args=[link.token]))
    assert Membership.objects.of(workshop).get(user=stranger).role == "guest"


def test_a_member_who_opens_a_link_keeps_the_role_and_leaves_the_link(owner_client, owner, workshop):
    link = Invitation.objects.create(workshop=workshop, role="guest")
    owner_client.post(reverse("join", args=[link.token]))
    assert Membership.objects.of(workshop).get(user=owner).role == "owner"
    assert Invitation.objects.get(pk=link.pk).used_at is None


def test_a_link_to_join_does_not_begin_a_workshop_nor_the_other_way_round(client, workshop):
    join, first = Invitation.objects.create(workshop=workshop, role="helper"), InvitationFactory()
    assert client.get(reverse("first-start", args=[join.token])).status_code == 410
    assert client.get(reverse("join", args=[first.token])).status_code == 410


def test_a_member_of_two_workshops_chooses_which_is_open(stranger_client, stranger, workshop, other_workshop):
    Membership.objects.create(workshop=workshop, user=stranger, role="guest")
    mine = Membership.objects.get(workshop=workshop, user=stranger)
    stranger_client.post(reverse("choose-workshop"), {"membership": mine.pk})
    assert stranger_client.get(reverse("places")).wsgi_request.workshop == workshop


def test_nobody_chooses_a_workshop_they_are_no_member_of(stranger_client, owner, workshop):
    theirs = Membership.objects.get(workshop=workshop, user=owner)
    assert stranger_client.post(reverse("choose-workshop"), {"membership": theirs.pk}).status_code == 404
    assert stranger_client.post(reverse("choose-workshop"), {"membership": "nonsense"}).status_code == 404


def test_a_person_without_a_workshop_is_told_so(client):
    client.force_login(UserFactory())
    answer = client.get(reverse("places"), follow=True)
    assert "No workshop yet" in answer.content.decode()


def test_a_wrong_password_keeps_the_name(client, owner):
    page = client.post(reverse("sign-in"), {"username": "owner", "password": "wrong"}).content.decode()
    assert "do not belong together" in page
    assert 'value="owner"' in page


def test_a_stranger_is_sent_to_sign_in_and_back(client, workshop):
    assert client.get(reverse("places")).url == f"{reverse('sign-in')}?next={reverse('places')}"


def test_a_changed_password_is_said_and_holds(owner_client, owner):
    owner.set_password("grit and iron")
    owner.save()
    owner_client.force_login(owner)
    new = "bright red lead"
    boxes = {"old_password": "grit and iron", "new_password1": new, "new_password2": new}
    page = owner_client.post(reverse("password"), boxes, follow=True).content.decode()
    assert "Your password is changed." in page
    assert "New password again" in page
    owner.refresh_from_db()
    assert owner.check_password(new)


def test_of_two_who_use_one_link_at_once_the_slower_is_told(client, workshop, monkeypatch):
    """Both pages saw a link that could still be used; one update wins."""
    link = Invitation.objects.create(workshop=workshop, role="helper")
    monkeypatch.setattr("finishing.workshops.views.accounts.usable", lambda token, first: link)
    Invitation.objects.update(used_at=timezone.now())
    address = reverse("join", args=[link.token])
    assert client.post(address, ACCOUNT).status_code == 410
    assert not User.objects.filter(username="ada").exists()
