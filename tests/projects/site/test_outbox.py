"""What a browser that keeps entries is told, and how one that comes late is taken."""

import re
import uuid

import pytest
from django.urls import reverse

from finishing.workshops.models import Membership
from projects.record.models import Step
from tests.projects.work.views.test_log import _at_ten, fine, form, rack  # noqa: F401  # two bare pieces, ten o'clock

pytestmark = pytest.mark.django_db
SCRIPT = {"HTTP_X_OUTBOX": "1"}


def test_a_form_sent_by_the_script_is_told_where_to_go_and_its_message_waits_there(helper_client, rack):  # noqa: F811
    answer = helper_client.post(reverse("log"), fine(rack), **SCRIPT)
    assert (answer.status_code, answer.json()) == (200, {"to": reverse("day-sheet")})
    assert "Logged: coated" in helper_client.get(answer.json()["to"]).content.decode()


def test_what_is_wrong_comes_back_as_the_page(helper_client, rack):  # noqa: F811
    answer = helper_client.post(reverse("log"), fine(rack, humidity="170"), **SCRIPT)
    assert answer.status_code == 422
    assert "Must lie between" in answer.content.decode()


def test_the_script_knows_whose_entries_it_keeps(helper_client, rack):  # noqa: F811
    helper_client.get(reverse("log"))
    own = Membership.objects.get(workshop=rack[0].workshop, user__username="helper")
    assert helper_client.cookies["member"].value == str(own.pk)


def test_an_entry_that_comes_late_is_judged_for_its_moment_and_needs_no_reason(helper_client, rack):  # noqa: F811
    damp = fine(rack, humidity="95", happened_at="2026-05-12T09:40")
    assert helper_client.post(reverse("log"), damp).status_code == 422
    helper_client.post(reverse("log"), {**damp, "late": "1"}, **SCRIPT)
    steps = Step.objects.filter(kind="coated")
    assert {(step.verdict, step.reason) for step in steps} == {("outside", "logged without signal")}


def test_an_entry_that_had_arrived_is_not_judged_again(helper_client, rack):  # noqa: F811
    """The second coat of the same form would be too soon over the first."""
    first = fine(rack)
    for _ in range(3):
        assert helper_client.post(reverse("log"), first, **SCRIPT).json() == {"to": reverse("day-sheet")}
    assert Step.objects.filter(kind="coated").count() == 2


def test_the_form_for_the_yard_is_for_those_who_log(helper_client, guest_client):
    shown = helper_client.get(reverse("log-yard"))
    offered = re.findall('option value="([^"]+)"', shown.content.decode())
    assert [*shown.context["kinds"]] == [Step.Kind(value) for value in offered]
    assert "max-age" in shown["Cache-Control"]
    assert guest_client.get(reverse("log-yard")).status_code == 403


def test_another_workshops_key_opens_nothing_here(helper_client, stranger_client, rack):  # noqa: F811
    sent = form(rack, key=str(uuid.uuid4()))
    helper_client.post(reverse("log"), sent)
    assert stranger_client.post(reverse("log"), sent, **SCRIPT).status_code == 422
