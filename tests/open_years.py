"""Two open years of hourly weather, from the data that come with pvlib: typical years of the US (TMY3)."""

from pathlib import Path

import numpy as np
import pvlib

from finishing.science.hours import Hours

DATA = Path(pvlib.__file__).parent / "data"
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


def open_years() -> dict[str, Hours]:
    return {"inland": open_year("723170TYA.CSV"), "cold coast": open_year("703165TY.csv")}
