"""Routes, terms and numbers of machines as hypothesis draws them; and the routes of one big machine."""

from dataclasses import replace
from decimal import Decimal

from hypothesis import strategies as st

from projects.money.breaks import Break, Counting, PriceList
from projects.money.learning import LearningModel
from projects.money.unit_cost import CostingTerms, Route, RouteOperation, ToolCost

machines = st.integers(1, 50)
money = st.decimals(0, 500, places=2)
percents = st.decimals(50, 100, places=0)


@st.composite
def price_lists(draw):
    quantities = sorted(draw(st.sets(st.integers(1, 60), min_size=1, max_size=4)))
    return PriceList(
        tuple(Break(quantity, draw(money)) for quantity in quantities),
        draw(st.sampled_from(Counting)),
        minimum=draw(st.integers(1, 8)),
        setup=draw(money),
        tooling=draw(money),
    )


@st.composite
def operations(draw):
    yield_ = draw(st.decimals("0.6", 1, places=2))
    return replace(draw(ways(yield_)), instead=tuple(draw(st.lists(ways(yield_), max_size=2))))


@st.composite
def ways(draw, yield_):
    return RouteOperation(
        "casting",
        draw(st.sampled_from(["cast", "bore", "paint"])),
        tools=tuple(draw(st.lists(tools(), max_size=2))),
        prices=draw(st.none() | price_lists()),
        minutes_setup=draw(money),
        minutes_each=draw(money),
        learning=draw(st.none() | percents),
        yield_=yield_,
        material=draw(money),
        lot=draw(st.none() | st.integers(1, 30)),
    )


def tools():
    lives = st.none() | st.integers(1, 80)
    return st.builds(ToolCost, st.just("pattern"), money, lives, st.integers(0, 20))


def routes():
    return st.builds(
        Route,
        st.just("frame"),
        st.integers(1, 4),
        st.lists(operations(), min_size=1, max_size=4).map(tuple),
        st.integers(0, 3),
    )


def terms():
    return st.builds(
        CostingTerms,
        wage=st.decimals(0, 80, places=2),
        overhead=st.decimals(0, 150, places=1),
        chance=st.sampled_from([Decimal("0.5"), Decimal("0.9"), Decimal("0.99")]),
        spread_tools=st.booleans(),
        learning=st.sampled_from(LearningModel),
    )


def big_machine(parts=60, operations=6):
    """Every operation has five breaks, the first of each part a pattern too; each part has a scrap of its own."""
    return [
        Route(f"part {at}", 1 + at % 4, tuple(_big(at, number) for number in range(operations))) for at in range(parts)
    ]


def _big(at, number):
    breaks = tuple(Break(quantity, Decimal(60 + at - step)) for step, quantity in enumerate((1, 5, 10, 25, 50)))
    return RouteOperation(
        "casting" if number == 0 else "machining",
        f"operation {number}",
        (ToolCost("pattern", Decimal(640), life=50),) if number == 0 else (),
        PriceList(breaks, setup=Decimal(20)),
        minutes_each=Decimal(5),
        yield_=Decimal("0.97") + Decimal(at - 60) / 1000,
    )
