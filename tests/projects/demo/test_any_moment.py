"""The demonstration stands as it is told, whenever it is started.

By its name the first file of the folder, since the others share one that stays to the end of it.
"""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from finishing.air.models import Reading
from projects.day.domain import Matter, matters
from projects.record.models import Piece, Step
from projects.work.domain.outlook import outlooks

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]

LONDON = ZoneInfo("Europe/London")
STARTS = {
    "in the evening itself": datetime(2026, 7, 15, 16, 40),
    "at three in the night": datetime(2026, 6, 11, 3, 0),
    "a Monday before Sunday's gap is over": datetime(2026, 12, 28, 8, 5),
    "the Sunday on which clocks go forward": datetime(2026, 3, 29, 12, 6),
    "the Sunday on which clocks go back": datetime(2026, 10, 25, 1, 30),
}


def ahead_of(workshop, now):
    pieces = Piece.objects.of(workshop).at_work().with_log().in_order()
    return outlooks(workshop, list(pieces), now)


@pytest.mark.parametrize("start", STARTS.values(), ids=STARTS, indirect=True)
def test_it_stands_as_it_is_told_whenever_it_is_started(start):
    stands_as_told(*start)


def stands_as_told(workshop, now):
    by_mark = {outlook.piece.mark: outlook for outlook in ahead_of(workshop, now)}

    blasted = by_mark["2-FA"]
    assert blasted.state.bare_since.astimezone(LONDON).hour >= 15
    assert 0 < blasted.bare_left < 4
    assert by_mark["FR"].in_closed_zone
    assert by_mark["WT"].metal_now < by_mark["WT"].air_now
    assert {mark for mark, outlook in by_mark.items() if outlook.overdue} == {"2-TR", "2-TB"}
    wet = {mark for mark, o in by_mark.items() if o.state.wet_at or (o.state.is_bare and o.sweats)}
    assert wet == {"2-TR"}
    attention = {mark: set(matters(outlook)) for mark, outlook in by_mark.items()}
    assert {mark: what for mark, what in attention.items() if what} == {
        "UA": {Matter.BLAST_AGAIN},
        "CJ-2": {Matter.BLAST_AGAIN},
        "FR": {Matter.CLOSED_ZONE},
        "LA": {Matter.TOUCH_UP},
        "WT": {Matter.SWEATS},
        "TB": {Matter.PRESERVED},
        "CK": {Matter.PRESERVED},
        "1-TB": {Matter.PRESERVED},
        "BB": {Matter.NO_SYSTEM},
    }
    all_at_work_within_hours(workshop, now)
    only_these_are_outside()


def all_at_work_within_hours(workshop, now):
    for step in Step.objects.all():
        local = step.happened_at.astimezone(LONDON)
        assert step.happened_at <= now, step
        assert workshop.work_from <= local.time() <= workshop.work_until, step
        assert workshop.work_days[local.weekday()] == "1", step
    assert Reading.objects.filter(taken_at__gt=now).count() == 0


def only_these_are_outside():
    """A wrinkle that had to come, and a coat in the damp with its reason; dampness on the evening needs none."""
    outside = {(step.piece.mark, step.kind): step.reason for step in Step.objects.filter(verdict="outside")}
    assert outside.pop(("2-FA", "blasted"), "") == ""
    assert outside == {("FW", "coated"): "no other day", ("1-TQ", "coated"): "no other day"}
