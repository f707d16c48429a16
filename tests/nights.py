"""Nights of an open year on which the air alone stays dry and iron under the open sky dews."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from finishing.science.hours import Hours
from finishing.science.metal import metal_temperature
from finishing.science.windows import Gates, Reason, weather_reasons

STANDARD_TIME = {"inland": -5, "cold coast": -9, "river plain": 1}  # hours from UTC, of each open year's station
WALL = 0.006  # m, volume by area: a casting of 12 mm wall
WHOLE_PIECE, FLAT_TOP = 0.5, 1.0  # share of a piece's view that is sky
SHORTEST = 4  # hours without sun: what is shorter is no night


@dataclass(frozen=True)
class Nights:
    """One value a night: whether the rule passed the air alone all night, and whether the iron met its dew point."""

    evenings: Any
    air_passes: Any
    iron_refused: Any
    dewed: Any

    @property
    def missed(self) -> Any:
        return self.air_passes & self.dewed


def nights(name: str, hours: Hours, sky_view: float = WHOLE_PIECE, sky: bool = True) -> Nights:
    """Each night judged by the rule of 3 °C, once on the air's own temperature and once on the iron's."""
    iron = metal_temperature(hours, WALL, sky=sky, sky_view=sky_view)
    by_air, by_iron = (_near(hours, surface) for surface in (hours.temperature, iron))
    wet = iron <= hours.dew_point
    evening = (hours.times + np.timedelta64(STANDARD_TIME[name] - 12, "h")).astype("datetime64[D]")
    found = [
        (day, dark) for day in np.unique(evening) if (dark := (evening == day) & (hours.sun == 0)).sum() >= SHORTEST
    ]
    judged = [(not by_air[dark].any(), by_iron[dark].any(), wet[dark].any()) for _, dark in found]
    return Nights(np.array([day for day, _ in found]), *np.array(judged).T)


def _near(hours: Hours, surface: Any) -> Any:
    return (weather_reasons(hours, surface, Gates(margin=3.0)) & Reason.MARGIN) > 0
