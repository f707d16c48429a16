"""A visit's pages: prepared, its pieces chosen, its tasks ticked; what cannot be is told at its box."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from finishing.library.actions import load_library
from finishing.media.models import Medium
from projects.record.models import Visit, VisitPiece, VisitTask
from projects.visits import actions
from projects.visits.forms import VisitForm, VisitPieceForm
from tests import factories
from tests.finishing.calculators.views.rough import rough_answers

pytestmark = pytest.mark.django_db
TEN = datetime(2026, 5, 11, 9, tzinfo=UTC)  # a Monday, the day before the visit


@pytest.fixture(autouse=True)
def _on_the_day_before():
    with time_machine.travel(TEN, tick=False):
        yield


@pytest.fixture
def pieces(workshop, roof, system):
    """Two to be blasted, one that is primed."""
    load_library(workshop)
    factories.steady_forecast(workshop, TEN - timedelta(days=3))
    design = factories.DesignFactory(workshop=workshop)
    project = factories.ProjectFactory(design=design, name="Press restored")
    made = [
        factories.PieceFactory(
            part=factories.PartFactory(design=design, system=system, name=f"frame {mark}"),
            project=project,
            place=roof,
            mark=mark,
        )
        for mark in ("F-01", "F-02", "F-03")
    ]
    factories.StepFactory(piece=made[2], kind="blasted", happened_at=TEN - timedelta(days=2))
    return made


@pytest.fixture
def visit(workshop, pieces):
    visit = factories.VisitFactory.build(workshop=workshop)
    actions.prepare_visit(visit)
    visit.refresh_from_db()
    actions.choose_pieces(visit, pieces[:2])
    return visit


def typed(**changes):
    return {
        "date": "2026-05-12", "begins": "08:00", "ends": "16:00", "contractor": "Grit Brothers", "call_out": "60",
        "travel": "30,50", "rate": "90", "free_until": "48", "cancel_share": "50", "nozzle_bore": "6",
        "hose_bore": "25", "most_pressure": "7", "free_air": "2.6", "lead": "not tested", "brings": "rig", "waste": "",
        **changes,
    }  # fmt: skip


def page(client, name, *args):
    return " ".join(client.get(reverse(name, args=args)).content.decode().split())


def test_an_empty_list_says_what_a_visit_is(guest_client, workshop):
    assert "A visit is a blasting contractor's day" in page(guest_client, "visits")


def test_a_visit_is_prepared_and_asks_for_its_pieces(restorer_client, pieces):
    response = restorer_client.post(reverse("visit-new"), typed())
    made = Visit.objects.get()
    assert response.url == reverse("visit-pieces", args=[made.pk])
    assert (made.date, made.travel, made.nozzle_bore.magnitude) == (date(2026, 5, 12), Decimal("30.50"), 6)
    assert made.tasks.exists()


def test_the_same_form_twice_is_one_visit(restorer_client, pieces):
    form = restorer_client.get(reverse("visit-new")).context["form"]
    for _ in range(2):
        restorer_client.post(reverse("visit-new"), typed(id=form["id"].value()))
    assert Visit.objects.count() == 1


def test_the_next_visit_begins_with_the_last_ones_contractor(restorer_client, visit):
    first = restorer_client.get(reverse("visit-new")).context["form"]
    assert first["contractor"].value() == "Grit Brothers"
    assert first["date"].value() is None


def test_only_who_plans_prepares(helper_client, guest_client, visit):
    for client in (helper_client, guest_client):
        for name, args in (("visit-new", []), ("visit-edit", [visit.pk]), ("visit-pieces", [visit.pk])):
            assert client.get(reverse(name, args=args)).status_code == 403


@pytest.mark.parametrize(
    ("box", "wrong", "told"),
    [
        ("ends", "07:30", "when the visit begins"),
        ("ends", "08:00", "when the visit begins"),
        ("nozzle_bore", "6 bar", "measures something else"),
        ("nozzle_bore", "", "required"),
        ("rate", "-5", "not negative"),
        ("rate", "much", "is not understood"),
        ("cancel_share", "150", "At most the whole"),
        ("date", "2026-02-30", "valid date"),
        ("most_pressure", "200", "Must lie between 1 bar and 20 bar"),
    ],
)
def test_what_cannot_be_is_told_at_its_box_and_stays_typed(restorer_client, pieces, box, wrong, told):
    response = restorer_client.post(reverse("visit-new"), typed(**{box: wrong}))
    form = response.context["form"]
    assert list(form.errors) == [box]
    assert told in str(form.errors[box])
    assert form[box].value() == wrong
    assert 'value="Grit Brothers"' in response.content.decode()
    assert not Visit.objects.exists()


def test_a_nozzle_wider_than_its_hose_is_told_at_the_nozzle(restorer_client, pieces):
    form = restorer_client.post(reverse("visit-new"), typed(nozzle_bore="13", hose_bore="12,7")).context["form"]
    assert form.errors == {
        "nozzle_bore": ["The nozzle of 13 mm is as wide as the hose of 12.7 mm or wider: the hose would be the nozzle."]
    }
    assert (form["nozzle_bore"].value(), form["hose_bore"].value()) == ("13", "12,7")


def test_a_us_workshop_types_inches_and_psi(restorer_client, pieces, workshop):
    workshop.units = "us"
    workshop.save()
    restorer_client.post(
        reverse("visit-new"),
        typed(nozzle_bore="0.25 in", hose_bore="1", most_pressure="100"),
    )
    made = Visit.objects.get()
    assert made.nozzle_bore.magnitude == pytest.approx(6.35, abs=0.01)
    assert made.most_pressure.magnitude == pytest.approx(6.89, abs=0.01)


def test_pieces_to_be_blasted_are_offered_and_no_others(restorer_client, visit):
    shown = page(restorer_client, "visit-pieces", visit.pk)
    assert "F-01" in shown
    assert "F-02" in shown
    assert "F-03" not in shown


def test_ticked_pieces_come_on_the_visit_with_what_is_advised(restorer_client, visit, pieces):
    chosen = {"pieces": [pieces[0].pk], "medium": "", "grade": "Sa 2½"}
    assert restorer_client.post(reverse("visit-pieces", args=[visit.pk]), chosen).status_code == 302
    row = visit.pieces.get()
    assert (row.piece, row.medium.kind) == (pieces[0], "crushed glass")


def test_sand_is_refused_at_the_medium_with_the_reason(restorer_client, visit, pieces, workshop):
    sand = Medium.objects.of(workshop).get(library_key="silica-sand")
    response = restorer_client.post(
        reverse("visit-pieces", args=[visit.pk]), {"pieces": [pieces[0].pk], "medium": sand.pk, "grade": "Sa 2½"}
    )
    assert response.status_code == 422
    assert "Sand is never blasted with" in str(response.context["form"].errors["medium"])
    assert response.context["form"].ticked == {str(pieces[0].pk)}


def test_a_medium_without_density_is_refused_at_the_medium(restorer_client, visit, pieces, workshop):
    bag = factories.MediumFactory(workshop=workshop, bulk_density=None)
    chosen = {"pieces": [pieces[0].pk], "medium": bag.pk, "grade": "Sa 2½"}
    response = restorer_client.post(reverse("visit-pieces", args=[visit.pk]), chosen)
    assert "Without its bulk density" in str(response.context["form"].errors["medium"])


def of_a_piece(row, **changes):
    return {
        "medium": row.medium_id, "surface": row.surface, "shape": row.shape, "grade": row.grade, "pressure_start": "2",
        "pressure_most": "5", "mask_how": "tape", "minutes": "", "position": "", **changes,
    }  # fmt: skip


def test_a_piece_is_changed(restorer_client, visit):
    row = visit.pieces.first()
    restorer_client.post(reverse("visit-piece", args=[row.pk]), of_a_piece(row, minutes="1 h", pressure_most="4,5"))
    row.refresh_from_db()
    assert (row.mask_how, row.minutes.magnitude, row.pressure_most.magnitude) == ("tape", 60, 4.5)


@pytest.mark.parametrize(
    ("box", "wrong", "told"),
    [
        ("pressure_most", "7", "the pot needs 7.65 bar, and the rig gives 7 bar"),
        ("pressure_most", "1.5", "below the pressure to start at"),
        ("pressure_most", "20", "Must lie between"),
        ("pressure_start", "soft", "Give a number"),
        ("minutes", "-3", "Must lie between"),
        ("surface", "moss", "not one of the available choices"),
    ],
)
def test_what_a_piece_cannot_get_is_told_at_its_box(restorer_client, visit, box, wrong, told):
    row = visit.pieces.first()
    form = restorer_client.post(reverse("visit-piece", args=[row.pk]), of_a_piece(row, **{box: wrong})).context["form"]
    assert list(form.errors) == [box]
    assert told in str(form.errors[box])
    assert form["mask_how"].value() == "tape"


def test_the_piece_s_page_advises_for_its_metal(restorer_client, visit):
    shown = page(restorer_client, "visit-piece", visit.pieces.first().pk)
    assert "Advice for grey iron" in shown
    assert "2.25 to 2.5 bar" not in shown
    assert "A test patch first" in shown


def test_a_task_is_ticked_and_unticked(helper_client, visit):
    task = visit.tasks.first()
    helper_client.post(reverse("visit-task-tick", args=[task.pk]), {"done": "1"})
    assert VisitTask.objects.get(pk=task.pk).done_at == TEN
    response = helper_client.post(reverse("visit-task-tick", args=[task.pk]), {"run": "1"})
    assert VisitTask.objects.get(pk=task.pk).done_at is None
    assert response.url == reverse("visit-run", args=[visit.pk])


def test_tasks_are_typed_row_by_row(restorer_client, visit):
    sent = {"tasks-TOTAL_FORMS": "2", "tasks-INITIAL_FORMS": "0"}
    for number, (what, minutes) in enumerate((("Plug and mask", "2 h"), ("", ""))):
        row = {"task": "", "phase": "before", "what": what, "minutes": minutes, "people": "2"}
        sent |= {f"tasks-{number}-{name}": value for name, value in row.items()}
    assert restorer_client.post(reverse("visit-tasks", args=[visit.pk]), sent).status_code == 302
    (task,) = visit.tasks.all()
    assert (task.what, task.minutes.magnitude) == ("Plug and mask", 120)
    wrong = restorer_client.post(reverse("visit-tasks", args=[visit.pk]), {**sent, "tasks-0-people": "0"})
    assert "At least one." in wrong.content.decode()
    assert 'value="Plug and mask"' in wrong.content.decode()


def test_the_visit_tells_money_terms_and_cautions(helper_client, visit):
    VisitPiece.objects.update(minutes=30)
    shown = page(helper_client, "visit", visit.pk)
    assert "180.00 GBP" in shown  # 60 + 30 + 90 · 1 h
    assert "now 50&nbsp;%, which is 90.00 GBP" in shown
    for title in ("Blasting dust", "Air to breathe", "Solvent vapour"):
        assert title in shown
    assert "Local law, the data sheet and licensed people decide" in shown


def test_a_visit_is_cancelled_and_stays_to_be_read(restorer_client, guest_client, visit):
    assert guest_client.post(reverse("visit-cancel", args=[visit.pk])).status_code == 403
    restorer_client.post(reverse("visit-cancel", args=[visit.pk]))
    assert "<b>Cancelled</b>" in page(guest_client, "visit", visit.pk)
    assert "cancelled" in page(guest_client, "visits")


def test_the_days_sheet_and_the_project_lead_to_a_visit(restorer_client, guest_client, visit):
    assert reverse("visit-new") in page(restorer_client, "day-sheet")
    assert reverse("visit", args=[visit.pk]) in page(guest_client, "day-sheet")
    assert reverse("visits") in page(guest_client, "project", visit.pieces.first().piece.project_id)


def test_a_piece_shows_what_it_bears(helper_client, visit):
    VisitPiece.objects.update(minutes=30)
    shown = page(helper_client, "piece", visit.pieces.first().piece_id)
    assert "Grit Brothers" in shown
    assert "90.00 GBP" in shown


def test_nothing_of_another_workshop_may_be_put_on_it(restorer_client, visit, other_workshop):
    bag = factories.MediumFactory(workshop=other_workshop)
    far = factories.PieceFactory(part__design__workshop=other_workshop)
    chosen = {"pieces": [far.pk], "medium": bag.pk, "grade": "Sa 2½"}
    form = restorer_client.post(reverse("visit-pieces", args=[visit.pk]), chosen).context["form"]
    assert set(form.errors) == {"pieces", "medium"}


def test_rough_input_is_never_an_error_of_ours(restorer_client, visit):
    row = visit.pieces.first()
    for sent in rough_answers(VisitForm.Meta.fields, 25, seed=3, usual=typed()):
        assert restorer_client.post(reverse("visit-new"), sent).status_code in {200, 302}
    for sent in rough_answers(VisitPieceForm.Meta.fields, 25, seed=5, usual=of_a_piece(row)):
        assert restorer_client.post(reverse("visit-piece", args=[row.pk]), sent).status_code in {200, 302}
        assert restorer_client.get(reverse("blast-sheet", args=[visit.pk])).status_code == 200
