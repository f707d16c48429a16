"""A batch's profit with its inputs moved, by hand."""

from decimal import Decimal

import pytest

from projects.money.unit_cost import CostingTerms, Route, RouteOperation
from projects.money.what_if import BatchProfit, tornado

CASTING = RouteOperation("casting", "cast", material=Decimal(262))
BATCH = BatchProfit([Route("set", 1, (CASTING,))], 20, CostingTerms(Decimal(0)), Decimal(0), Decimal(410))


def test_what_moves_the_profit_most_comes_first():
    """By hand, with 20 · 262 = 5240 spent: 15 · 410 to 22 · 410, 8200 − 0.9 · 5240 to 8200 − 1.2 · 5240, …"""
    ranges = {
        "price": (Decimal("0.9"), Decimal("1.05")),
        "casting": (Decimal("0.9"), Decimal("1.2")),
        "sold": (Decimal("0.75"), Decimal("1.1")),
    }
    bars = tornado(BATCH, ranges)
    assert [(bar.name, bar.at_low, bar.at_high, bar.swing) for bar in bars] == [
        ("sold", 910, 3780, 2870),
        ("casting", 3484, 1912, 1572),
        ("price", 2140, 3370, 1230),
    ]


def test_a_range_holds_what_is_reckoned_with():
    with pytest.raises(ValueError, match=r"wage: its range 1.2 to 1.5"):
        tornado(BATCH, {"wage": (Decimal("1.2"), Decimal("1.5"))})
