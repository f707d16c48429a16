"""The compressor against worked examples, and the water that pressed air drops."""

from math import inf, isclose

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science import compressor
from finishing.science.compressor import compressor_needed, condensate, duty, receiver_air, receiver_run
from finishing.science.nozzle import choked_air
from finishing.science.sources import SOURCES
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity

flows = st.floats(0.01, 50)
YARD = Quantity(20, "degC"), Quantity(60, "percent")


def flow(number):
    return Quantity(number, "m**3/min")


def bar(number):
    return Quantity(number, "bar")


def test_half_as_much_in_reserve():
    assert compressor_needed(flow(2), flow(1)).magnitude == pytest.approx(4.5)


def test_a_small_compressor_on_a_nozzle_too_large():
    """Worked by hand: 0.40 m³/min into 6 mm at 5 bar, and a 500 L receiver from 10 to 6 bar."""
    need = choked_air(Quantity(6, "mm"), bar(5))
    assert need.magnitude == pytest.approx(1.60, abs=0.005)
    assert duty(flow(0.4), need).magnitude == pytest.approx(25, abs=0.1)
    stored = receiver_air(Quantity(500, "L"), bar(10), bar(6))
    assert stored.magnitude == pytest.approx(1.97, abs=0.005)
    assert receiver_run(stored, flow(0.4), need).magnitude == pytest.approx(1.65, abs=0.01)


@given(flows, flows)
def test_a_nozzle_runs_without_end_just_where_the_duty_is_full(gives, needs):
    run = receiver_run(Quantity(2, "m**3"), flow(gives), flow(needs)).magnitude
    assert (run == inf) == (duty(flow(gives), flow(needs)).magnitude == 100) or isclose(gives, needs)


@given(st.floats(0.01, 5), st.floats(1.01, 9))
def test_running_and_refilling_make_up_the_duty(gives, times):
    """From full to empty and back: the share of that time in which the nozzle ran is the duty."""
    needs, stored = flow(gives * times), Quantity(2, "m**3")
    run = receiver_run(stored, flow(gives), needs)
    refill = stored / flow(gives)
    assert (run / (run + refill)).to("percent").magnitude == pytest.approx(duty(flow(gives), needs).magnitude)


def test_a_receiver_that_ends_fuller_than_it_began_names_its_field():
    with pytest.raises(OutsideValidity, match="pressure when empty 10 bar"):
        receiver_air(Quantity(500, "L"), bar(6), bar(10))


def test_damp_air_drops_its_water_and_dry_air_none():
    """Damp air cakes the grit (common practice, no source): pressed to 8 bar and cooled, a bucket a shift."""
    wet = condensate(flow(3), *YARD, bar(8), Quantity(20, "degC"))
    assert 8 < (wet * Quantity(8, "hour")).to("L").magnitude < 16
    assert condensate(flow(3), YARD[0], Quantity(5, "percent"), bar(8), YARD[0]).magnitude == 0


@given(st.floats(0.05, 1), st.floats(0.05, 1), st.floats(1, 9), st.floats(1, 9))
def test_damper_air_and_more_pressure_drop_no_less(humidity, other, pressure, more):
    def dropped(damp, pressed):
        return condensate(flow(3), YARD[0], Quantity(damp), bar(pressed), Quantity(15, "degC")).magnitude

    assert dropped(min(humidity, other), pressure) <= dropped(max(humidity, other), pressure)
    assert dropped(humidity, min(pressure, more)) <= dropped(humidity, max(pressure, more))


def test_workings_name_their_source():
    workings = [
        compressor.compressor_working(flow(2), flow(1)),
        compressor.duty_working(flow(0.4), flow(1.6)),
        compressor.receiver_working(Quantity(2, "m**3"), flow(0.4), flow(1.6)),
        compressor.receiver_working(Quantity(2, "m**3"), flow(2), flow(1.6)),
    ]
    assert [working.result for working in workings] == ["4.5 m³/min", "25 %", "1.7 min", "without end"]
    assert {working.source for working in workings} <= set(SOURCES)
