"""A machine put together in the yard: pieces fitted, exchanged, taken out; checks passed and failed."""

import uuid
from datetime import UTC, datetime

import pytest
from django.urls import reverse

from projects.proving.domain.assembly import seats_of
from projects.record.models import Fitting, Trial
from tests import cost_factories, factories
from tests.cost_factories import unproved

pytestmark = pytest.mark.django_db

NOON = datetime(2026, 5, 12, 11, tzinfo=UTC)  # 12:00 on the workshop's clock


@pytest.fixture(autouse=True)
def _noon(time_machine):
    time_machine.move_to(NOON)


@pytest.fixture
def part(workshop):
    return factories.PartFactory(design__workshop=workshop, name="Frame")


@pytest.fixture
def machine(part):
    return factories.MachineFactory(project__design=part.design, number="7")


@pytest.fixture
def revision(part):
    return cost_factories.RevisionFactory(part=part, label="A")


@pytest.fixture
def piece(part, machine, revision, yard):
    return factories.PieceFactory(part=part, project=machine.project, revision=revision, mark="F-01", place=yard)


@pytest.fixture
def check(part):
    return cost_factories.CheckFactory(part=part, what="bore in line", limit="within 0.1 mm")


def fit(client, machine, part, sound, position=1, **more):
    address = f"{reverse('fit', args=[machine.pk])}?part={part.pk}&position={position}"
    key = sound.pk if sound else ""
    form = {"id": str(uuid.uuid4()), "piece": key, "shims": "", "note": "", "fitted_at": "2026-05-12T11:00"}
    return client.post(address, {**form, **more})


def try_out(client, machine, check, passed="yes", **more):
    address = f"{reverse('trial-new', args=[machine.pk])}?check={check.pk}"
    form = {"id": str(uuid.uuid4()), "passed": passed, "measured": "0.04 mm", "tried_at": "2026-05-12T11:30"}
    return client.post(address, {**form, **more})


def page_of(client, machine):
    return client.get(reverse("machine", args=[machine.pk])).content.decode()


def test_a_helper_fits_a_piece_and_it_belongs_to_the_machine(helper_client, helper, machine, part, piece):
    assert "1 of 1 place empty" in page_of(helper_client, machine)
    response = fit(helper_client, machine, part, piece, shims="0.2 mm under the left foot")
    assert response.url.startswith(reverse("machine", args=[machine.pk]))
    fitting = Fitting.objects.get()
    assert (fitting.piece, fitting.position, fitting.by) == (piece, 1, helper)
    piece.refresh_from_db()
    assert piece.machine == machine
    page = page_of(helper_client, machine)
    for words in ("assembled", "F-01", "revision A", "0.2 mm under the left foot", "today 11:00"):
        assert words in page


def test_each_place_of_a_part_is_filled_by_itself(helper_client, machine, workshop, yard):
    bush = factories.PartFactory(design=machine.project.design, name="Bush", quantity=2)
    pieces = [factories.PieceFactory(part=bush, project=machine.project, place=yard) for _ in range(2)]
    for position, piece in enumerate(pieces, start=1):
        fit(helper_client, machine, bush, piece, position)
    assert sorted(Fitting.objects.values_list("position", flat=True)) == [1, 2]
    page = page_of(helper_client, machine)
    assert "Bush 1" in page
    assert "Bush 2" in page


def test_the_same_form_sent_twice_is_one_fitting(helper_client, machine, part, piece):
    one = str(uuid.uuid4())
    for _ in range(2):
        assert fit(helper_client, machine, part, piece, id=one).status_code == 302
    assert Fitting.objects.count() == 1


def test_a_piece_moved_to_another_machine_leaves_its_place_empty(helper_client, machine, part, piece):
    other = factories.MachineFactory(project=machine.project, number="8")
    fit(helper_client, machine, part, piece)
    address = f"{reverse('fit', args=[other.pk])}?part={part.pk}&position=1"
    assert "sits in machine 7" in helper_client.get(address).content.decode()
    fit(helper_client, other, part, piece, fitted_at="2026-05-12T11:20")
    assert "1 of 1 place empty" in page_of(helper_client, machine)
    assert "moved to machine 8" in page_of(helper_client, machine)
    assert "assembled" in page_of(helper_client, other)


def test_a_piece_is_taken_out(helper_client, machine, part, piece):
    assert "nothing sits here" in fit(helper_client, machine, part, None).content.decode()
    fit(helper_client, machine, part, piece)
    fit(helper_client, machine, part, None, fitted_at="2026-05-12T11:40", note="crack")
    page = page_of(helper_client, machine)
    assert "taken out today 11:40" in page
    assert "crack" in page


