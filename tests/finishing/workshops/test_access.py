import pytest
from django.urls import reverse

from finishing.workshops.access import RIGHTS, Role
from finishing.workshops.models import Membership, User

pytestmark = pytest.mark.django_db


def test_each_right_belongs_to_whoever_has_the_next_one():
    order = ["settle", "plan", "log", "look"]
    for narrower, wider in zip(order, order[1:], strict=False):
        assert RIGHTS[narrower] < RIGHTS[wider]
    assert RIGHTS["look"] == set(Role)


def test_a_request_has_the_first_workshop_by_name_until_another_is_chosen(client, workshop, other_workshop):
    user = User.objects.create_user("both")
    for each in (workshop, other_workshop):
        Membership.objects.create(workshop=each, user=user, role="guest")
    client.force_login(user)
    assert client.get(reverse("places")).wsgi_request.workshop == other_workshop  # Farther before Hollowfield


def test_a_workshop_left_meanwhile_is_no_longer_open(stranger_client, stranger, workshop, other_workshop):
    mine = Membership.objects.create(workshop=workshop, user=stranger, role="guest")
    stranger_client.post(reverse("choose-workshop"), {"membership": mine.pk})
    mine.delete()
    assert stranger_client.get(reverse("places")).wsgi_request.workshop == other_workshop


def test_times_are_on_the_workshop_s_clock(owner_client, owner, workshop):
    workshop.time_zone = "Asia/Kathmandu"  # 5 h 45 min ahead of UTC
    workshop.save()
    owner_client.post(reverse("invite"), {"role": "guest"})
    link = workshop.invitations.get()
    shown = link.made_at.astimezone(workshop.zone).strftime("%H:%M")
    assert f", {shown}." in owner_client.get(reverse("members")).content.decode()
