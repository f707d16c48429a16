"""Moist air against published tables, an independent library and physics itself."""

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science import air
from finishing.science.sources import SOURCES
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity

from .published import rows

psychrolib.SetUnitSystem(psychrolib.SI)

TABLE_ROUNDING = 0.15  # °C: the two published tables differ from each other by up to 0.1
INSTRUMENT = {"temperature": st.floats(-39, 49), "humidity": st.floats(0.01, 1)}

dew_point = air.dew_point.__wrapped__
humidity_from_dew_point = air.humidity_from_dew_point.__wrapped__
humidity_at_surface = air.humidity_at_surface.__wrapped__


def celsius(value):
    return Quantity(value, "degC")


def percent(value):
    return Quantity(value, "percent")


def dew(temperature, humidity):
    return air.dew_point(celsius(temperature), percent(humidity)).to("degC").magnitude


@pytest.mark.parametrize("row", rows("dew_point"), ids=lambda r: f"{r['temperature_C']}C-{r['humidity_percent']}%")
def test_dew_point_agrees_with_two_published_tables(row):
    answer = dew(float(row["temperature_C"]), float(row["humidity_percent"]))
    published = [float(row[table]) for table in ("table_A_C", "table_B_C") if row[table]]
    assert published
    for value in published:
        assert answer == pytest.approx(value, abs=TABLE_ROUNDING)


@pytest.mark.parametrize(
    ("temperature", "humidity", "published", "rounding"),
    [
        (16, 71, 11, 0.5),  # coating inspector's course, ambient conditions, whole degrees (scribd 146044552)
        (22, 70, 16.3, 0.05),  # a drying firm's page on the dew point (trocknungberlin.de)
        (22, 45, 9.5, 0.05),  # the same page
    ],
)
def test_dew_point_of_published_examples(temperature, humidity, published, rounding):
    assert dew(temperature, humidity) == pytest.approx(published, abs=rounding)


def test_dew_point_of_a_whirled_psychrometer():
    """Dry bulb 21, wet bulb 17 → 15 °C (the same inspector's course, whole degrees); humidity by psychrolib."""
    humidity = psychrolib.GetRelHumFromTWetBulb(21, 17, 101325)
    assert dew(21, 100 * humidity) == pytest.approx(15, abs=0.5)


def test_dew_point_agrees_with_psychrolib():
    """ASHRAE's formula in psychrolib 2.5, where a painter works: air from 5 °C, dew point from 0 °C."""
    compared = 0
    for temperature in range(5, 41):
        for humidity in np.arange(0.2, 1.001, 0.05):
            reference = psychrolib.GetTDewPointFromRelHum(temperature, min(humidity, 1.0))
            if reference < 0:
                continue
            assert dew_point(temperature, min(humidity, 1.0)) == pytest.approx(reference, abs=0.08)
            compared += 1
    assert compared > 450


@pytest.mark.parametrize("temperature", range(0, 51, 5))
def test_saturation_pressure_agrees_with_psychrolib(temperature):
    """0.4 % is the largest error that the authors of the formula state (from memory)."""
    ours = air.saturation_pressure(celsius(temperature)).to("pascal").magnitude
    assert ours == pytest.approx(psychrolib.GetSatVapPres(temperature), rel=0.004)


@pytest.mark.parametrize("row", rows("saturated_water_content"), ids=lambda r: f"{r['temperature_C']}C")
def test_water_content_agrees_with_the_published_table(row):
    """The table's own steps are uneven by a tenth (9.5 at 10 °C is 9.4 in others): 0.15 g/m³."""
    ours = air.water_content(celsius(float(row["temperature_C"])), percent(100)).to("g/m**3").magnitude
    assert ours == pytest.approx(float(row["water_g_per_m3"]), abs=0.15)


FITTING = [row for row in rows("surface_humidity_by_margin") if row["fits"] == "yes"]


@pytest.mark.parametrize("row", FITTING, ids=lambda r: f"{r['margin_F']}F")
def test_humidity_at_the_metal_agrees_with_the_holding_table(row):
    """TR 3 prints a range for each margin without its temperatures; ours is for metal of 40 to 80 °F.

    The ends agree to 4 points of humidity, worst in the driest row.
    """
    metal = Quantity(np.array([40.0, 80.0]), "degF")
    ours = air.humidity_at_surface(metal, Quantity(np.array([40.0, 80.0]) - float(row["margin_F"]), "degF"))
    published = [float(row["humidity_from_percent"]), float(row["humidity_to_percent"])]
    assert ours.to("percent").magnitude == pytest.approx(published, abs=4.0)


@pytest.mark.parametrize("metal", [15, 20, 30])
@pytest.mark.parametrize("margin", [3, 5, 8, 10, 14])
def test_humidity_at_the_metal_agrees_with_psychrolib(metal, margin):
    """Dew points from 0 °C: below, psychrolib goes over to ice."""
    reference = psychrolib.GetSatVapPres(metal - margin) / psychrolib.GetSatVapPres(metal)
    assert humidity_at_surface(metal, metal - margin) == pytest.approx(reference, abs=0.003)


