"""What every finisher knows, asked of air, metal, rust, drying and windows together (common practice, no source)."""

import numpy as np
import pytest

from finishing.science import drying, rust, windows
from finishing.science.drying import DryingStage, DryingTable, SheetRow
from finishing.science.hours import Hours
from finishing.science.metal import metal_temperature
from finishing.science.windows import Gates, Reason

MIDNIGHT = np.datetime64("2025-07-10T00")
AT_WORK = np.isin(np.arange(48), np.arange(7, 18))  # the first day only
MID_MORNING = 10.0
CASTING = 0.0076  # m: 60 kg of grey iron with 1.1 m² of surface

# Brushed cellulose machinery enamel: touch-dry in a quarter of an hour, over itself after two hours (at 20 °C).
TIMES = {5: (25, 3.3), 10: (22, 2.8), 15: (18, 2.4), 20: (15, 2.0), 23: (13, 1.8), 30: (10, 1.4)}
ENAMEL = DryingTable(
    tuple(SheetRow(t, touch=minutes / 60, recoat_from=hours) for t, (minutes, hours) in TIMES.items()), floor=5
)
GATES = Gates(humidity_max=65, temperature_min=10, temperature_max=30)
BRUSHING = 0.5  # h a coat


def open_shade(lowest, highest, dew_point):
    """Two days alike, warmest at three in the afternoon, out of sun and rain."""
    hour = np.arange(48)
    swing = (highest - lowest) / 2 * np.cos(2 * np.pi * (hour - 15) / 24)
    air = Hours.from_arrays(
        MIDNIGHT, temperature=(lowest + highest) / 2 + swing, dew_point=np.full(48, dew_point), rain=0, wind=1.5
    )
    return air.under_roof()


def coat(hours, metal, after, **limits):
    """When a coat can be begun at the earliest, on the hour, and when it is on."""
    done = np.arange(48) + BRUSHING
    touch_dry = drying.dried(ENAMEL, DryingStage.TOUCH, metal, hours.humidity, done)
    times = {"application_h": BRUSHING, "left_at": touch_dry}
    refused = windows.refusals(hours, metal, GATES, working=AT_WORK, **times, **limits)
    begun = float(windows.first_allowed(refused, after))
    return begun, begun + BRUSHING


def two_coats(hours, metal):
    """Castings blasted in mid-morning: when each of their two coats can be begun."""
    bare = rust.coat_before(hours, metal, begin=MID_MORNING)
    first, on = coat(hours, metal, MID_MORNING, rust_deadline=bare.finish_by)
    if np.isinf(first):
        return first, np.inf
    below = drying.recoat_window(ENAMEL, metal, hours.humidity, begin=on)
    return first, coat(hours, metal, on, recoat=below)[0]


@pytest.mark.parametrize("length", [0.004, CASTING, 0.0125])
def test_on_a_hot_dry_day_two_coats_go_on_the_same_day(length):
    hours = open_shade(16, 30, dew_point=14)
    first, second = two_coats(hours, metal_temperature(hours, length))
    assert MID_MORNING <= first <= 12
    assert first + 1 < second <= 16


@pytest.mark.parametrize("length", [0.004, CASTING, 0.0125])
def test_on_a_damp_day_not_even_the_first_coat_goes_on(length):
    hours = open_shade(12, 17, dew_point=12)
    metal = metal_temperature(hours, length)
    assert two_coats(hours, metal) == (np.inf, np.inf)
    by_hour = windows.weather_reasons(hours, metal, GATES)[AT_WORK]
    assert np.all(by_hour & Reason.HUMIDITY)
    assert rust.coat_before(hours, metal, begin=MID_MORNING).coat_before < MID_MORNING + 2


def test_heavy_castings_sweat_on_the_morning_of_a_thaw_while_the_air_looks_fine():
    hour = np.arange(48)
    thaw = Hours.from_arrays(
        MIDNIGHT,
        temperature=np.interp(hour, [0, 6, 9, 12], [1, 1, 13, 16]),
        dew_point=np.interp(hour, [0, 6, 9], [-1, -1, 9]),
        rain=0,
    )
    metal = metal_temperature(thaw.under_roof(), 0.025, shelter="still indoor")
    air_only = windows.weather_reasons(thaw, thaw.temperature, Gates())
    with_metal = windows.weather_reasons(thaw, metal, Gates())
    assert not air_only[9]
    assert with_metal[9] & Reason.MARGIN
    assert metal[9] < thaw.dew_point[9]
    assert rust.coat_before(thaw, metal, begin=9.0).because == rust.Because.WET


def test_a_cold_shop_holds_no_blast_but_a_warm_one_does():
    """Winter air of 5 °C and 85 % carried into a shop: raw when unheated, dry when heated."""
    winter = Hours.from_arrays(MIDNIGHT, temperature=[5.0] * 96, humidity=85, rain=0)
    cold, warm = (
        rust.coat_before(shop, metal_temperature(shop, CASTING, shelter="still indoor"), rust.Exposure(salt_shift=0))
        for shop in (winter.in_shop(None), winter.in_shop(20))
    )
    assert cold.coat_before <= 1
    assert warm.coat_before == rust.HARD_CAP.value
