"""Quantities as text: two ends of a range with their unit once, a true minus below nothing."""

import pytest
from django.template import Context, Template

from finishing.science.units import Quantity
from finishing.science.working import Working

BETWEEN = Template('{% between low high 2 "µm" %}')


@pytest.mark.parametrize(
    ("low", "high", "measures", "text"),
    [
        (40, 65, "metric", "40 to 65 µm"),
        (0, 0, "metric", "0 µm"),
        (25.4, 50.8, "us", "1 to 2 mil"),
        (None, 40, "metric", "– to 40 µm"),
    ],
)
def test_a_range_tells_its_unit_once(low, high, measures, text):
    ends = {name: value and Quantity(value, "µm") for name, value in (("low", low), ("high", high))}
    assert BETWEEN.render(Context({**ends, "measures": measures})) == text


@pytest.mark.parametrize(
    ("given", "text"), [(Quantity(-1.24, "delta_degC"), "−1.2 °C"), (Quantity(-40, "µm"), "−40 µm")]
)
def test_below_nothing_a_quantity_has_the_minus_of_money(given, text):
    assert Template("{% quantity given %}").render(Context({"given": given})) == text


def test_a_working_writes_minus_signs_and_leaves_names_alone():
    working = Working("off", "a - b", (("mark", "H-3"), ("between", "-1.5 and +0.5 °C")), "-6 GBP", "common practice")
    page = Template('{% include "finishing/site/_working.html" %}').render(Context({"working": working}))
    assert "−1.5 and +0.5 °C" in page
    assert page.count("−6 GBP") == 2
    assert "H-3" in page
