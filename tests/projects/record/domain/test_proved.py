"""A revision is proved by what was fitted and checked, and by nothing else."""

from datetime import UTC, date, datetime, timedelta

import pytest

from projects.proving.domain.assembly import seats_of
from projects.record.domain.proved import NO_CHECK, NO_REVISION, NOT_FITTED, Proof, current_revision, in_order
from projects.record.models import Machine, Operation, Revision
from tests import cost_factories, factories
from tests.cost_factories import unproved

pytestmark = pytest.mark.django_db

DAY = datetime(2026, 5, 12, 9, tzinfo=UTC)


class Bench:
    """A design of a frame and two bushes, its machines, and a day for each thing done."""

    def __init__(self, workshop):
        self.design = factories.DesignFactory(workshop=workshop)
        self.project = factories.ProjectFactory(design=self.design)
        self.frame = factories.PartFactory(design=self.design, name="frame")
        self.bush = factories.PartFactory(design=self.design, name="bush", quantity=2)
        self.person, self.yard = factories.UserFactory(), factories.PlaceFactory(workshop=workshop)
        self.day = DAY

    def next_day(self):
        self.day += timedelta(days=1)
        return self.day

    def machine(self, number):
        return factories.MachineFactory(project=self.project, number=number)

    def revision(self, label, part=None):
        return cost_factories.RevisionFactory(part=part or self.frame, label=label)

    def fit(self, machine, part, revision=None, position=1):
        piece = factories.PieceFactory(part=part, project=self.project, revision=revision, place=self.yard)
        return cost_factories.FittingFactory(
            machine=machine, piece=piece, position=position, fitted_at=self.next_day(), by=self.person
        )

    def take_out(self, machine, part, position=1):
        cost_factories.FittingFactory(
            machine=machine, part=part, piece=None, position=position, fitted_at=self.next_day(), by=self.person
        )

    def complete(self, machine, revision):
        self.fit(machine, self.frame, revision)
        for position in (1, 2):
            self.fit(machine, self.bush, position=position)

    def check(self, part, what="runs true"):
        return cost_factories.CheckFactory(design=self.design, part=part, what=what)

    def tried(self, machine, check, passed=True, revision=None):
        cost_factories.TrialFactory(
            machine=machine,
            check_done=check,
            passed=passed,
            revision=revision,
            tried_at=self.next_day(),
            by=self.person,
        )


@pytest.fixture
def bench(workshop):
    return Bench(workshop)


@pytest.fixture
def machine(bench):
    return bench.machine("1")


@pytest.fixture
def revision(bench):
    return bench.revision("A")


def test_its_checks_passed_on_an_assembled_machine(bench, machine, revision):
    bench.complete(machine, revision)
    for check in [bench.check(bench.frame), bench.check(None, "runs at 60 turns")]:
        assert unproved(revision) == f"check “{check}” not done on machine 1"
        bench.tried(machine, check)
    assert unproved(revision) == ""


def test_nothing_is_proved_of_no_revision(bench):
    assert Proof(bench.design).unproved(bench.frame, None) == NO_REVISION


def test_without_a_check_nothing_is_proved(bench, machine, revision):
    bench.complete(machine, revision)
    assert unproved(revision) == NO_CHECK
    bench.check(bench.bush)
    assert unproved(revision) == NO_CHECK


def test_it_has_to_be_fitted(bench, machine, revision):
    bench.check(bench.frame)
    bench.fit(machine, bench.bush)
    assert unproved(revision) == NOT_FITTED


def test_a_check_of_a_machine_with_a_place_empty_waits_for_the_rest(bench, machine, revision):
    check = bench.check(bench.frame)
    bench.fit(machine, bench.frame, revision)
    bench.fit(machine, bench.bush)
    bench.tried(machine, check)
    assert unproved(revision) == "machine 1 is not assembled: 1 place is empty"
    bench.fit(machine, bench.bush, position=2)
    assert unproved(revision) == ""


def test_what_is_bought_as_it_is_needs_no_place_and_no_proof(bench, machine, revision):
    check = bench.check(bench.frame)
    bench.fit(machine, bench.frame, revision)
    bench.tried(machine, check)
    assert unproved(revision) == "machine 1 is not assembled: 2 places are empty"
    cost_factories.OperationFactory(part=bench.bush, process=Operation.Process.BOUGHT_IN)
    assert unproved(revision) == ""
    assert Proof(bench.design).unproved(bench.bush, None) == ""
    assert not any(seat.lacks for seat in seats_of(machine))
    cost_factories.OperationFactory(part=bench.bush, process=Operation.Process.MACHINING)
    assert unproved(revision) == "machine 1 is not assembled: 2 places are empty"
    assert Proof(bench.design).unproved(bench.bush, None) == NO_REVISION


def test_what_was_taken_out_before_the_machine_was_whole_is_not_proved(bench, machine, revision):
    check = bench.check(bench.frame)
    bench.fit(machine, bench.frame, revision)
    bench.tried(machine, check)
    bench.complete(machine, bench.revision("B"))
    assert unproved(revision) == "taken out of machine 1 before that was assembled"


def test_taking_a_machine_apart_later_unproves_nothing(bench, machine, revision):
    check = bench.check(bench.frame)
    bench.complete(machine, revision)
    bench.tried(machine, check)
    bench.take_out(machine, bench.frame)
    assert unproved(revision) == ""


