"""Every address that names a row × every method × every role of another workshop, and nobody signed in."""

import pytest
from django.test import Client
from django.urls import reverse

from finishing.workshops.models import Membership
from tests import factories
from tests.addresses import names_a_row, nothing_kept, pages
from tests.smuggling import KINDS, OWNERS_OWN, forms_on, pressed_by, rows_to_steal, smuggle

pytestmark = pytest.mark.django_db
EACH = 6  # foreign keys of different kinds in each box
METHODS = ("get", "head", "options", "post", "put", "patch", "delete")


def test_walls_let_nobody_through(other_workshop, tried):
    visitors = [Client()]
    for role in Membership.Role:
        member = factories.MembershipFactory(workshop=other_workshop, user__username=f"other {role}", role=role)
        visitors.append(Client())
        visitors[-1].force_login(member.user)
    addresses = [here for name, rows in tried.items() if names_a_row(name) for here in pages(name, rows)]
    asked, leaks = 0, []
    for visitor in visitors:
        with nothing_kept(visitor):
            for here in addresses:
                for method in METHODS:
                    answer = getattr(visitor, method)(here)
                    asked += 1
                    if not refused(answer):
                        leaks.append((here, method, answer.status_code))
    print(f"\nfigure walls.urls {asked} urls")
    print(f"figure walls.leaks {len(leaks)} leaks")
    assert not leaks


def refused(answer):
    """There is no such thing, not so, not you, or sign in first."""
    asked_to_sign_in = answer.status_code == 302 and answer.url.startswith(reverse("sign-in"))
    return answer.status_code in {403, 404, 405} or asked_to_sign_in


def test_walls_take_no_smuggled_key_and_no_role_does_more_than_it_may(
    owner_client, restorer_client, helper_client, guest_client, other_workshop, tried
):
    stolen = rows_to_steal(other_workshop)
    forms = forms_on(owner_client, tried)
    smuggled = smuggle(owner_client, forms, stolen, each=EACH)
    pressed = [
        pressed_by(guest_client, forms, [*OWNERS_OWN, *KINDS], "guest"),
        pressed_by(helper_client, forms, OWNERS_OWN, "helper"),
        pressed_by(restorer_client, forms, OWNERS_OWN, "restorer"),
    ]
    leaks = [*smuggled.leaks, *(leak for presser in pressed for leak in presser.leaks)]
    print(f"\nfigure walls.smuggled {smuggled.sent} keys")
    print(f"figure walls.pressed {sum(presser.sent for presser in pressed)} forms")
    print(f"figure walls.smuggled_leaks {len(leaks)} leaks")
    for leak in leaks:
        print(leak)
    assert not leaks
