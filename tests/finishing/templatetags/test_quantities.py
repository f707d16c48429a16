"""Two ends of a range as text, the unit told once."""

import pytest
from django.template import Context, Template

from finishing.science.units import Quantity

BETWEEN = Template('{% between low high 2 "µm" %}')


@pytest.mark.parametrize(
    ("low", "high", "us", "text"),
    [
        (40, 65, False, "40 to 65 µm"),
        (0, 0, False, "0 µm"),
        (25.4, 50.8, True, "1 to 2 mil"),
        (None, 40, False, "– to 40 µm"),
    ],
)
def test_a_range_tells_its_unit_once(low, high, us, text):
    ends = {name: value and Quantity(value, "µm") for name, value in (("low", low), ("high", high))}
    assert BETWEEN.render(Context({**ends, "us": us})) == text
