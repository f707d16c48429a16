"""The rule of 3 °C asked of the air misses nights on which iron under a clear sky is wet: April of an open year.

The hours are real (Greensboro, TMY3); what the iron does in them is the model's, whose clear night is checked against
trade tables in test_sky.py. Whole years are counted in benchmarks/test_sky.py.
"""

import numpy as np
import pytest

from tests.nights import FLAT_TOP, nights


@pytest.fixture(scope="module")
def april(open_years):
    return open_years["inland"].between(np.datetime64("1990-04-01T12"), np.datetime64("1990-05-01T12"))


def test_the_rule_on_the_air_alone_misses_clear_nights(april):
    found = nights("inland", april)
    assert found.missed.any()
    assert found.iron_refused[found.missed].all()  # asked of the iron, the same rule misses none of them


def test_a_flat_top_that_sees_only_sky_dews_oftener_than_a_whole_piece(april):
    whole, flat = nights("inland", april), nights("inland", april, FLAT_TOP)
    assert flat.missed.sum() > whole.missed.sum()
    assert not (whole.dewed & ~flat.dewed).any()


def test_without_the_sky_the_iron_of_such_a_night_stays_dry(april):
    found, sheltered = nights("inland", april, FLAT_TOP), nights("inland", april, FLAT_TOP, sky=False)
    assert sheltered.dewed[found.missed].sum() < found.missed.sum() / 2
