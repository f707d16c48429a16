"""How many nights of three open years the rule of 3 °C misses when it is asked of the air and not of the iron."""

import pytest

from tests.nights import FLAT_TOP, WHOLE_PIECE, nights
from tests.open_years import open_years


@pytest.mark.parametrize(("view", "kind"), [(WHOLE_PIECE, ""), (FLAT_TOP, ".flat_top")])
def test_nights_that_the_air_alone_calls_dry(view, kind):
    for name, hours in open_years().items():
        found, sheltered = nights(name, hours, view), nights(name, hours, view, sky=False)
        year = name.replace(" ", "_")
        print(f"\n{year}{kind}: {len(found.dewed)} nights, {found.air_passes.sum()} dry by the air's own margin,")
        print(f"{found.dewed.sum()} with wet iron under the sky, {sheltered.dewed.sum()} by lag alone")
        print("missed:", *found.evenings[found.missed])
        print(f"figure sky.missed_nights.{year}{kind} {found.missed.sum()} nights")
        assert found.missed.any()
        assert found.iron_refused[found.missed].all()
        assert found.missed.sum() > sheltered.missed.sum()
