"""What a restorer is told through three open years: hours bare, share of hours to coat in, hours to dry, by season.

Iron of 30 mm wall with salts not known, under the sky, a roof and in a shop held at 18 °C; a primer or enamel of alkyd
by its published times. Everything is asked at each full hour from 8 to 17 o'clock. The river plain's file knows no
rain, so its yard is told better than it was.
"""

from dataclasses import replace

import numpy as np
import pytest

from finishing.science import drying, rust, windows
from finishing.science.drying import DryingTable, SheetRow
from finishing.science.metal import metal_temperature
from finishing.science.windows import Gates
from tests.open_years import open_years

SEASONS = {"winter": (12, 1, 2), "spring": (3, 4, 5), "summer": (6, 7, 8), "autumn": (9, 10, 11)}
CLOCK = {"inland": -5, "cold coast": -9, "river plain": 1}  # hours from UTC
PLACES = {
    "yard": ("outdoor", lambda hours: hours.in_yard()),
    "roof": ("outdoor", lambda hours: hours.under_roof()),
    "shop": ("still indoor", lambda hours: hours.in_shop(18)),
}
ALKYD = DryingTable(
    (SheetRow(10, touch=10, recoat_from=30), SheetRow(23, touch=5, recoat_from=15)), 5, generic_type="alkyd enamel"
)
GATES, APPLICATION = Gates(temperature_min=5, temperature_max=35), 1.0


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("year", CLOCK)
def test_a_year_as_it_is_told(year, place):
    shelter, there = PLACES[place]
    whole = open_years()[year]
    hours = there(replace(whole, rain=np.nan_to_num(whole.rain)))
    metal = metal_temperature(hours, 0.015, shelter=shelter, sky=True)
    starts = np.arange(len(hours), dtype=float)
    clock = (hours.times + np.timedelta64(CLOCK[year], "h")).astype("datetime64[h]")
    month, hour = clock.astype("datetime64[M]").astype(int) % 12 + 1, clock.astype(int) % 24
    at_work = (hour >= 8) & (hour < 18)

    bare = rust.coat_before(hours, metal, begin=starts)
    done = starts + APPLICATION
    reached = {
        stage: drying.dried(ALKYD, stage, metal, hours.humidity, done)
        for stage in (ALKYD.set_stage, ALKYD.dew_safe_stage)
    }
    set_at, left_at = reached.values()
    refused = windows.refusals(
        hours, metal, GATES, working=at_work, application_h=APPLICATION, set_at=set_at, left_at=left_at
    )
    allowed = refused == 0
    wet = metal <= hours.dew_point
    for season, months in SEASONS.items():
        asked = at_work & np.isin(month, months) & ~np.isnan(metal + hours.dew_point)
        asked[-round(rust.HARD_CAP.value) :] = False  # the year ends before they are told
        told = {
            "bare_h": (np.median((bare.coat_before - starts)[asked]), "h"),
            "bare_a_tenth_below_h": (np.quantile((bare.coat_before - starts)[asked], 0.1), "h"),
            "sweats_pct": (100 * np.mean(wet[asked]), "%"),
            "may_coat_pct": (100 * np.mean(allowed[asked]), "%"),
        }
        for stage, end in reached.items():
            took = (end - done)[asked & allowed]
            told[f"{stage}_h"] = (np.median(took) if len(took) else np.nan, "h")
        for what, (value, unit) in told.items():
            print(f"figure year.{year.replace(' ', '_')}_{place}.{season}.{what} {value:.1f} {unit}")
    spoilt = [wet[start : int(np.ceil(left_at[start]))].any() for start in np.flatnonzero(allowed)]
    assert not any(spoilt)
    assert allowed.any()
