"""Own rates are offered with old and new, and taken only by an owner who asks for it."""

import pytest
from django.urls import reverse

from finishing.coatings.models import Layer
from finishing.workshops.models import Workshop
from tests import cost_factories, factories
from tests.projects.worked import brushed_frame, coated_together, two_pieces, worked

pytestmark = pytest.mark.django_db


@pytest.fixture
def logged(owner, workshop):
    pieces = two_pieces(brushed_frame(workshop))
    for at, minutes in enumerate((28, 30, 31.5, 33, 40)):
        coated_together(pieces, owner, at, minutes)


def page(client, **asked):
    response = client.get(reverse("own-rates"), asked)
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def take(client, name="brush_minutes", **typed):
    return client.post(reverse("own-rate-take", args=[name]), {"learned": "31.5", "now": "25.0", **typed}, follow=True)


def brush(workshop):
    return Workshop.objects.get(pk=workshop.pk).brush_minutes.magnitude


def test_old_and_new_stand_on_the_button(owner_client, logged):
    shown = page(owner_client)
    assert "Reckon with 31.5 min/m², not 25 min/m²" in shown
    assert "30 to 33 min/m²" in shown


def test_looking_changes_nothing(owner_client, logged, workshop):
    page(owner_client)
    assert brush(workshop) == 25


def test_nothing_logged_is_said(owner_client, workshop):
    assert "Nothing logged with a time; 5 more are needed" in page(owner_client)


def test_it_is_taken_with_the_coats_that_plans_read(owner_client, logged, workshop):
    take(owner_client, layers="on")
    assert brush(workshop) == 31.5
    assert Layer.objects.get().minutes.magnitude == 31.5


def test_the_coats_stay_as_they_are_where_that_is_wanted(owner_client, logged, workshop):
    take(owner_client)
    assert (brush(workshop), Layer.objects.get().minutes.magnitude) == (31.5, 20)


@pytest.mark.parametrize("typed", [{"learned": "12"}, {"learned": "NaN"}, {"now": "1e400"}, {"learned": ""}])
def test_a_figure_that_is_not_the_logs_is_not_taken(owner_client, logged, workshop, typed):
    assert "nothing was changed" in take(owner_client, **typed).content.decode()
    assert brush(workshop) == 25


def test_there_is_no_such_rate(owner_client, logged):
    assert take(owner_client, name="wage").status_code == 404


def test_the_mixing_in_the_log_is_a_question(owner_client, logged):
    assert "mixing and cleaning up taken out of each" in page(owner_client, mixing_in="on")
    assert "taken as brushing alone" in page(owner_client)


def test_who_may_look_and_who_may_take(owner_client, restorer_client, helper_client, guest_client, logged, workshop):
    assert "An owner may take it" in page(restorer_client)
    address = reverse("own-rates")
    assert [client.get(address).status_code for client in (helper_client, guest_client)] == [403, 403]
    assert take(restorer_client).status_code == 403
    assert owner_client.get(reverse("own-rate-take", args=["brush_minutes"])).status_code == 405
    assert brush(workshop) == 25


@pytest.fixture
def fettling(owner, workshop):
    """Five pieces fettled in 40 to 60 min each, where 30 are reckoned."""
    frame = brushed_frame(workshop)
    pieces = two_pieces(frame)
    row = cost_factories.OperationFactory(part=frame, process="fettling", each_minutes=30)
    for day, minutes in enumerate((40, 44, 45, 46, 60)):
        piece = factories.PieceFactory(part=frame, project=pieces[0].project, mark=f"N-{day}")
        worked([piece], "fettling", minutes, by=owner, day=day)
    return row


def test_minutes_of_a_route_are_offered_and_taken_by_a_press(owner_client, fettling):
    shown = page(owner_client)
    assert "Reckon with 45 min, not 30 min" in shown
    assert "does not tell set-up and cycle apart" in shown
    fettling.refresh_from_db()
    assert fettling.each_minutes.magnitude == 30
    take(owner_client, name=str(fettling.pk), learned="45.0", now="30.0")
    fettling.refresh_from_db()
    assert (fettling.each_minutes.magnitude, fettling.basis) == (45, "own log, the middle one of 5 entries")


def test_minutes_of_another_workshops_route_are_not_there(stranger_client, fettling):
    assert take(stranger_client, name=str(fettling.pk), learned="45.0", now="30.0").status_code == 404
