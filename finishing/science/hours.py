"""Hours: a run of hourly outside air; what every forecast, file and indoor place becomes.

Time is UTC, hour by hour without a break in the index; what is not known is NaN, and NaN is never good.
Value i stands for the hour that begins at `start + i`; between two hours air runs straight.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

HOUR = np.timedelta64(1, "h")


@dataclass(frozen=True, eq=False)
class Hours:
    """Hourly air as bare arrays of one length, in the units named here.

    temperature °C · humidity % (0–100) · dew_point °C · wind m/s · cloud 0–1 · sun W/m² (global horizontal)
    rain mm in the hour · rain_chance 0–1 · coarse: True where a six-hourly block was spread over its hours.
    """

    start: np.datetime64  # UTC, whole hour
    temperature: Floats
    humidity: Floats
    dew_point: Floats
    wind: Floats
    cloud: Floats
    sun: Floats
    rain: Floats
    rain_chance: Floats
    coarse: Flags = field(default=None)  # type: ignore[assignment]

    def __len__(self) -> int:
        return len(self.temperature)