def test_only_sound_pieces_of_the_part_and_project_are_offered(helper_client, machine, part, piece, yard):
    wrong = [
        factories.PieceFactory(part=part, project=machine.project, set_aside=True, place=yard),
        factories.PieceFactory(part=part, project=machine.project, rejected_for="size", place=yard),
        factories.PieceFactory(part=part, place=yard),
        factories.PieceFactory(part=factories.PartFactory(design=part.design), project=machine.project, place=yard),
    ]
    page = helper_client.get(f"{reverse('fit', args=[machine.pk])}?part={part.pk}&position=1").content.decode()
    assert str(piece.pk) in page
    for each in wrong:
        assert str(each.pk) not in page
        assert "valid choice" in fit(helper_client, machine, part, each).content.decode()
    assert not Fitting.objects.exists()


@pytest.mark.parametrize(
    "query", ["", "?part=%00", "?position=1", "?part={part}&position=2", "?part={part}&position=-1"]
)
def test_a_place_that_is_not_there_is_said_so(helper_client, machine, part, query):
    address = reverse("fit", args=[machine.pk]) + query.format(part=part.pk)
    assert helper_client.get(address).status_code == 404


@pytest.mark.parametrize(
    ("box", "value", "words"),
    [
        ("fitted_at", "2026-05-12T13:00", "still to come"),
        ("fitted_at", "noon", "valid date"),
        ("fitted_at", "", "required"),
        ("shims", "x" * 201, "at most 200"),
        ("note", "x" * 301, "at most 300"),
        ("piece", "nonsense", "valid"),
    ],
)
def test_a_fitting_that_cannot_be_is_told_at_its_field(helper_client, machine, part, piece, box, value, words):
    response = fit(helper_client, machine, part, piece, **{box: value})
    assert words in response.content.decode()
    assert not Fitting.objects.exists()


def test_pieces_are_fitted_in_the_order_it_was_done(helper_client, machine, part, piece):
    fit(helper_client, machine, part, piece)
    early = fit(helper_client, machine, part, None, fitted_at="2026-05-12T10:59").content.decode()
    assert "The last change here was today 11:00" in early
    assert fit(helper_client, machine, part, None, fitted_at="2026-05-12T11:00").status_code == 302


def test_an_exchange_in_the_same_minute_counts_as_the_later_one(helper_client, machine, part, piece, yard):
    """A phone sends seconds, a picker none: what is put in next must not slip behind what it takes the place of."""
    other = factories.PieceFactory(part=part, project=machine.project, mark="F-02", place=yard)
    fit(helper_client, machine, part, piece, fitted_at="2026-05-12T11:00:30")
    fit(helper_client, machine, part, other, fitted_at="2026-05-12T11:00")
    assert seats_of(machine)[0].piece == other


def test_a_check_in_the_same_minute_is_of_what_was_put_in(helper_client, machine, part, piece, revision, check):
    fit(helper_client, machine, part, piece, fitted_at="2026-05-12T11:30:30")
    try_out(helper_client, machine, check)
    assert unproved(revision) == ""


def test_a_check_that_passed_proves_the_revision(helper_client, machine, part, piece, revision, check):
    assert "fit the part first" in page_of(helper_client, machine)
    fit(helper_client, machine, part, piece)
    try_out(helper_client, machine, check)
    assert Trial.objects.get().revision == revision
    assert unproved(revision) == ""
    page = page_of(helper_client, machine)
    for words in ("passed", "0.04 mm", "within 0.1 mm", "today 11:30"):
        assert words in page


def test_a_check_that_failed_offers_the_next_revision(restorer_client, helper_client, machine, part, piece, check):
    fit(helper_client, machine, part, piece)
    try_out(helper_client, machine, check, passed="no", measured="0.4 mm", note="drill wandered")
    trial = Trial.objects.get()
    offer = f"{reverse('revision-new', args=[part.pk])}?trial={trial.pk}"
    assert offer in page_of(restorer_client, machine)
    assert offer not in page_of(helper_client, machine)
    assert 'value="B"' in restorer_client.get(offer).content.decode()


def test_a_failed_check_of_the_whole_machine_asks_in_which_part_it_lies(restorer_client, machine, part, piece):
    whole = cost_factories.CheckFactory(design=part.design, part=None)
    fit(restorer_client, machine, part, piece)
    response = try_out(restorer_client, machine, whole, passed="no")
    page = restorer_client.get(response.url).content.decode()
    assert "It failed." in page
    assert f"{reverse('revision-new', args=[part.pk])}?trial={Trial.objects.get().pk}" in page


