"""The day of a visit on a phone: the sheet, what was blasted, what was not, and what it cost."""

import uuid
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from finishing.library.actions import load_library
from projects.record.models import Step, Visit, VisitPiece
from projects.visits import actions
from tests import factories

pytestmark = pytest.mark.django_db
TEN = datetime(2026, 5, 12, 9, tzinfo=UTC)  # the day of the visit, ten o'clock on the workshop's clock


@pytest.fixture(autouse=True)
def _at_ten():
    with time_machine.travel(TEN, tick=False):
        yield


@pytest.fixture
def visit(workshop, roof, system):
    load_library(workshop)
    design = factories.DesignFactory(workshop=workshop)
    project = factories.ProjectFactory(design=design)
    for mark, area in (("F-01", 0.6), ("F-02", 0.3)):
        part = factories.PartFactory(design=design, system=system, area=area, mask="journals", name=f"frame {mark}")
        factories.PieceFactory(part=part, project=project, place=roof, mark=mark)
    visit = factories.VisitFactory.build(workshop=workshop)
    actions.prepare_visit(visit)
    visit.refresh_from_db()
    actions.choose_pieces(visit, project.pieces.with_log())
    return visit


@pytest.fixture
def fine_air(workshop):
    factories.steady_forecast(workshop, TEN - timedelta(days=3))


@pytest.fixture
def damp_air(workshop):
    """15 °C and 90 %: the dew point lies 1.6 °C below (published table: 13.4 °C)."""
    factories.steady_forecast(workshop, TEN - timedelta(days=3), temperature=15, humidity=90)


def row(visit, mark):
    return visit.pieces.in_full().get(piece__mark=mark)


def page(client, name, *args):
    response = client.get(reverse(name, args=args))
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def blast(client, visit, mark, **facts):
    """As the run's button leads to it: the log's form for one piece, with the visit to come back to."""
    piece = row(visit, mark).piece
    sent = {"key": str(uuid.uuid4()), "kind": "blasted", "happened_at": "2026-05-12T10:00", "pieces": [piece.pk]}
    return client.post(reverse("log"), {**sent, "visit": visit.pk, "place": piece.place_id, **facts})


def test_the_sheet_says_all_that_a_piece_gets(guest_client, visit, fine_air):
    shown = page(guest_client, "blast-sheet", visit.pk)
    for words in ("journals", "Crushed glass, medium", "Sa 2½", "start 2 bar", "not above 6.3 bar", "40 to 65 µm"):
        assert words in shown
    assert shown.index("F-01") < shown.index("F-02")  # the larger one first
    assert "How it was worked out" in shown
    assert "Blasting dust" in shown


def test_the_sheet_names_what_it_leaves_out_and_where_to_mend_it(restorer_client, guest_client, visit, fine_air):
    part = row(visit, "F-02").piece.part
    part.area = None
    part.save()
    shown = page(restorer_client, "blast-sheet", visit.pk)
    assert "Left out of the sheet" in shown
    assert reverse("part-edit", args=[part.pk]) in shown
    assert reverse("part-edit", args=[part.pk]) not in page(guest_client, "blast-sheet", visit.pk)


def test_a_sheet_without_pieces_says_what_to_do(restorer_client, visit):
    visit.pieces.all().delete()
    assert "Choose pieces to be blasted" in page(restorer_client, "blast-sheet", visit.pk)


def test_a_piece_blasted_comes_back_to_the_run(helper_client, visit, fine_air):
    shown = page(helper_client, "visit-run", visit.pk)
    assert 'Waiting <span class="pale number">2</span>' in shown
    seen = {"air_temperature": "20", "humidity": "55", "surface_temperature": "19", "minutes": "25"}
    response = blast(helper_client, visit, "F-01", **seen)
    assert response.url == reverse("visit-run", args=[visit.pk])
    step = Step.objects.get()
    assert (step.kind, step.verdict, step.minutes.magnitude) == ("blasted", "inside", 25)
    shown = page(helper_client, "visit-run", visit.pk)
    assert "Since 10:00, 25 min. Conditions inside the sheet." in shown


def test_the_same_tap_twice_is_one_entry(helper_client, visit, fine_air):
    key = str(uuid.uuid4())
    for _ in range(2):
        blast(helper_client, visit, "F-01", key=key)
    assert Step.objects.count() == 1


def test_the_logs_page_keeps_the_visit_and_asks_for_the_time(helper_client, visit, fine_air):
    visit.wet = True
    visit.save()
    piece = row(visit, "F-01").piece
    response = helper_client.get(reverse("log"), {"piece": piece.pk, "kind": "blasted", "visit": visit.pk})
    shown = response.content.decode()
    assert f'name="visit" value="{visit.pk}"' in shown
    assert response.context["form"]["wet_work"].value() is True
    assert response.context["work_open"]
    wrong = blast(helper_client, visit, "F-01", humidity="soaking")
    assert wrong.status_code == 422
    assert f'name="visit" value="{visit.pk}"' in wrong.content.decode()


def test_another_workshops_visit_leads_nowhere(stranger_client, visit, other_workshop):
    piece = factories.PieceFactory(part__design__workshop=other_workshop)
    response = stranger_client.get(reverse("log"), {"piece": piece.pk, "kind": "blasted", "visit": visit.pk})
    assert response.context["visit"] is None


