"""A piece without a project, just blasted: what was measured says by when its first coat has to be on."""

import pytest
from django.urls import reverse
from django.utils import timezone

from finishing.air.models import Reading
from projects.record.models import Design, Part, Piece, Project, Step
from tests.factories import PlaceFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def typed(shop):
    now = timezone.localtime().replace(second=0, microsecond=0, tzinfo=None)
    return {
        "name": "Flywheel",
        "place": str(shop.pk),
        "happened_at": now.isoformat(timespec="minutes"),
        "air_temperature": "18",
        "humidity": "70",
        "surface_temperature": "",
    }


def sent(client, typed, **changed):
    return client.post(reverse("first-piece"), {**typed, **changed})


def test_a_first_piece_is_blasted_with_what_was_measured_and_says_by_when_to_coat(owner_client, typed, shop):
    answer = sent(owner_client, typed)
    step = Step.objects.get()
    assert answer.url == reverse("piece", args=[step.piece_id])
    assert (step.kind, step.place, step.humidity.magnitude) == ("blasted", shop, 70)
    assert (step.piece.mark, step.piece.project.name, step.piece.project.trial) == ("F-01", "Single pieces", False)
    assert Reading.objects.get().place == shop
    shown = owner_client.get(answer.url).content.decode()
    assert "coat before" in shown.lower()
    assert "Choose a coating system" in shown


def test_the_same_form_sent_again_is_the_same_piece_and_another_one_stands_beside_it(owner_client, typed):
    sent(owner_client, typed)
    sent(owner_client, typed)
    assert (Piece.objects.count(), Step.objects.count()) == (1, 1)
    sent(owner_client, typed, humidity="71")
    assert [*Piece.objects.order_by("mark").values_list("mark", flat=True)] == ["F-01", "F-02"]
    assert (Part.objects.count(), Project.objects.count()) == (1, 1)


@pytest.mark.parametrize(
    ("box", "text", "said"),
    [
        ("humidity", "", "required"),
        ("humidity", "170", "Must lie between"),
        ("happened_at", "2099-01-01T10:00", "ahead"),
    ],
)
def test_what_is_wrong_is_told_at_its_box_and_nothing_is_made(owner_client, typed, box, text, said):
    answer = sent(owner_client, typed, **{box: text})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert "Flywheel" in answer.content.decode()
    assert not Piece.objects.exists()


def test_a_trial_is_thrown_away_with_all_that_was_logged_on_it_and_nothing_else_is(owner_client, typed, shop):
    sent(owner_client, typed)
    sent(owner_client, typed, trial="on", name="Try", humidity="55")
    real, trial = Project.objects.get(trial=False), Project.objects.get(trial=True)
    step = Step.objects.get(piece__project=trial)
    owner_client.post(reverse("step-void", args=[step.pk]), {"reason": "mistyped"})
    assert "Throw it away" in owner_client.get(reverse("project", args=[trial.pk])).content.decode()
    assert owner_client.post(reverse("project-throw-away", args=[real.pk])).url == reverse("project", args=[real.pk])
    assert owner_client.post(reverse("project-throw-away", args=[trial.pk])).url == reverse("projects")
    assert [*Project.objects.all()] == [real]
    assert (Step.objects.count(), Piece.objects.count(), Design.objects.count()) == (1, 1, 1)


def test_a_trial_that_is_kept_for_good_is_never_thrown_away(owner_client, typed):
    sent(owner_client, typed, trial="on")
    project = Project.objects.get()
    owner_client.post(reverse("project-keep", args=[project.pk]))
    owner_client.post(reverse("project-throw-away", args=[project.pk]))
    assert Step.objects.exists()
    assert "Throw it away" not in owner_client.get(reverse("project", args=[project.pk])).content.decode()


def test_a_day_without_pieces_begins_with_the_first_one(owner_client, guest_client, shop):
    PlaceFactory(workshop=shop.workshop, name="Yard")
    day = owner_client.get(reverse("day-sheet"))
    assert reverse("first-piece") in day.content.decode()
    assert "Just now, in the Shop" in " ".join(day.content.decode().split())
    assert reverse("first-piece") not in guest_client.get(reverse("day-sheet")).content.decode()


def test_a_helper_and_another_workshop_make_no_piece_here(helper_client, stranger_client, typed):
    assert sent(helper_client, typed).status_code == 403
    assert sent(stranger_client, typed).status_code == 422
    assert not Piece.objects.exists()
