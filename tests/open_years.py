"""Three open years of hourly weather, from data that come with general-purpose libraries.

Two typical years of the US (TMY3) are in pvlib; a typical year of Mannheim, by the German weather service, is in
teaser (MIT), which reckons the heat of buildings.
"""

from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pvlib

from finishing.science.hours import Hours

DATA = Path(pvlib.__file__).parent / "data"
MANNHEIM = "data/input/inputdata/weatherdata/DEU_BW_Mannheim_107290_TRY2010_12_Jahr_BBSR.mos"
MOST_RAIN = 100.0  # mm in an hour; beyond it, and below zero, the files hold codes and not rain


def open_year(name: str) -> Hours:
    """Greensboro or Sand Point as one run of 8,760 hours; the file's sun and rain are of the hour that ends there."""
    frame, _ = pvlib.iotools.read_tmy3(DATA / name, coerce_year=1990, map_variables=True)
    hour_ending = {"sun": frame["ghi"].to_numpy(float), "rain": frame["Lprecip depth (mm)"].to_numpy(float)}
    columns = {what: np.append(values[1:], np.nan) for what, values in hour_ending.items()}
    columns["rain"][(columns["rain"] < 0) | (columns["rain"] > MOST_RAIN)] = np.nan
    return Hours.from_arrays(
        frame.index[0].to_pydatetime(),
        temperature=frame["temp_air"],
        humidity=frame["relative_humidity"],
        dew_point=frame["temp_dew"],
        wind=frame["wind_speed"],
        cloud=frame["TotCld (tenths)"] / 10,
        **columns,
    )


def river_plain() -> Hours:
    """Mannheim, 8,760 hours in UTC+1; the file knows no rain, so it is read as if none fell.

    Its columns: seconds since the year began, air and dew point (°C), humidity (%), …, the 9th global sun (Wh/m²), the
    17th wind (m/s), the 18th cloud (tenths). The sun is of the hour around the instant (so it agrees best with a clear
    sky's): that of the hour which begins there is the mean of two rows.
    """
    spec = find_spec("teaser")  # found and not imported: its reckoning is none of ours
    assert spec is not None
    assert spec.origin is not None
    text = (Path(spec.origin).parent / MANNHEIM).read_text(encoding="utf-8")
    table = np.array([line.split() for line in text.splitlines() if line[:1] not in "#d"], float)
    return Hours.from_arrays(
        datetime(2009, 12, 31, 23, tzinfo=UTC),
        temperature=table[:, 1],
        dew_point=table[:, 2],
        humidity=table[:, 3],
        sun=np.append((table[1:, 8] + table[:-1, 8]) / 2, np.nan),
        wind=table[:, 16],
        cloud=table[:, 17] / 10,
        rain=0.0,
        rain_chance=0.0,
    )


def open_years() -> dict[str, Hours]:
    return {
        "inland": open_year("723170TYA.CSV"),
        "cold coast": open_year("703165TY.csv"),
        "river plain": river_plain(),
    }