def test_cold_metal_is_proposed_to_be_left(helper_client, visit, damp_air):
    shown = page(helper_client, "visit-run", visit.pk)
    assert "<b>Not now:</b> cold: metal 15 °C, only 1.6 °C above the dew point" in shown
    form = helper_client.get(reverse("visit-refused", args=[row(visit, "F-01").pk])).context["form"]
    assert form["reason"].value() == "cold: metal 15 °C, only 1.6 °C above the dew point"


def test_in_fine_air_nothing_is_proposed(helper_client, visit, fine_air):
    assert "Not now" not in page(helper_client, "visit-run", visit.pk)
    form = helper_client.get(reverse("visit-refused", args=[row(visit, "F-01").pk])).context["form"]
    assert not form["reason"].value()


def test_unknown_air_says_so(helper_client, visit):
    assert "Its metal is not known: measure it" in page(helper_client, "visit-run", visit.pk)


def test_a_refusal_stands_with_its_reason_on_the_run_and_in_the_log(helper_client, visit, damp_air):
    here = reverse("visit-refused", args=[row(visit, "F-01").pk])
    sent = {"key": str(uuid.uuid4()), "reason": "it sweated", "surface_temperature": "13"}
    assert helper_client.post(here, sent).url == reverse("visit-run", args=[visit.pk])
    assert "<b>Not blasted:</b> it sweated." in page(helper_client, "visit-run", visit.pk)
    step = Step.objects.get()
    assert (step.kind, step.surface_temperature.magnitude) == ("noted", 13)
    helper_client.post(reverse("visit-wait", args=[row(visit, "F-01").pk]))
    assert row(visit, "F-01").state == VisitPiece.State.WAITING


@pytest.mark.parametrize(
    ("box", "typed", "told"),
    [("reason", "", "Say why it is not blasted"), ("surface_temperature", "cold", "Give a number")],
)
def test_a_refusal_without_a_reason_is_none(helper_client, visit, fine_air, box, typed, told):
    sent = {"key": str(uuid.uuid4()), "reason": "rain", box: typed}
    response = helper_client.post(reverse("visit-refused", args=[row(visit, "F-01").pk]), sent)
    assert response.status_code == 422
    assert told in str(response.context["form"].errors[box])
    assert not Step.objects.exists()


def test_a_guest_looks_at_the_sheet_and_runs_nothing(guest_client, visit, fine_air):
    for name in ("visit-run", "visit-settle"):
        assert guest_client.get(reverse(name, args=[visit.pk])).status_code == 403


def settled(visit, **changes):
    glass = row(visit, "F-01").medium
    return {"hours": "2", "paid": "270", f"used-{glass.pk}": "60", **changes}


def test_only_the_owner_settles(owner_client, restorer_client, visit, fine_air):
    blast(owner_client, visit, "F-01", minutes="80")
    blast(owner_client, visit, "F-02")
    assert restorer_client.post(reverse("visit-settle", args=[visit.pk]), settled(visit)).status_code == 403
    assert owner_client.post(reverse("visit-settle", args=[visit.pk]), settled(visit)).status_code == 302
    assert Visit.objects.get().paid == Decimal("270.00")
    shown = page(owner_client, "visit", visit.pk)
    assert "180.00" in shown  # 80 of 120 minutes
    assert "90.00" in shown
    assert "What each piece bears" in shown


def test_minutes_are_asked_only_of_what_has_none(owner_client, visit, fine_air):
    blast(owner_client, visit, "F-01", minutes="80")
    blast(owner_client, visit, "F-02")
    form = owner_client.get(reverse("visit-settle", args=[visit.pk])).context["form"]
    assert [box.name for box in form.minutes_boxes] == [f"minutes-{row(visit, 'F-02').pk}"]


@pytest.mark.parametrize(
    ("box", "typed", "told"),
    [
        ("hours", "", "required"),
        ("hours", "1", "The pieces alone took 80 minutes, and this is 60."),
        ("hours", "a day", "Give a number"),
        ("paid", "-1", "greater than or equal to 0"),
        ("paid", "free", "is not understood"),
    ],
)
def test_what_cannot_be_settled_is_told_at_its_box(owner_client, visit, fine_air, box, typed, told):
    blast(owner_client, visit, "F-01", minutes="80")
    response = owner_client.post(reverse("visit-settle", args=[visit.pk]), settled(visit, **{box: typed}))
    assert response.status_code == 422
    assert told in str(response.context["form"].errors[box])
    assert response.context["form"]["hours"].value() == (typed if box == "hours" else "2")
    assert Visit.objects.get().settled_at is None


def test_own_figures_are_told_with_what_they_still_lack(owner_client, visit, fine_air):
    blast(owner_client, visit, "F-01", minutes="20")
    assert "4 more timed pieces until your own rate" in page(owner_client, "visit-settle", visit.pk)


def test_a_day_on_which_nothing_was_blasted_is_told(owner_client, visit, fine_air):
    assert "so the cost falls on none" in page(owner_client, "visit-settle", visit.pk)
