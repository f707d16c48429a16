"""The air of places as the planner needs it, in two places of made-up air whose answers come by hand."""

from datetime import UTC, datetime

import numpy as np
import pytest

from finishing.science.hours import Hours
from finishing.science.metal import GREY_IRON
from projects.plans.domain.ground import Ground, Iron

IRON = Iron(((0.01, GREY_IRON),), salt_shift=0.0, tightening=1.0)
HUMIDITY = {"yard": [55.0] * 5 + [38.0] * 43, "shop": [38.0] * 5 + [55.0] * 43}


class TwoPlaces(Ground):
    """Both at 20 °C: the yard is damp in the first five hours, the shop in all that follow."""

    def __init__(self):
        super().__init__(terms=None, air=None, now=datetime(2026, 5, 11, tzinfo=UTC))

    def run(self, place):
        humidity = HUMIDITY[place]
        return Hours.from_arrays(np.datetime64("2026-05-11T00"), temperature=[20.0] * 48, humidity=humidity, rain=0)

    def metal(self, place, iron):
        return np.full((1, 48), 20.0)


def bare_until(*places):
    return TwoPlaces().bare_until_among(places, IRON, np.array([0.0]), wet=False).tolist()


def test_iron_that_may_be_carried_between_places_fares_in_each_hour_as_in_the_worst_of_them():
    """55 % takes an eighth of the budget an hour, 38 % nothing, and the hour from one to the other seven steps of five
    minutes in the band to 50 % and three in that to 60 %. The shop is damp from five o'clock on, the yard until then;
    a quarter of an hour stays in hand."""
    crossing = (7 / 24 + 3 / 8) / 12
    assert bare_until("shop") == pytest.approx([5 + 8 * (1 - crossing) - 0.25])
    assert bare_until("yard")[0] > 24
    assert bare_until("yard", "shop")[0] == pytest.approx(8.08, abs=0.01)  # neither is damp for part of that hour
