"""EPW, the weather file of building simulation: a typical year (or a real one) of hourly air for one place.

Eight lines of heading, then a line an hour with up to 35 values, after the EnergyPlus documentation. An hour is
numbered 1 to 24 by its end; air is of that moment, sun and rain are of the hour before it. The lines are read by
pvlib; what it would let pass in silence is looked at here first.
"""

from collections.abc import Sequence
from io import StringIO
from typing import Any

import numpy as np

from .typical_year import Station, TypicalYear, TypicalYearUnreadable, rain_of_the_hour, typical_year

FORM = "EPW"
MARK = "LOCATION,"
HEADING = 8  # lines
FIELDS = 35
LEAST_FIELDS = 9  # up to the humidity: without it a line tells nothing to us
PLACE_FIELDS = 10
DAMPEST = 110.0  # % that the format allows; above 100 the air is saturated


def parse_epw(text: str) -> TypicalYear:
    """The year of a file's text; TypicalYearUnreadable says what is wrong with it."""
    lines = text.splitlines()
    _check(lines)
    frame, about = _frame(lines[:HEADING] + [_filled(line) for line in lines[HEADING:] if line.strip()])
    damp = frame["relative_humidity"].to_numpy()
    return typical_year(
        FORM,
        Station(about["city"].strip().title(), about["latitude"], about["longitude"], about["TZ"]),
        frame[["month", "day", "hour"]].to_numpy(),
        {
            "temperature": frame["temp_air"],
            "dew_point": frame["temp_dew"],
            "humidity": np.where(damp <= DAMPEST, np.minimum(damp, 100), np.nan),
            "wind": frame["wind_speed"],
            "cloud": frame["total_sky_cover"] / 10,
        },
        {
            "sun": frame["ghi"],
            "rain": rain_of_the_hour(frame["liquid_precipitation_depth"], frame["liquid_precipitation_quantity"]),
        },
    )


def _check(lines: Sequence[str]) -> None:
    if not lines or not lines[0].upper().startswith(MARK):
        raise TypicalYearUnreadable(f"It does not begin with {MARK[:-1]}, so it is no EPW file.")
    if len(lines) <= HEADING:
        raise TypicalYearUnreadable("It ends before its hours begin: an EPW has 8 lines of heading.")
    if lines[0].count(",") + 1 < PLACE_FIELDS:
        raise TypicalYearUnreadable("Its first line does not say where it is for: latitude, longitude and time zone.")
    for number, line in enumerate(lines[HEADING:], start=HEADING + 1):
        fields = line.count(",") + 1
        if line.strip() and not LEAST_FIELDS <= fields <= FIELDS:
            raise TypicalYearUnreadable(
                f"Line {number} has {fields} column{'' if fields == 1 else 's'}; an hour of an EPW has {FIELDS},"
                " with air temperature, dew point and humidity as the 7th to 9th."
            )


def _filled(line: str) -> str:
    """Columns left off at the end of a line are values that are missing."""
    return line + "," * (FIELDS - 1 - line.count(","))


def _frame(lines: Sequence[str]) -> tuple[Any, dict[str, Any]]:
    import pandas  # takes seconds to load, as pvlib does with it, and only who hands in a file should wait for that
    import pvlib

    try:
        frame, about = pvlib.iotools.read_epw(StringIO("\n".join(lines)), coerce_year=2024)
        # a word where a number should stand is a value that is missing
        return frame.apply(pandas.to_numeric, errors="coerce"), about
    except (ValueError, KeyError, TypeError, IndexError, OverflowError) as error:
        raise TypicalYearUnreadable(f"Its lines could not be read as an EPW's: {str(error)[:120]}") from error
