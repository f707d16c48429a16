"""The strip of workable hours as values, and drawn."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import time_machine
from django.template.loader import render_to_string
from django.utils import timezone

from finishing.science.windows import Reason
from finishing.site.pictures.strips import CELL, marks, strip

LONDON = ZoneInfo("Europe/London")
START = np.datetime64("2026-05-12T00", "h")
NOW = datetime(2026, 5, 12, 9, 20, tzinfo=UTC)


def flags(count=72, **spans):
    """All hours workable, but for spans of UTC hours from START: rain=(12, 14)."""
    values = np.zeros(count, np.uint16)
    for name, (begin, end) in spans.items():
        values[begin:end] |= np.uint16(Reason[name.upper()])
    return values


def hours_of(tick_list):
    return [(str(tick.when), tick.x / CELL) for tick in tick_list]


def test_it_begins_with_the_present_hour_in_rows_of_a_day():
    drawn = strip(START, flags(), NOW, LONDON)
    assert [len(row.cells) for row in drawn.rows] == [24, 24]
    assert drawn.rows[0].cells[0].when == np.datetime64("2026-05-12T09")
    assert drawn.rows[1].cells[-1].when == np.datetime64("2026-05-14T08")
    assert drawn.rows[0].now == pytest.approx(CELL / 3)
    assert drawn.rows[1].now is None
    assert drawn.rows[0].cells[3].x == 3 * CELL


def test_it_begins_where_it_is_told():
    drawn = strip(START, flags(), NOW, LONDON, first=np.datetime64("2026-05-12T06"), count=24)
    assert [len(row.cells) for row in drawn.rows] == [24]
    assert drawn.rows[0].now == pytest.approx(CELL * (3 + 1 / 3))


def test_stretches_are_told_to_their_real_end_and_with_all_their_reasons():
    drawn = strip(START, flags(rain=(12, 14), humidity=(13, 16), not_known=(60, 72)), NOW, LONDON)
    assert [(str(s.begin)[5:], str(s.end)[5:], s.running) for s in drawn.workable] == [
        ("05-12T09", "05-12T12", True),
        ("05-12T16", "05-14T12", False),
    ]
    assert [s.flags for s in drawn.refused] == [
        Reason.RAIN,
        Reason.RAIN | Reason.HUMIDITY,
        Reason.HUMIDITY,
    ]
    assert drawn.flags == Reason.RAIN | Reason.HUMIDITY


def test_hours_that_nobody_judged_are_not_known_never_workable():
    late = strip(START, flags(12), NOW, LONDON)
    assert [cell.flags for cell in late.rows[0].cells[:5]] == [0, 0, 0, Reason.NOT_KNOWN, Reason.NOT_KNOWN]
    assert [s.flags for s in late.refused] == [Reason.NOT_KNOWN]
    outside = strip(START, flags(12), datetime(2026, 6, 1, tzinfo=UTC), LONDON)
    before = strip(START, flags(12), datetime(2026, 4, 1, tzinfo=UTC), LONDON)
    assert outside.workable == before.workable == []
    assert len(before.refused) == 1


def test_a_clock_that_jumps_back_shows_no_present_moment_in_a_later_picture():
    drawn = strip(START, flags(), datetime(2026, 5, 1, tzinfo=UTC), LONDON, first=START, count=24)
    assert drawn.rows[0].now is None


def test_ticks_stand_at_the_hours_of_the_workshops_clock():
    assert hours_of(marks(START, 24, LONDON, CELL)) == [
        ("2026-05-12T05:00", 5),  # 06:00 in London
        ("2026-05-12T11:00", 11),
        ("2026-05-12T17:00", 17),
        ("2026-05-12T23:00", 23),
    ]


def test_a_zone_of_a_half_hour_has_its_ticks_half_way():
    ticks = marks(START, 24, ZoneInfo("Asia/Kolkata"), CELL)
    assert hours_of(ticks) == [
        ("2026-05-12T00:30", 0.5),
        ("2026-05-12T06:30", 6.5),
        ("2026-05-12T12:30", 12.5),
        ("2026-05-12T18:30", 18.5),
    ]
    assert [tick.midnight for tick in ticks] == [False, False, False, True]


@pytest.mark.parametrize(
    ("start", "expected"),
    [
        ("2026-10-24T21", [("2026-10-24T23:00", 2), ("2026-10-25T06:00", 9)]),  # clocks go back: nine hours on
        ("2026-03-28T21", [("2026-03-29T00:00", 3), ("2026-03-29T05:00", 8)]),  # and forward: five hours
    ],
)
def test_the_night_in_which_clocks_are_moved_is_an_hour_longer_or_shorter(start, expected):
    ticks = marks(np.datetime64(start, "h"), 12, LONDON, CELL)
    assert hours_of(ticks) == expected
    assert [tick.hour for tick in ticks] == [0, 6]


def test_a_day_begins_also_where_clocks_skip_midnight_itself():
    ticks = marks(np.datetime64("2026-09-06T00", "h"), 12, ZoneInfo("America/Santiago"), CELL)
    assert [(str(t.when), t.hour) for t in ticks if t.midnight] == [("2026-09-06T04:00", 1)]


def test_a_days_name_is_written_only_where_it_has_room():
    evening = strip(START, flags(), datetime(2026, 5, 12, 21, tzinfo=UTC), LONDON)
    assert [day.x / CELL for day in evening.rows[0].days] == [2]  # two hours are too few for "today"
    morning = strip(START, flags(), NOW, LONDON)
    assert [day.x / CELL for day in morning.rows[0].days] == [0, 14]


def drawn_as_text(**spans):
    with time_machine.travel(NOW, tick=False), timezone.override(LONDON):
        return render_to_string(
            "finishing/site/_strip.html", {"strip": strip(START, flags(**spans), NOW, LONDON, key="k")}
        )


def test_it_reads_without_a_picture():
    page = drawn_as_text(rain=(12, 14), outside_working_hours=(17, 72))
    words = " ".join(page.split())
    assert '<b>Workable:</b> <span class="stretch">now until 13:00</span>' in words
    assert '<span class="stretch">today 15:00–18:00</span>' in words
    assert "today 13:00–15:00</span>: rain before the work may be left" in words
    assert "today 14:00: rain before the work may be left" in words


def test_it_draws_each_reason_by_its_own_hatch_and_keeps_to_attributes():
    page = drawn_as_text(rain=(12, 14), margin=(30, 34))
    assert 'id="k-rain"' in page
    assert page.count('fill="url(#k-beads)"') == 4 + 1  # four hours and the legend
    assert "hatch-frost" not in page
    assert "style" not in page


def test_it_says_when_no_hour_will_do():
    assert "No workable hour" in drawn_as_text(rust_budget_spent=(0, 72))
