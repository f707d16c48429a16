"""Times in words, on clocks of whole and half hours and in the nights in which they are moved."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import time_machine
from django.utils import timezone

from finishing.science.units import Quantity
from finishing.site.templatetags.clock import (
    ago,
    clock,
    clock_day,
    clock_time,
    duration,
    from_until,
    short_day,
    weekday,
)

NOW = datetime(2026, 5, 12, 9, 20, tzinfo=UTC)  # a Tuesday; 10:20 in London


@pytest.fixture(autouse=True)
def _in_london():
    with time_machine.travel(NOW, tick=False), timezone.override(ZoneInfo("Europe/London")):
        yield


def at(text):
    return np.datetime64(text)


@pytest.mark.parametrize(
    ("when", "words"),
    [
        ("2026-05-12T13:20", "today 14:20"),
        ("2026-05-12T22:59", "today 23:59"),
        ("2026-05-12T23:00", "tomorrow 00:00"),
        ("2026-05-13T08:00", "tomorrow 09:00"),
        ("2026-05-11T08:00", "yesterday 09:00"),
        ("2026-05-14T13:20", "Thu 14:20"),
        ("2026-05-18T13:20", "Mon 14:20"),
        ("2026-05-19T13:20", "Tue 19 May 14:20"),
        ("2026-05-10T13:20", "Sun 10 May 14:20"),
        ("2027-01-04T13:20", "Mon 4 Jan 2027 13:20"),
    ],
)
def test_it_says_when_on_the_workshops_clock(when, words):
    assert clock(at(when)) == words
    assert clock(datetime.fromisoformat(when).replace(tzinfo=UTC)) == words


def test_what_has_no_time_is_not_known():
    assert [word(None) for word in (clock, clock_day, clock_time, weekday, duration, ago)] == ["not known"] * 6
    assert clock(np.datetime64("NaT", "s")) == "not known"
    assert from_until(at("2026-05-12T09"), np.datetime64("NaT", "s")) == "not known"


def test_a_zone_of_a_half_hour_shows_its_half_hours():
    with timezone.override(ZoneInfo("Asia/Kolkata")):
        assert clock(at("2026-05-12T13:00")) == "today 18:30"
        assert clock(at("2026-05-12T18:30")) == "tomorrow 00:00"


def test_the_hour_that_clocks_pass_twice_says_which():
    with time_machine.travel("2026-10-24T12:00Z", tick=False):
        assert clock(at("2026-10-25T00:30")) == "tomorrow 01:30 BST"
        assert clock(at("2026-10-25T01:30")) == "tomorrow 01:30 GMT"
        assert clock(at("2026-10-25T02:30")) == "tomorrow 02:30"


def test_the_hour_that_clocks_skip_is_not_shown():
    with time_machine.travel("2026-03-28T12:00Z", tick=False):
        assert clock(at("2026-03-29T00:30")) == "tomorrow 00:30"
        assert clock(at("2026-03-29T01:30")) == "tomorrow 02:30"


def test_days_as_headings():
    assert clock_day(at("2026-05-12T23:00")) == "tomorrow"
    assert clock_day(at("2026-05-14T23:00")) == "Friday 15 May"
    assert weekday(at("2026-05-14T23:00")) == "Fri"
    assert [short_day(at(f"2026-05-{day}T12")) for day in (13, 15, 22)] == ["tomorrow", "Fri", "Fri 22 May"]


@pytest.mark.parametrize(
    ("begin", "end", "words"),
    [
        ("2026-05-14T09", "2026-05-14T15", "Thu 10:00–16:00"),
        ("2026-05-14T21", "2026-05-15T01", "Thu 22:00–Fri 02:00"),
        ("2026-05-12T17", "2026-05-12T23", "today 18:00–midnight"),
        ("2026-05-12T17", "2026-05-13T23", "today 18:00–Thu 00:00"),
    ],
)
def test_from_until(begin, end, words):
    assert from_until(at(begin), at(end)) == words


def test_what_runs_already_is_told_by_its_end():
    assert from_until(at("2026-05-12T09"), at("2026-05-12T15"), True) == "now until 16:00"
    assert from_until(at("2026-05-12T09"), at("2026-05-13T15"), True) == "now until tomorrow 16:00"


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (0, "no time"),
        (0.004, "less than a minute"),
        (25 / 60, "25 min"),
        (2.5, "2 h 30 min"),
        (2, "2 h"),
        (1.999, "2 h"),
        (26.4, "26 h"),
        (48, "2 days"),
        (72, "3 days"),
        (76, "3 days 4 h"),
        (24 * 30 + 2, "30 days"),
        (float("inf"), "without end"),
        (float("nan"), "not known"),
        (timedelta(minutes=90), "1 h 30 min"),
        (Quantity(90, "minute"), "1 h 30 min"),
        ("", "not known"),
    ],
)
def test_how_long(hours, words):
    assert duration(hours) == words


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0.5, "just now"),
        (25, "25 min ago"),
        (95, "1 h 35 min ago"),
        (9 * 60 + 12, "9 h ago"),
        (60 * 24 * 4, "4 days ago"),
        (-25, "in 25 min"),
    ],
)
def test_how_long_ago(minutes, words):
    assert ago(NOW - timedelta(minutes=minutes)) == words