@pytest.mark.parametrize(
    ("dew_point", "half", "hold"),
    [(2, 12.1, 15.6), (5, 15.4, 18.9), (8, 18.6, 22.2), (10, 20.8, 24.5), (12, 23.0, 26.7)],
)
def test_iron_warmed_this_far_holds_its_blast(dew_point, half, hold):
    """Metal temperatures for 50 and 40 % at the surface, worked by hand from the formula; read to 0.1 °C."""
    assert humidity_at_surface(half, dew_point) == pytest.approx(0.50, abs=0.003)
    assert humidity_at_surface(hold, dew_point) == pytest.approx(0.40, abs=0.003)


@given(temperature=INSTRUMENT["temperature"])
def test_saturated_air_is_at_its_dew_point(temperature):
    assert dew_point(temperature, 1.0) == pytest.approx(temperature, abs=1e-9)


@given(**INSTRUMENT)
def test_humidity_returns_from_the_dew_point(temperature, humidity):
    dew = dew_point(temperature, humidity)
    if dew >= air.LOWEST:
        assert humidity_from_dew_point(temperature, dew) == pytest.approx(humidity, rel=1e-9)


@given(**INSTRUMENT, more=st.floats(0.001, 0.5))
def test_damper_air_has_a_higher_dew_point(temperature, humidity, more):
    assert dew_point(temperature, min(1.0, humidity + more)) >= dew_point(temperature, humidity)


@given(metal=st.floats(-30, 49), colder=st.floats(0.01, 10), dew=st.floats(-39, 49))
def test_colder_metal_is_damper_and_nearer_to_dew(metal, colder, dew):
    assert humidity_at_surface(metal - colder, dew) >= humidity_at_surface(metal, dew)
    assert air.margin.__wrapped__(metal - colder, dew) < air.margin.__wrapped__(metal, dew)


@pytest.mark.parametrize("colder", [0.0, 0.1, 5.0, 60.0])
def test_metal_at_the_dew_point_and_below_is_wet_and_no_wetter(colder):
    assert humidity_at_surface(15 - colder, 15) == 1.0


def test_hot_metal_and_very_dry_air_are_read_on_the_damp_side():
    assert humidity_at_surface(120, 10) == humidity_at_surface(50, 10) > 0
    assert humidity_at_surface(0, -60) == humidity_at_surface(0, -40) > 0


def test_all_at_once_is_one_by_one():
    temperatures, humidities = np.linspace(-20, 40, 13), np.linspace(0.1, 1, 13)
    singly = [dew_point(t, h) for t, h in zip(temperatures, humidities, strict=True)]
    assert dew_point(temperatures, humidities).tolist() == singly
    assert humidity_at_surface(temperatures, 5.0).tolist() == [humidity_at_surface(t, 5.0) for t in temperatures]


def test_what_is_not_known_stays_not_known():
    assert np.isnan(dew_point(np.array([20.0, np.nan]), np.array([np.nan, 0.6]))).all()
    assert np.isnan(humidity_at_surface(np.array([np.nan, 10.0]), np.array([10.0, np.nan]))).all()


@pytest.mark.parametrize(
    ("ask", "named"),
    [
        (lambda: air.dew_point(celsius(20), percent(101)), "humidity 101 % is outside"),
        (lambda: air.dew_point(celsius(20), percent(0)), "humidity 0 % is outside"),  # a broken instrument
        (lambda: air.dew_point(celsius(60), percent(50)), "temperature 60 °C is outside"),
        (lambda: air.saturation_pressure(celsius(-41)), "temperature -41 °C is outside"),
        (lambda: air.humidity_from_dew_point(celsius(10), celsius(12)), "dew point 12 °C is outside"),
        (lambda: air.water_content(celsius(20), percent(-5)), "humidity -5 % is outside"),
    ],
)
def test_what_cannot_be_air_is_refused_by_name(ask, named):
    with pytest.raises(OutsideValidity, match=named):
        ask()


def test_fahrenheit_and_celsius_are_one_air():
    warm = air.dew_point(Quantity(68, "degF"), percent(60))
    assert warm.to("degC").magnitude == pytest.approx(dew(20, 60), abs=1e-9)


def test_the_working_tells_result_inputs_and_a_known_source():
    told = air.dew_point_working(celsius(20), percent(60))
    assert told.result == "12.0 °C"
    assert ("humidity", "60 %") in told.inputs
    margin = air.margin_working(celsius(16), celsius(10.69))
    assert margin.result == "5.3 °C, 71 % at the metal"
    assert {told.source, margin.source} <= set(SOURCES)


@pytest.mark.parametrize(
    ("year", "rounding"),
    [
        ("inland", 0.12),  # humidity in whole percent
        ("cold coast", 0.25),  # the dew point itself in whole degrees: a quarter is what rounding alone leaves
    ],
)
def test_a_whole_year_s_dew_points_agree_with_the_file(open_years, year, rounding):
    """Typical years of Greensboro and Sand Point, 8,760 hours each."""
    hours = open_years[year]
    ours = dew_point(hours.temperature, hours.humidity / 100)
    assert np.mean(np.abs(ours - hours.dew_point)) <= rounding
