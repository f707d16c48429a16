"""Three open years of hourly weather (tests.open_years): no hour fails, and the answers keep their order."""

import numpy as np
import pytest

from finishing.science import drying, rust, windows
from finishing.science.drying import DryingStage, DryingTable, SheetRow
from finishing.science.hours import Hours
from finishing.science.metal import metal_temperature
from finishing.science.rust import Because, Exposure
from finishing.science.windows import Gates, Reason

NEAR = 1e-6
ENAMEL = DryingTable(
    (
        SheetRow(10, touch=10, recoat_from=30, closed_from=40, closed_until=60, recoat_until=200),
        SheetRow(23, touch=5, recoat_from=15, closed_from=20, closed_until=40, recoat_until=150),
    ),
    floor=5,
)
WATERBORNE = DryingTable((SheetRow(23, touch=1, recoat_from=4),), floor=7, needs_dry_air=True)
GATES = Gates(humidity_max=85, temperature_min=5)
PLACES = {
    "yard": lambda hours: hours.in_yard(),
    "roof": lambda hours: hours.under_roof(),
    "shop": lambda hours: hours.in_shop(18),
}
SHELTERS = {"yard": "outdoor", "roof": "outdoor", "shop": "still indoor"}


@pytest.fixture(scope="module", params=["inland", "cold coast", "river plain"])
def year(request, open_years):
    return open_years[request.param]


@pytest.fixture(scope="module", params=PLACES)
def place(request, year):
    """The hours of a place, and a casting 30 mm thick that stands there all year."""
    hours = PLACES[request.param](year)
    return hours, metal_temperature(hours, 0.015, shelter=SHELTERS[request.param])


def every_start(hours):
    return np.arange(len(hours), dtype=float)


def may_start(hours, metal, gates=GATES):
    done = every_start(hours) + 1
    set_at, left_at = (
        drying.dried(ENAMEL, stage, metal, hours.humidity, done) for stage in (ENAMEL.set_stage, ENAMEL.dew_safe_stage)
    )
    working = np.isin(hours.times.astype(int) % 24, np.arange(12, 22))
    application = {"working": working, "application_h": 1.0, "set_at": set_at, "left_at": left_at}
    return windows.refusals(hours, metal, gates, **application)


def damper(hours, by=1.0):
    """The same temperatures with more water in the air, up to saturation; humidity follows from the dew point."""
    dew = np.minimum(hours.dew_point + by, np.maximum(hours.temperature, hours.dew_point))
    columns = {name: getattr(hours, name) for name in ("temperature", "wind", "cloud", "sun", "rain", "rain_chance")}
    return Hours.from_arrays(hours.start, dew_point=dew, **columns)


def test_no_hour_fails(place):
    hours, metal = place
    starts = every_start(hours)
    bare = rust.coat_before(hours, metal, begin=starts)
    assert np.all((bare.coat_before >= starts) & (bare.coat_before <= starts + rust.HARD_CAP.value + NEAR))
    assert set(np.unique(bare.because)) <= {int(reason) for reason in Because}
    assert np.all(bare.amber_from <= bare.coat_before)
    window = drying.recoat_window(ENAMEL, metal, hours.humidity, begin=starts)
    assert np.all(window.opens > starts)
    assert np.all(window.closed_from > starts)
    assert may_start(hours, metal).shape == (len(hours),)


def test_each_answer_of_the_year_comes_about(year):
    """A year in which everything were refused, or all iron rusted alike, would prove nothing."""
    hours = year.under_roof()
    metal = metal_temperature(hours, 0.015)
    because = rust.coat_before(hours, metal, Exposure(salt_shift=0), begin=every_start(hours)).because
    assert {Because.SPENT, Because.WET} <= {Because(code) for code in np.unique(because)}
    refused = may_start(hours, metal)
    assert 0.01 < np.mean(refused == 0) < 0.5
    seen = np.bitwise_or.reduce(refused)
    for reason in (Reason.MARGIN, Reason.HUMIDITY, Reason.COLD, Reason.FROST, Reason.OUTSIDE_WORKING_HOURS):
        assert seen & reason


def test_damper_or_colder_metal_never_allows_longer(place):
    hours, metal = place
    starts = every_start(hours)
    usual = rust.coat_before(hours, metal, begin=starts).coat_before
    in_damp = rust.coat_before(damper(hours), metal, begin=starts).coat_before
    colder = rust.coat_before(hours, metal - 1, begin=starts).coat_before
    assert np.all(in_damp <= usual + NEAR)
    assert np.all(colder <= usual + NEAR)
    assert np.any(in_damp < usual - 0.1)


def test_salts_wet_work_and_tightening_never_allow_longer(year):
    hours = year.under_roof()
    metal = metal_temperature(hours, 0.015)
    starts = every_start(hours)

    def until(**exposure):
        return rust.coat_before(hours, metal, Exposure(**exposure), begin=starts).coat_before

    clean = until(salt_shift=0)
    for worse in ({"salt_shift": 10}, {"salt_shift": 0, "wet_work": True}, {"salt_shift": 0, "tightening": 0.5}):
        assert np.all(until(**worse) <= clean + NEAR)