def test_after_an_exchange_the_check_is_to_be_done_again(helper_client, machine, part, piece, check, yard):
    fit(helper_client, machine, part, piece)
    try_out(helper_client, machine, check)
    newer = cost_factories.RevisionFactory(part=part, label="B")
    better = factories.PieceFactory(part=part, project=machine.project, revision=newer, place=yard)
    assert "an earlier revision" in page_of(helper_client, machine)
    fit(helper_client, machine, part, better, fitted_at="2026-05-12T11:45")
    page = page_of(helper_client, machine)
    assert "to be done again" in page
    assert "passed before something was exchanged" in page
    assert unproved(newer) == "check “bore in line” not done on machine 7"


def test_of_two_revisions_the_one_that_was_tried_is_asked_for(helper_client, machine, yard):
    bush = factories.PartFactory(design=machine.project.design, name="Bush", quantity=2)
    check = cost_factories.CheckFactory(part=bush)
    for position, label in enumerate("AB", start=1):
        revision = cost_factories.RevisionFactory(part=bush, label=label)
        piece = factories.PieceFactory(part=bush, project=machine.project, revision=revision, place=yard)
        fit(helper_client, machine, bush, piece, position)
    assert "required" in try_out(helper_client, machine, check).content.decode()
    try_out(helper_client, machine, check, revision=revision.pk)
    assert Trial.objects.get().revision == revision


@pytest.mark.parametrize(
    ("box", "value", "words"),
    [
        ("passed", "", "Say whether it passed"),
        ("passed", "perhaps", "valid choice"),
        ("measured", "x" * 101, "at most 100"),
        ("tried_at", "2026-05-13T10:00", "still to come"),
        ("tried_at", "2026-05-12T10:00", "put in today 11:00, after this"),
        ("tried_at", "later", "valid date"),
    ],
)
def test_a_trial_that_cannot_be_is_told_at_its_field(helper_client, machine, part, piece, check, box, value, words):
    fit(helper_client, machine, part, piece)
    assert words in try_out(helper_client, machine, check, **{box: value}).content.decode()
    assert not Trial.objects.exists()


def test_a_check_given_up_or_of_another_design_is_not_done_here(helper_client, machine, part, check):
    check.retired = True
    check.save()
    other = cost_factories.CheckFactory(part__design__workshop=part.workshop)
    for each in (check, other):
        address = f"{reverse('trial-new', args=[machine.pk])}?check={each.pk}"
        assert helper_client.get(address).status_code == 404


def test_the_project_s_machine_numbers_lead_here(helper_client, machine):
    page = helper_client.get(reverse("project", args=[machine.project_id])).content.decode()
    assert reverse("machine", args=[machine.pk]) in page


def test_a_guest_looks_and_changes_nothing(guest_client, machine, part, piece):
    assert guest_client.get(reverse("machine", args=[machine.pk])).status_code == 200
    assert fit(guest_client, machine, part, piece).status_code == 403


@pytest.mark.parametrize("name", ["machine", "fit", "trial-new"])
def test_another_workshops_machine_is_not_there(stranger_client, machine, name):
    assert stranger_client.get(reverse(name, args=[machine.pk])).status_code == 404


def test_a_machine_of_many_parts_takes_a_fixed_number_of_queries(
    helper_client, machine, part, yard, django_assert_max_num_queries
):
    for _ in range(8):
        revision = cost_factories.RevisionFactory(part__design=part.design)
        piece = factories.PieceFactory(part=revision.part, project=machine.project, revision=revision, place=yard)
        cost_factories.FittingFactory(machine=machine, piece=piece)
        check = cost_factories.CheckFactory(part=revision.part)
        cost_factories.TrialFactory(machine=machine, check_done=check, revision=revision)
    page_of(helper_client, machine)  # a sign-in is noted as seen once in a while
    with django_assert_max_num_queries(14):
        page_of(helper_client, machine)


def test_once_the_next_revision_is_opened_the_check_asks_for_a_piece_of_it(
    restorer_client, machine, part, piece, check
):
    fit(restorer_client, machine, part, piece)
    try_out(restorer_client, machine, check, passed="no")
    cost_factories.RevisionFactory(part=part, label="B")
    page = page_of(restorer_client, machine)
    assert "Revision B was opened since" in page
    assert "Open the next revision" not in page
