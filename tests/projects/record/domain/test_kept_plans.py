"""Kept plans read in short tell of their pieces what the plans read whole tell."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine

from projects.record.domain.kept_plans import KeptPlans
from projects.record.models import Piece, Plan, Slot, Step
from tests import factories

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 12, 9, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def rack(workshop, system):
    design = factories.DesignFactory(workshop=workshop)
    part = factories.PartFactory(design=design, system=system)
    return [factories.PieceFactory(part=part, project=factories.ProjectFactory(design=design)) for _ in range(2)]


def kept_plan(pieces, made_at):
    run = factories.PlanRunFactory(workshop=pieces[0].workshop)
    run.projects.add(*{piece.project for piece in pieces})
    plan = factories.PlanFactory(run=run, state=Plan.State.KEPT, made_at=made_at)
    row = {"plan": plan, "pieces": pieces, "rack": str(made_at), "place": pieces[0].place}
    for hours, kind in enumerate((Slot.Kind.MASK, Slot.Kind.BLAST, Slot.Kind.CLEAN)):
        begin = NOW + hours * HOUR
        factories.SlotFactory(**row, kind=kind, layer=None, begin=begin, end=begin + HOUR, key=kind)
    return plan


def coming(kept, pieces):
    return [[slot.kind for slot in kept.coming(piece)] for piece in pieces]


def test_in_short_it_is_the_same_for_all_and_for_one(workshop, rack, owner):
    kept_plan(rack, NOW - HOUR)
    factories.StepFactory(piece=rack[0], kind=Step.Kind.BLASTED, happened_at=NOW, by=owner)
    whole, short = KeptPlans.of(workshop), KeptPlans.in_short(workshop)
    assert coming(whole, rack) == coming(short, rack) == [["clean"], ["mask", "blast", "clean"]]
    assert whole.logged == short.logged == set()
    assert [slot.piece_ids for slot in short.slots] == [
        [piece.pk for piece in slot.pieces.all()] for slot in whole.slots
    ]
    (asked, other) = rack
    own = KeptPlans.in_short(workshop, Piece.objects.filter(pk=asked.pk))
    assert coming(own, [asked]) == [["clean"]]
    factories.StepFactory(piece=other, kind=Step.Kind.BLASTED, happened_at=NOW, by=owner)
    done = {slot.pk for slot in whole.slots if slot.kind != Slot.Kind.CLEAN}  # masking, too: what follows it is done
    assert KeptPlans.in_short(workshop).logged == done


def test_what_was_logged_between_two_plans_is_done_in_the_older_alone(workshop, rack, owner):
    old, new = rack
    kept_plan([old], NOW - 3 * HOUR)
    kept_plan([new], NOW - HOUR)
    with time_machine.travel(NOW - 2 * HOUR, tick=False):
        for piece in rack:
            factories.StepFactory(piece=piece, kind=Step.Kind.BLASTED, happened_at=NOW - 2 * HOUR, by=owner)
    told = coming(KeptPlans.in_short(workshop), rack)
    assert told == [["clean"], ["mask", "blast", "clean"]]
    assert told[1] == coming(KeptPlans.in_short(workshop, Piece.objects.filter(pk=new.pk)), [new])[0]