def test_damper_air_or_colder_metal_never_opens_an_hour(place):
    hours, metal = damper(place[0], by=0), place[1]
    allowed = may_start(hours, metal) == 0
    assert not np.any(~allowed & (may_start(damper(hours), metal) == 0))
    assert not np.any(~allowed & (may_start(hours, metal - 1) == 0))


@pytest.mark.parametrize("table", [ENAMEL, WATERBORNE])
def test_colder_or_damper_never_dries_faster(year, table):
    hours = year.under_roof()
    starts = every_start(hours)
    for stage in (DryingStage.TOUCH, DryingStage.RECOAT_FROM):
        usual = drying.dried(table, stage, hours.temperature, hours.humidity, starts)
        colder = drying.dried(table, stage, hours.temperature - 2, hours.humidity, starts)
        in_damp = drying.dried(table, stage, hours.temperature, np.minimum(hours.humidity + 5, 100), starts)
        assert np.all(colder >= usual - NEAR)
        assert np.all(in_damp >= usual - NEAR)


def with_gaps(hours, seed=11):
    """The year with some two hundred holes of one to six hours, and which hours they are."""
    rng = np.random.default_rng(seed)
    holes = np.zeros(len(hours), bool)
    for first in rng.integers(0, len(hours), 200):
        holes[first : first + rng.integers(1, 7)] = True
    columns = {
        name: np.where(holes, np.nan, getattr(hours, name)) for name in ("temperature", "humidity", "dew_point", "rain")
    }
    return Hours.from_arrays(hours.start, **columns), holes


def test_a_gap_is_never_workable(year):
    hours, holes = with_gaps(year.under_roof())
    metal = metal_temperature(hours, 0.015)
    refused = may_start(hours, metal)
    assert np.all(refused[holes] & Reason.NOT_KNOWN)
    before = np.flatnonzero(holes[1:] & ~holes[:-1])
    dries_past_it = before[
        drying.dried(ENAMEL, DryingStage.TOUCH, metal, hours.humidity, before + 1.0) > before + 1 + NEAR
    ]
    assert len(dries_past_it) > 100
    assert np.all(refused[dries_past_it] & Reason.NOT_KNOWN)


def test_a_gap_ends_time_bare_and_never_lengthens_it_nor_quickens_drying_nor_keeps_a_coat_open_longer(year):
    whole = year.under_roof()
    hours, holes = with_gaps(whole)
    known = metal_temperature(whole, 0.015)
    metal = np.where(holes, np.nan, known)
    starts = every_start(hours)
    usual = rust.coat_before(whole, known, begin=starts)
    gapped = rust.coat_before(hours, metal, begin=starts)
    assert np.all(gapped.coat_before <= usual.coat_before + NEAR)
    assert np.any(gapped.coat_before < usual.coat_before - 1)
    first_unknown = np.minimum.accumulate(np.where(holes, starts, len(hours))[::-1])[::-1]
    assert np.all(gapped.coat_before <= first_unknown + NEAR)
    assert np.all(gapped.because[holes] == Because.NOT_KNOWN)
    assert not np.any((gapped.because == Because.WET) & (usual.because != Because.WET))
    full = drying.recoat_window(ENAMEL, known, whole.humidity, begin=starts)
    holed = drying.recoat_window(ENAMEL, metal, hours.humidity, begin=starts)
    assert np.all(holed.opens >= full.opens - NEAR)
    assert np.all(holed.closed_until >= full.closed_until - NEAR)
    opened = may_start(hours, metal) == 0
    assert not np.any(opened & (may_start(whole, known) != 0))
    mild = np.nanmax(known) <= ENAMEL.points[-1].temperature
    if mild:  # hotter than the sheet's hottest row, no sheet says how much sooner it closes
        assert np.all(holed.closes <= full.closes + NEAR)


CASTINGS = 40  # each measured every forty hours: together at every hour of the year


def test_no_start_is_wet_where_its_surface_was_measured_dry(year):
    """Half a degree above its dew point, where many a casting under the sky is told as wet unmeasured."""
    hours = year.in_yard()
    starts = every_start(hours).reshape(-1, CASTINGS).T
    dew, dry = hours.dew_point, ~(hours.rain > 0)
    turn = np.arange(CASTINGS)
    known = np.flatnonzero(~np.isnan(dew))
    pinned = {float(at): np.where(turn == at % CASTINGS, dew[at] + 0.5, np.nan) for at in known}
    metal = metal_temperature(hours, np.full(CASTINGS, 0.015), sky=True, pinned=pinned)
    window = rust.coat_before(hours, metal, begin=starts)
    wet_at_once = (window.because == Because.WET) & (window.coat_before <= window.begin)
    assert not np.any(wet_at_once & dry[starts.astype(int)])
    unmeasured = rust.coat_before(hours, metal_temperature(hours, 0.015, sky=True), begin=every_start(hours))
    wet_unmeasured = (unmeasured.because == Because.WET) & (unmeasured.coat_before <= unmeasured.begin)
    assert np.mean(wet_unmeasured & dry) > 0.01
