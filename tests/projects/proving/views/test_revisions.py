"""The next revision of a part: its label proposed, its reason from the check that failed, its cost kept."""

import uuid
from datetime import date
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from projects.record.models import Expense, Revision
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def part(workshop):
    return factories.PartFactory(design__workshop=workshop, name="Frame")


def typed(**more):
    first = {"id": str(uuid.uuid4()), "label": "B", "reason": "thicker web", "made_on": "2026-03-01"}
    return {**first, "cost": "", "minutes": "", **more}


def page_of(client, name, row, query=""):
    return client.get(reverse(name, args=[row.pk]) + query).content.decode()


def test_the_label_that_comes_next_is_proposed(restorer_client, part):
    assert 'name="label" value="A"' in page_of(restorer_client, "revision-new", part)
    for label in "AB":
        cost_factories.RevisionFactory(part=part, label=label)
    assert 'name="label" value="C"' in page_of(restorer_client, "revision-new", part)


def test_its_cost_is_kept_with_it_once(restorer_client, part):
    form = typed(cost="180,50", minutes="1 h")
    for _ in range(2):
        response = restorer_client.post(reverse("revision-new", args=[part.pk]), form)
    assert response.url == reverse("part", args=[part.pk])
    expense = Expense.objects.get()
    assert (expense.amount, expense.minutes.to("minute").magnitude) == (Decimal("180.50"), 60)
    assert (expense.revision, expense.what) == (Revision.objects.get(), "thicker web")
    assert expense.spent_on == date(2026, 3, 1)
    assert "180.50" in page_of(restorer_client, "part", part)


def test_a_change_that_cost_nothing_leaves_no_expense(restorer_client, part):
    restorer_client.post(reverse("revision-new", args=[part.pk]), typed(cost="0", minutes="0"))
    assert Revision.objects.exists()
    assert not Expense.objects.exists()


def test_a_failed_check_writes_the_reason_and_leads_back_to_its_machine(restorer_client, part):
    trial = cost_factories.TrialFactory(
        check_done__part=part, check_done__what="bore in line", passed=False, measured="0.4 mm",
        machine__project__design=part.design, machine__number="7",
    )  # fmt: skip
    query = f"?trial={trial.pk}"
    page = page_of(restorer_client, "revision-new", part, query)
    assert 'value="bore in line failed on machine 7: 0.4 mm"' in page
    response = restorer_client.post(reverse("revision-new", args=[part.pk]) + query, typed())
    assert response.url == reverse("machine", args=[trial.machine_id])


def test_a_reason_as_long_as_check_and_note_allow_still_fits(restorer_client, part):
    trial = cost_factories.TrialFactory(
        check_done__part=part, check_done__what="w" * 200, passed=False, measured="m" * 100, note="n" * 300,
        machine__project__design=part.design,
    )  # fmt: skip
    page = page_of(restorer_client, "revision-new", part, f"?trial={trial.pk}")
    assert f'value="{"w" * 200}"' in page


def test_a_drawing_is_kept_under_its_own_name_and_may_be_given_later(restorer_client, part, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    restorer_client.post(reverse("revision-new", args=[part.pk]), typed())
    revision = Revision.objects.get()
    drawing = SimpleUploadedFile("frame B.dxf", b"0\nSECTION")
    sent = {"label": "B", "reason": "thicker web and foot", "made_on": "2026-03-02", "drawing": drawing}
    response = restorer_client.post(reverse("revision-edit", args=[revision.pk]), sent)
    assert response.url == reverse("part", args=[part.pk])
    revision.refresh_from_db()
    assert (revision.drawing_name, revision.made_on) == ("frame B.dxf", date(2026, 3, 2))
    assert reverse("paper", args=["revision", revision.pk]) in page_of(restorer_client, "part", part)


@pytest.mark.parametrize(
    ("box", "value", "words"),
    [
        ("label", "", "required"),
        ("label", "x" * 21, "at most 20"),
        ("reason", "x" * 201, "at most 200"),
        ("made_on", "lately", "valid date"),
        ("cost", "-1", "not negative"),
        ("cost", "much", "is not understood"),
        ("cost", "NaN", "is not understood"),
        ("cost", "1e400", "is not understood"),
        ("minutes", "-1", "Must lie between"),
        ("minutes", "long", "Give a number"),
    ],
)
def test_what_cannot_be_is_told_at_the_field_and_stays_typed(restorer_client, part, box, value, words):
    response = restorer_client.post(reverse("revision-new", args=[part.pk]), typed(**{box: value}))
    assert response.status_code == 422
    page = response.content.decode()
    assert words in page
    assert value in page
    assert not Revision.objects.exists()


def test_a_drawing_too_big_is_refused(restorer_client, part, monkeypatch):
    monkeypatch.setattr("projects.site.forms.papers.PaperField.largest", 1)
    big = SimpleUploadedFile("frame.step", b"x" * (1024**2 + 1))
    response = restorer_client.post(reverse("revision-new", args=[part.pk]), typed(drawing=big))
    assert "larger than 1 MB" in response.content.decode()
    assert not Revision.objects.exists()


@pytest.mark.parametrize("query", ["?trial=nonsense", "?trial=%00", f"?trial={factories.NO_ROW}"])
def test_a_trial_that_is_not_there_is_said_so(restorer_client, part, query):
    assert restorer_client.get(reverse("revision-new", args=[part.pk]) + query).status_code == 404


def test_another_workshops_part_trial_and_revision_are_not_there(stranger_client, part, other_workshop):
    revision = cost_factories.RevisionFactory(part=part)
    trial = cost_factories.TrialFactory(check_done__part=part, machine__project__design=part.design)
    theirs = factories.PartFactory(design__workshop=other_workshop)
    assert stranger_client.get(reverse("revision-new", args=[part.pk])).status_code == 404
    assert stranger_client.get(reverse("revision-edit", args=[revision.pk])).status_code == 404
    assert stranger_client.get(reverse("revision-new", args=[theirs.pk]) + f"?trial={trial.pk}").status_code == 404


def test_a_helper_opens_no_revision(helper_client, part):
    assert helper_client.get(reverse("revision-new", args=[part.pk])).status_code == 403


def test_a_label_taken_twice_leaves_the_page_of_the_revision_as_it_is(restorer_client, part, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    cost_factories.RevisionFactory(part=part, label="A")
    second = cost_factories.RevisionFactory(part=part, label="B")
    sent = {"label": "A", "reason": "", "made_on": "", "drawing": SimpleUploadedFile("web.pdf", b"lines")}
    answer = restorer_client.post(reverse("revision-edit", args=[second.pk]), sent)
    shown = answer.content.decode()
    assert "There is one with this revision" in shown
    assert "<h1>Revision B of" in shown
    assert "Kept so far" not in shown
