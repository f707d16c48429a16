"""Air against solvent vapour: worked examples, and a law's own table of vapour by the gallon."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science.sources import SOURCES
from finishing.science.units import Quantity
from finishing.science.ventilation import SOLVENTS, dilution_air, dilution_working, vapour

LITRE = Quantity(1, "L")


@pytest.mark.parametrize(
    ("name", "vapour_m3", "air_m3"),
    [
        ("toluene", 0.2263, 81.4),
        ("xylene", 0.1971, 78.1),
        ("acetone", 0.3272, 51.0),
        ("white spirit", 0.1340, 88.8),
        ("butyl acetate", 0.1822, 60.0),
    ],
)
def test_a_litre_needs_so_much_air(name, vapour_m3, air_m3):
    """Worked by hand from the formula of OSHA 29 CFR 1910.94(c) (from memory)."""
    assert vapour(LITRE, SOLVENTS[name]).magnitude == pytest.approx(vapour_m3, rel=0.001)
    assert dilution_air(LITRE, SOLVENTS[name]).magnitude == pytest.approx(air_m3, rel=0.002)


@pytest.mark.parametrize(("name", "cubic_feet"), [("acetone", 44.0), ("toluene", 30.4), ("butyl acetate", 24.8)])
def test_vapour_of_a_gallon_is_that_of_the_law(name, cubic_feet):
    """Table G-11 of 29 CFR 1910.94(c), cubic feet by the gallon at 70 °F (from memory)."""
    made = vapour(Quantity(1, "gallon"), SOLVENTS[name]) * (294.26 / 293.15)
    assert made.to("ft**3").magnitude == pytest.approx(cubic_feet, rel=0.02)


@given(st.sampled_from(list(SOLVENTS)), st.floats(0.01, 100))
def test_in_that_air_the_vapour_is_a_quarter_of_what_burns(name, litres):
    liquid = Quantity(litres, "L")
    gas, air = vapour(liquid, SOLVENTS[name]), dilution_air(liquid, SOLVENTS[name])
    share = (gas / (air / 4 + gas)).to("percent").magnitude
    assert share == pytest.approx(SOLVENTS[name].explosive_from)


@pytest.mark.parametrize("name", SOLVENTS)
def test_its_working_names_its_source(name):
    working = dilution_working(LITRE, name)
    assert working.source in SOURCES
    assert SOLVENTS[name].source in SOURCES
    assert "Against fire only" in working.note
