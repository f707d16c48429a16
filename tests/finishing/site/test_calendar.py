"""The workshop's clock over whole years, against the standard library's zones asked hour by hour."""

from datetime import UTC, date, time
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from finishing.site.calendar import on_clock, week_of_year
from finishing.workshops.models import DayOff

YEAR = np.datetime64("2025-01-01T00") + np.arange(8760) * np.timedelta64(1, "h")


def shown(zone):
    moments = YEAR.astype("datetime64[s]").tolist()
    return [moment.replace(tzinfo=UTC).astimezone(ZoneInfo(zone)).replace(tzinfo=None) for moment in moments]


@pytest.mark.parametrize(
    "zone", ["UTC", "Europe/London", "America/New_York", "Asia/Kolkata", "Australia/Lord_Howe", "America/Santiago"]
)
def test_every_hour_of_a_year_is_shown_as_the_clock_shows_it(zone):
    np.testing.assert_array_equal(on_clock(YEAR, ZoneInfo(zone)), np.array(shown(zone), "datetime64[m]"))


def test_weeks_are_counted_from_the_first_of_january_of_that_clock():
    weeks = week_of_year(YEAR, ZoneInfo("America/New_York"))
    assert weeks[:6].tolist() == [51] * 5 + [0]  # in New York the old year has five hours left
    lengths = np.bincount(weeks, minlength=52)[1:51].tolist()
    assert sorted(lengths) == [167, *[168] * 48, 169]  # two of them move the clock
    assert weeks.max() == 51


@pytest.mark.django_db
def test_working_hours_are_as_the_clock_on_the_wall_has_them(workshop):
    workshop.work_from, workshop.work_until, workshop.work_days = time(8, 30), time(17), "1111100"
    DayOff.objects.create(workshop=workshop, first=date(2025, 8, 4), last=date(2025, 8, 8))
    in_london = shown("Europe/London")
    inside = [8 * 60 + 30 <= m.hour * 60 + m.minute <= 16 * 60 and m.weekday() < 5 for m in in_london]
    off = [date(2025, 8, 4) <= moment.date() <= date(2025, 8, 8) for moment in in_london]
    assert workshop.usual_hours(YEAR).tolist() == inside
    assert workshop.working_hours(YEAR).tolist() == [a and not b for a, b in zip(inside, off, strict=True)]
    summer = np.arange("2025-07-01T06", "2025-07-01T10", dtype="datetime64[h]")
    assert workshop.usual_hours(summer).tolist() == [False, False, True, True]  # 7, 8, 9 and 10 by the wall
