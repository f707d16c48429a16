"""A typical year: months of different years joined to one, by hour of the year, and set into any calendar year.

Such a file is no record of any year. It stands in local standard time, and its columns run by hour of the year:
value i is the air i hours after midnight of 1 January (sun and rain: of the hour that begins there). It is a ring:
the midnight that ends it is the one that begins it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import ArrayLike, NDArray

from finishing.science.hours import COLUMNS, PLAUSIBLE, Floats, Hours

DAY = 24
DEGREES_AN_HOUR = 15
COMMON, LEAP = 365 * DAY, 366 * DAY
LEAP_DAY = slice(59 * DAY, 60 * DAY)  # 29 February
MONTHS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


MOST_RAIN = 100.0  # mm in an hour; beyond it these files hold codes and slips, and no rain
PERIOD_MISSING = (0.0, 99.0)


class TypicalYearUnreadable(ValueError):
    """A file that is no typical year, or not a whole one, in words that may be shown to a person."""


@dataclass(frozen=True)
class Station:
    """Where a file was made for; offset in hours from UTC, of its standard time."""

    name: str
    latitude: float
    longitude: float
    offset: float

    def hours_behind(self, longitude: float) -> int:
        """Whole hours by which noon comes later at another longitude; none near by."""
        return round((self.longitude - longitude) / DEGREES_AN_HOUR)


@dataclass(frozen=True, eq=False)
class TypicalYear:
    """Columns by hour of the year, 8,760 of them or 8,784 where the file has a 29 February; NaN is not known."""

    station: Station
    form: str  # what the file is, "EPW"
    columns: dict[str, Floats]
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.columns["temperature"])

    def in_year(self, year: int, longitude: float | None = None) -> Hours:
        """The year as if it were this one, UTC; of another longitude, with the sun as it stands there.

        A leap day that the file lacks is its 28 February over again; one that this year lacks is left out."""
        moved = 0 if longitude is None else self.station.hours_behind(longitude)
        shift = round(self.station.offset) - moved
        columns = {name: np.roll(_fitted(values, year), -shift) for name, values in self.columns.items()}
        return Hours.from_arrays(np.datetime64(f"{year}-01-01T00"), **columns)


def rain_of_the_hour(depth: ArrayLike, period: ArrayLike) -> Floats:
    """Rain where the period it fell in is the hour, or is not told; what fell in several hours is nobody's hour."""
    fell, long = np.asarray(depth, float), np.asarray(period, float)
    of_the_hour = (long == 1) | np.isnan(long) | np.isin(long, PERIOD_MISSING)
    return np.where(of_the_hour & (fell <= MOST_RAIN), fell, np.nan)


def _fitted(values: Floats, year: int) -> Floats:
    leap = (date(year + 1, 1, 1) - date(year, 1, 1)).days == 366
    if leap == (len(values) == LEAP):
        return values
    if not leap:
        return np.delete(values, LEAP_DAY)
    again = LEAP_DAY.start
    return np.insert(values, again, values[again - DAY : again])


def typical_year(
    form: str, station: Station, stamps: ArrayLike, instants: Mapping[str, ArrayLike], ending: Mapping[str, ArrayLike]
) -> TypicalYear:
    """Put rows in their places. stamps: (n, 3) month, day and hour 1 to 24 of each row; an instant stands at that
    hour, what is `ending` there belongs to the hour before. Values that cannot be true, as the codes for missing
    ones are, are not known. Hours without a row are not known either."""
    months, days, hours = (np.asarray(part, float) for part in np.asarray(stamps, float).T)
    _check_stamps(months, days, hours)
    leap = bool(((months == 2) & (days == 29)).any())
    count = LEAP if leap else COMMON
    at = (_days_before(months, leap) + days - 1).astype(int) * DAY + hours.astype(int)  # 1 … count
    _check_once(at, count)
    columns = {name: _placed(name, values, at % count, count) for name, values in instants.items()}
    columns |= {name: _placed(name, values, at - 1, count) for name, values in ending.items()}
    columns = {name: columns.get(name, np.full(count, np.nan)) for name in COLUMNS}
    _check_air(columns)
    return TypicalYear(station, form, columns, tuple(_notes(len(at), leap, station, columns)))


def _check_stamps(months: Floats, days: Floats, hours: Floats) -> None:
    longest = np.array([0, *MONTHS])[np.where((months >= 1) & (months <= 12), months, 0).astype(int)]
    wrong = ~((days >= 1) & (days <= longest) & (hours >= 1) & (hours <= DAY)) | (hours % 1 != 0)
    if wrong.any():
        row = int(np.argmax(wrong))
        raise TypicalYearUnreadable(
            f"Hour {row + 1} of the file is dated month {months[row]:g}, day {days[row]:g}, hour {hours[row]:g},"
            " and there is no such hour: hours run from 1 to 24."
        )


def _days_before(months: Floats, leap: bool) -> NDArray[np.int_]:
    lengths = [29 if leap and month == 2 else 28 if month == 2 else days for month, days in enumerate(MONTHS, start=1)]
    return np.cumsum([0, *lengths])[months.astype(int) - 1]


def _check_once(at: NDArray[np.int_], count: int) -> None:
    times = np.bincount(at - 1, minlength=count)
    if times.max() > 1:
        twice = int(np.argmax(times > 1))
        new_year = date(2024 if count == LEAP else 2023, 1, 1)
        day = new_year + timedelta(days=twice // DAY)
        raise TypicalYearUnreadable(
            f"{int((times > 1).sum()):,} hours stand in it more than once, the first is hour {twice % DAY + 1}"
            f" of {day.day} {day:%B}: one year has each hour once."
        )


def _placed(name: str, values: ArrayLike, at: NDArray[np.int_], count: int) -> Floats:
    low, high, _ = PLAUSIBLE[name]
    numbers = np.asarray(values, float)
    column = np.full(count, np.nan)
    column[at] = np.where((numbers >= low) & (numbers <= high), numbers, np.nan)
    return column


def _check_air(columns: dict[str, Floats]) -> None:
    if np.isnan(columns["temperature"]).all():
        raise TypicalYearUnreadable("It holds no air temperature, so nothing can be reckoned from it.")
    if np.isnan(columns["humidity"]).all() and np.isnan(columns["dew_point"]).all():
        raise TypicalYearUnreadable("It holds neither humidity nor dew point, so nothing can be reckoned from it.")


def _notes(rows: int, leap: bool, station: Station, columns: dict[str, Floats]) -> Iterator[str]:
    count = LEAP if leap else COMMON
    known = {name: int((~np.isnan(values)).sum()) for name, values in columns.items()}
    if leap:
        yield "A leap year of 8,784 hours; its 29 February is left out where the year reckoned with has none."
    if rows < count:
        yield f"{rows:,} of {count:,} hours stand in it; the others are not known."
    if known["temperature"] < rows:
        missing = rows - known["temperature"]
        yield f"In {missing:,} of its hours the air temperature is missing or cannot be true; they are not known."
    for name in ("wind", "cloud", "sun", "rain"):
        if known[name] < rows:
            yield f"It tells {name} in {known[name]:,} of its hours." if known[name] else f"It tells no {name}."
    if station.offset % 1:
        yield f"Its clock stands {station.offset:+g} h from UTC; read in whole hours it is up to half an hour off."
