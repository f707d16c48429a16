"""Times as loggers write them. When clocks change is the IANA time zone database's word, through zoneinfo."""

from datetime import UTC, datetime, timedelta

import pytest

from finishing.weather.logger import parse_logger

HEADING = "Time;Temp (°C);RH (%)\n"


def at(*moment):
    return datetime(*moment, tzinfo=UTC)


def read(times, zone="UTC", day_first=None, heading=HEADING):
    text = heading + "".join(f"{time};16;60\n" for time in times)
    return parse_logger(text.encode(), zone, day_first)


def moments(times, zone="UTC", **how):
    found = read(times, zone, **how)
    assert found.bad_lines == []
    return [reading.time for reading in found.readings]


@pytest.mark.parametrize(
    "written",
    [
        "2026-05-13 14:30",
        "2026-05-13T14:30:00",
        "2026-05-13T14:30:00.000Z",
        "2026-05-13T16:30:00+02:00",
        "2026-05-13T20:00+0530",
        "2026/05/13 14:30:00",
        "13.05.2026 14:30",
        "13.5.26 14:30",
        "13/05/2026 14:30:00",
        "13-05-2026 14:30",
        "05/13/2026 02:30:00 PM",
        "5/13/26 2:30 p.m.",
        "13/05/2026 14.30",
        "13/05/2026, 14:30",
    ],
)
def test_dates_in_their_usual_forms(written):
    assert moments([written]) == [at(2026, 5, 13, 14, 30)]


def test_midnight_and_noon_of_the_twelve_hour_clock():
    assert moments(["05/13/2026 12:05 AM", "05/13/2026 12:05 PM"]) == [at(2026, 5, 13, 0, 5), at(2026, 5, 13, 12, 5)]


def test_date_and_time_in_columns_of_their_own():
    found = parse_logger(b"Date;Time;Temp C;RH %\n13/05/2026;14:30;16;60\n", "UTC")
    assert found.readings[0].time == at(2026, 5, 13, 14, 30)


def test_one_date_over_twelve_decides_for_the_whole_file():
    assert moments(["12/05/2026 10:00", "13/05/2026 10:00"]) == [at(2026, 5, 12, 10), at(2026, 5, 13, 10)]
    assert moments(["05/12/2026 10:00", "05/13/2026 10:00"]) == [at(2026, 5, 12, 10), at(2026, 5, 13, 10)]


def test_dates_that_could_be_either_are_asked_about():
    found = read(["03/04/2026 10:00", "04/04/2026 10:00"])
    assert found.ambiguous_dates
    assert "day first" in found.notes[-1]
    assert found.readings[0].time == at(2026, 4, 3, 10)
    told = read(["03/04/2026 10:00"], day_first=False)
    assert not told.ambiguous_dates
    assert told.readings[0].time == at(2026, 3, 4, 10)


def test_a_line_against_the_rest_of_the_file_is_refused():
    found = read(["13/05/2026 10:00", "14/05/2026 10:00", "05/15/2026 10:00"])
    assert [bad.number for bad in found.bad_lines] == [4]
    assert "no such date" in found.bad_lines[0].reason


def test_a_heading_that_names_its_zone_is_believed():
    found = parse_logger(b'"Date Time, GMT-04:00","Temp, (\xc2\xb0C)","RH, %"\n05/13/26 10:00,16,60\n', "Europe/London")
    assert found.readings[0].time == at(2026, 5, 13, 14)
    assert "UTC-04:00" in found.notes[-1]


def test_a_half_hour_zone():
    assert moments(["2026-05-13 10:00"], "Asia/Kolkata") == [at(2026, 5, 13, 4, 30)]


def test_spring_in_london_has_no_half_past_one():
    """29 March 2026: 01:00 GMT is 02:00 BST."""
    found = read(["2026-03-29 00:30", "2026-03-29 01:30", "2026-03-29 02:30"], "Europe/London")
    assert [reading.time for reading in found.readings] == [at(2026, 3, 29, 0, 30), at(2026, 3, 29, 1, 30)]
    assert [bad.number for bad in found.bad_lines] == [3]
    assert "01:30 does not exist on 29 Mar 2026" in found.bad_lines[0].reason
    assert "winter time" in found.bad_lines[0].reason


def test_autumn_in_london_has_half_past_one_twice():
    """25 October 2026: 02:00 BST is 01:00 GMT."""
    written = [f"2026-10-25 {clock}" for clock in ("00:30", "01:00", "01:30", "01:00", "01:30", "02:00")]
    found = read(written, "Europe/London")
    assert found.bad_lines == []
    half_hours = [at(2026, 10, 24, 23, 30) + n * timedelta(minutes=30) for n in range(6)]
    assert [reading.time for reading in found.readings] == half_hours
    assert found.notes == [
        "4 lines from line 3 stand in the hour that clocks pass twice in autumn:"
        " they count as its first pass until the time repeats itself, then as its second."
    ]


def test_autumn_on_lord_howe_repeats_half_an_hour():
    """5 April 2026: 02:00 (UTC+11) is 01:30 (UTC+10:30)."""
    written = [f"2026-04-05 {clock}" for clock in ("01:15", "01:30", "01:45", "01:30", "01:45", "02:00")]
    found = read(written, "Australia/Lord_Howe")
    assert found.bad_lines == []
    quarters = [at(2026, 4, 4, 14, 15) + n * timedelta(minutes=15) for n in range(6)]
    assert [reading.time for reading in found.readings] == quarters


def test_spring_on_lord_howe_skips_half_an_hour():
    """4 October 2026: 02:00 (UTC+10:30) is 02:30 (UTC+11)."""
    found = read(["2026-10-04 01:45", "2026-10-04 02:15", "2026-10-04 02:30"], "Australia/Lord_Howe")
    assert [bad.number for bad in found.bad_lines] == [3]
    assert [reading.time for reading in found.readings] == [at(2026, 10, 3, 15, 15), at(2026, 10, 3, 15, 30)]


def test_a_zone_without_summer_time_skips_and_repeats_nothing():
    clocks = [f"2026-03-29 {hour:02}:30" for hour in range(24)]
    assert len(moments(clocks, "Asia/Kolkata")) == 24


def test_newest_first_is_turned_round():
    found = read(["2026-05-13 12:00", "2026-05-13 11:00", "2026-05-13 10:00"])
    assert [reading.time.hour for reading in found.readings] == [10, 11, 12]
    assert "newest line stands first" in found.notes[0]


def test_a_clock_set_back_is_reported_and_no_time_is_kept_twice():
    found = read([f"2026-05-13 {clock}" for clock in ("10:00", "11:00", "12:00", "11:00", "12:00", "13:00", "14:00")])
    assert [reading.time.hour for reading in found.readings] == [10, 11, 12, 13, 14]
    assert len(found.bad_lines) == 2
    assert "The clock jumps back 1 times, first at line 5" in found.notes[0]
    assert all("again" in bad.reason for bad in found.bad_lines)


def test_one_line_from_the_far_future_costs_one_line():
    found = read(["2026-05-13 10:00", "2080-01-01 00:00", "2026-05-13 11:00", "2026-05-13 12:00"])
    assert [reading.time.hour for reading in found.readings] == [10, 11, 12]
    assert [bad.number for bad in found.bad_lines] == [3]
    assert "out of order" in found.bad_lines[0].reason


def test_the_same_time_again_is_reported():
    found = read(["2026-05-13 10:00", "2026-05-13 10:00", "2026-05-13 11:00"])
    assert [str(bad) for bad in found.bad_lines] == ["Line 3: has the time of line 2 again."]
