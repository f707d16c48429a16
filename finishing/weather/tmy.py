"""The older typical years, TMY3 (comma-separated) and TMY2 (fixed columns), as the US published them.

Hours are numbered by their end, as in an EPW. Both are read by pvlib.
"""

import re
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from .typical_year import Station, TypicalYear, TypicalYearUnreadable, rain_of_the_hour, typical_year

DATE, TIME = "Date (MM/DD/YYYY)", "Time (HH:MM)"
NEEDED_3 = (DATE, TIME, "Dry-bulb (C)")
# number of the station, name, state, hours from Greenwich, latitude, longitude, height
HEAD_2 = re.compile(
    r" (?P<number>.{5}) (?P<name>.{22}) (?P<state>.{2}) +(?P<zone>-?\d+) (?P<ns>[NS]) +\d+ +\d+ (?P<ew>[EW]) +\d+ +\d+"
)
TENTHS = 0.1


def parse_tmy3(text: str) -> TypicalYear:
    """The year of a TMY3 file's text; TypicalYearUnreadable says what is wrong with it."""
    missing = [name for name in NEEDED_3 if name not in (text.splitlines() + ["", ""])[1]]
    if missing:
        raise TypicalYearUnreadable(f"Its second line names no column “{missing[0]}”, so it is no TMY3 file.")
    frame, about = _read("TMY3", lambda library: library.read_tmy3(StringIO(text), map_variables=False))
    months = frame[DATE].str[:2].astype(int)
    stamps = np.column_stack([months, frame[DATE].str[3:5].astype(int), frame[TIME].str[:2].astype(int)])

    def column(name: str) -> Any:
        return frame[name] if name in frame else np.full(len(frame), np.nan)

    return typical_year(
        "TMY3",
        Station(about["Name"].strip(' "').title(), about["latitude"], about["longitude"], about["TZ"]),
        stamps,
        {
            "temperature": column("Dry-bulb (C)"),
            "dew_point": column("Dew-point (C)"),
            "humidity": column("RHum (%)"),
            "wind": column("Wspd (m/s)"),
            "cloud": column("TotCld (tenths)") / 10,
        },
        {
            "sun": column("GHI (W/m^2)"),
            "rain": rain_of_the_hour(column("Lprecip depth (mm)"), column("Lprecip quantity (hr)")),
        },
    )


def parse_tmy2(text: str) -> TypicalYear:
    """The year of a TMY2 file's text, which knows no rain; TypicalYearUnreadable says what is wrong with it."""
    head, _, hours = text.partition("\n")
    heading = HEAD_2.match(head)
    if not heading:
        raise TypicalYearUnreadable("Its first line does not name a station as a TMY2 file's does.")
    # The library parts the heading at its blanks, so a name of two words would move all that follows.
    plain = head.replace(heading["name"], heading["name"].strip().replace(" ", "_").ljust(22), 1)
    frame, about = _read("TMY2", lambda library: _through_a_file(library, f"{plain}\n{hours}"))
    return typical_year(
        "TMY2",
        Station(heading["name"].strip().title(), about["latitude"], about["longitude"], about["TZ"]),
        frame[["month", "day", "hour"]].to_numpy(),
        {
            "temperature": frame["DryBulb"] * TENTHS,
            "dew_point": frame["DewPoint"] * TENTHS,
            "humidity": frame["RHum"],
            "wind": frame["Wspd"] * TENTHS,
            "cloud": frame["TotCld"] / 10,
        },
        {"sun": frame["GHI"]},
    )


def _read(form: str, reader: Any) -> tuple[Any, dict[str, Any]]:
    import pvlib  # pandas behind it takes seconds to load, and only who hands in a file should wait for that

    try:
        frame, about = reader(pvlib.iotools)
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, OverflowError) as error:
        raise TypicalYearUnreadable(f"Its lines could not be read as a {form}'s: {str(error)[:120]}") from error
    return frame, about


def _through_a_file(library: Any, text: str) -> Any:
    """The library wants TMY2 from a file."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "year.tm2"
        path.write_text(text, encoding="ascii", errors="replace")
        return library.read_tmy2(str(path))