def test_the_last_trial_counts(bench, machine, revision):
    check = bench.check(bench.frame)
    bench.complete(machine, revision)
    bench.tried(machine, check, passed=False)
    assert unproved(revision) == "check “runs true” failed on machine 1"
    bench.tried(machine, check)
    assert unproved(revision) == ""
    bench.tried(machine, check, passed=False)
    assert unproved(revision) == "check “runs true” failed on machine 1"


def test_of_two_trials_at_one_moment_the_one_entered_later_counts(bench, machine, revision):
    check = bench.check(bench.frame)
    bench.complete(machine, revision)
    bench.tried(machine, check, passed=False)
    bench.day -= timedelta(days=1)
    bench.tried(machine, check)
    assert unproved(revision) == ""


def test_what_was_checked_with_one_revision_says_nothing_of_the_next(bench, machine, revision):
    own, whole = bench.check(bench.frame), bench.check(None, "runs at 60 turns")
    bench.complete(machine, revision)
    bench.tried(machine, own)
    bench.tried(machine, whole)
    newer = bench.revision("B")
    bench.fit(machine, bench.frame, newer)
    assert unproved(newer) == "check “runs true” not done on machine 1"
    bench.tried(machine, own)
    assert unproved(newer) == "check “runs at 60 turns” not done on machine 1"
    bench.tried(machine, whole)
    assert (unproved(newer), unproved(revision)) == ("", "")


def test_a_failure_with_the_next_revision_leaves_the_one_before_as_it_was(bench, machine, revision):
    check = bench.check(bench.frame)
    bench.complete(machine, revision)
    bench.tried(machine, check)
    bench.fit(machine, bench.frame, bench.revision("B"))
    bench.tried(machine, check, passed=False)
    assert unproved(revision) == ""


def test_a_failure_on_another_machine_stands_against_it_until_it_passes_there(bench, machine, revision):
    check, second = bench.check(bench.frame), bench.machine("2")
    bench.complete(machine, revision)
    bench.tried(machine, check)
    bench.fit(second, bench.frame, revision)
    bench.tried(second, check, passed=False)
    assert unproved(revision) == "check “runs true” failed on machine 2"
    bench.tried(second, check)
    assert unproved(revision) == ""


def test_each_of_two_machines_has_to_pass_all_by_itself(bench, machine, revision):
    first, other, second = bench.check(bench.frame), bench.check(bench.frame, "bore in line"), bench.machine("2")
    for each, check in ((machine, first), (second, other)):
        bench.complete(each, revision)
        bench.tried(each, check)
    assert unproved(revision) == "check “bore in line” not done on machine 1"


def test_of_two_revisions_in_one_machine_only_the_one_that_was_tried_is_judged(bench, machine):
    old, new = bench.revision("A", bench.bush), bench.revision("B", bench.bush)
    check = bench.check(bench.bush)
    bench.fit(machine, bench.frame)
    for position, revision in enumerate((old, new), start=1):
        bench.fit(machine, bench.bush, revision, position)
    bench.tried(machine, check, revision=new)
    assert unproved(new) == ""
    assert unproved(old) == "check “runs true” not done on machine 1"


def test_a_check_no_longer_asked_for_holds_nothing_up(bench, machine, revision):
    bench.complete(machine, revision)
    bench.tried(machine, bench.check(bench.frame))
    late = bench.check(bench.frame, "balanced")
    assert unproved(revision)
    late.retired = True
    late.save()
    assert unproved(revision) == ""


def test_a_part_added_to_the_design_has_to_be_fitted_first(bench, machine, revision):
    check = bench.check(bench.frame)
    bench.complete(machine, revision)
    bench.tried(machine, check)
    factories.PartFactory(design=bench.design, name="guard")
    assert unproved(revision) == "machine 1 is not assembled: 1 place is empty"


def test_a_whole_design_takes_a_fixed_number_of_queries(bench, django_assert_num_queries):
    check = bench.check(None)
    for number in range(6):
        machine = bench.machine(str(number))
        bench.complete(machine, bench.revision(str(number)))
        bench.tried(machine, check)
    revisions = list(Revision.objects.select_related("part"))
    with django_assert_num_queries(5):
        proof = Proof(bench.design)
        assert [proof.unproved(revision.part, revision) for revision in revisions] == [""] * 6
    assert Machine.objects.count() == 6


@pytest.mark.parametrize(
    ("labels", "latest"),
    [(["B", "A"], "B"), (["10", "9"], "10"), (["Z", "AA"], "AA"), (["A9", "A10"], "A10"), ([], None)],
)
def test_the_latest_revision_is_the_last_by_its_label(bench, labels, latest):
    for label in labels:
        bench.revision(label)
    found = current_revision(bench.frame)
    assert (found and found.label) == latest


def test_days_come_before_labels_where_every_revision_has_one(bench):
    for label, day in (("thin web", 1), ("as first drawn", 3), ("wide foot", 2)):
        cost_factories.RevisionFactory(part=bench.frame, label=label, made_on=date(2026, 5, day))
    assert [row.label for row in in_order(bench.frame.revisions.all())] == ["thin web", "wide foot", "as first drawn"]
