"""Racks that are alike, counted: what is found so is the best of all schedules, and what lies wet is dealt out."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from finishing.science.scheduling.disaggregation import swapped
from finishing.science.scheduling.problem import Chain, Mode, Person, TimeLag, Transport, Workplace
from finishing.science.scheduling.search_space import narrow, search_space
from finishing.science.scheduling.solve import solve
from finishing.science.scheduling.symmetry import aggregate, symmetric_racks
from tests.racks_in_the_yard import yard

from .shop import COUNT, HOURS, always, coat, dry_after, problem, window
from .test_solve import equals_the_best_of_all_plans


def grouped(wanted):
    return [[chain.name for chain in group] for group in symmetric_racks(narrow(search_space(wanted)))]


def test_racks_that_differ_in_their_wet_area_alone_are_alike():
    racks = [Chain(name, (coat(name, wet=wet),)) for name, wet in (("a", 100), ("b", 40), ("c", 7))]
    assert grouped(problem(*racks)) == [["a", "b", "c"]]


@pytest.mark.parametrize(
    "other",
    [
        Chain("b", (coat("b", dries=4),)),
        Chain("b", (coat("b", modes=(Mode("shop", HOURS != 5, dry_after(3)),)),)),
        Chain("b", (coat("b", modes=(Mode("shop", always(), dry_after(3), cost=1),)),)),
        Chain("b", (coat("b", modes=(Mode("shop", always(), dry_after(3), margin=HOURS),)),)),
        Chain("b", (coat("b", people=0),)),
        Chain("b", (coat("b", not_before=1),), promised=9),
        Chain("b", (coat("b"), coat("b", number=2))),
        Chain("b", (coat("b"),), stands_in="yard"),
    ],
)
def test_racks_that_differ_in_anything_else_are_not(other):
    assert grouped(problem(Chain("a", (coat("a"),)), other)) == [["a"], ["b"]]


def test_a_rack_that_waits_for_another_is_like_none():
    racks = [Chain(name, (coat(name),)) for name in "abc"]
    waits = TimeLag("a coat 1", "c coat 1", (window(2),))
    assert grouped(problem(*racks, time_lags=(waits,))) == [["a"], ["b"], ["c"]]


def test_windows_belong_to_what_makes_racks_alike():
    racks = [Chain(name, (coat(name), coat(name, 2))) for name in "abc"]
    time_lags = [
        TimeLag(f"{n} coat 1", f"{n} coat 2", (window(4, closes=shuts),)) for n, shuts in (("a", 9), ("b", 9), ("c", 8))
    ]
    assert grouped(problem(*racks, time_lags=tuple(time_lags))) == [["a", "b"], ["c"]]


def test_no_more_racks_lie_wet_than_the_smallest_have_room():
    """40, 60 and 120 dm² in 200: the first two together, never all three; by the least of them, 40 each, five would."""
    racks = [Chain(name, (coat(name, wet=wet),)) for name, wet in (("a", 120), ("b", 40), ("c", 60))]
    space = narrow(search_space(problem(*racks)))
    assert aggregate(space, symmetric_racks(space), min).most == {("wet racks", "shop"): 2}


def test_a_rack_that_is_wet_twice_is_not_taken_for_two():
    """Open after an hour, to be handled after three: both coats of one rack may lie wet at once."""
    time_lags = tuple(TimeLag(f"{n} coat 1", f"{n} coat 2", (window(1),)) for n in "ab")
    space = narrow(search_space(problem(*(Chain(n, (coat(n), coat(n, 2))) for n in "ab"), time_lags=time_lags)))
    assert aggregate(space, symmetric_racks(space), min).most == {}


@st.composite
def shops_of_alike_racks(draw):
    """Two or three racks of one or two coats that differ in their wet area; room for some of them; one person."""
    few = st.sampled_from
    hours = st.lists(st.booleans(), min_size=6, max_size=6).map(lambda some: np.array(some + [False] * (COUNT - 6)))
    names, coats = draw(few([("abc", 1), ("ab", 2)]))
    places = draw(few([("shop",), ("yard", "shop")]))
    margin = np.array(draw(st.lists(few([5, 20]), min_size=6, max_size=6)) + [20] * (COUNT - 6))
    modes = tuple(
        Mode(p, draw(hours), dry_after(draw(few([1, 2]))), cost=draw(few([0, 300])), margin=margin) for p in places
    )
    promised = draw(few([None, 4]))
    racks = [
        Chain(
            n,
            tuple(coat(n, k + 1, modes=modes, wet=draw(few([40, 60, 120]))) for k in range(coats)),
            promised=promised,
        )
        for n in names
    ]
    opens, shut = draw(few([1, 2])), draw(few([None, (2, 3)]))
    time_lags = tuple(
        TimeLag(f"{n} coat 1", f"{n} coat 2", tuple(window(opens, shut=shut) for _ in places))
        for n in names
        if coats == 2
    )
    return problem(
        *racks,
        time_lags=time_lags,
        places=(Workplace("yard", wet_room=draw(few([100, 200]))), Workplace("shop", wet_room=130)),
    )


@st.composite
def racks_to_be_carried(draw):
    """Two racks that are alike, carried from the yard to the shop by one person; the wait there goes up and down."""
    few = st.sampled_from
    hours = np.array(draw(st.lists(st.booleans(), min_size=7, max_size=7)) + [False] * (COUNT - 7))
    settles = np.resize(draw(st.lists(few([0, 1, 3]), min_size=1, max_size=5)), COUNT)
    modes = (Mode("shop", hours, dry_after(2), margin=np.resize([5, 20, 10], COUNT)),)
    early = draw(st.booleans())
    racks = [
        Chain(n, (coat(n, modes=modes, wet=wet, early=early),), stands_in="yard") for n, wet in (("a", 40), ("b", 100))
    ]
    ada = Person("Ada", draw(st.integers(0, 5)) != HOURS, extra=np.where(HOURS > 3, 100, 0))
    shop = Workplace("shop", wet_room=draw(few([130, 200])))
    transports = (Transport("yard", "shop", 1, settles=settles),)
    return problem(*racks, people=(ada,), places=(Workplace("yard"), shop), transports=transports)


@given(racks_to_be_carried())
@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
def test_counted_racks_that_are_carried_equal_the_best_of_all_plans(wanted):
    equals_the_best_of_all_plans(wanted)


@given(shops_of_alike_racks())
@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
def test_counted_racks_equal_the_best_of_all_plans(wanted):
    equals_the_best_of_all_plans(wanted)


@given(st.lists(st.lists(st.integers(0, 9), min_size=4, max_size=4), min_size=1, max_size=4), st.integers(4, 30))
@settings(deadline=None)
def test_exchanging_racks_never_leaves_more_without_room(wet, room):
    """Each row a limit: which of four strings take of it, by bits; racks of 1, 3, 5 and 7."""
    takes, racks = np.array(wet) % 2, np.array([1, 3, 5, 7])
    areas = takes[:, :, None] * racks[None, None, :]
    (hands,) = swapped([areas], [room] * len(wet))
    over = lambda order: int(np.maximum((takes * racks[order]).sum(axis=1) - room, 0).sum())  # noqa: E731
    assert sorted(hands) == [0, 1, 2, 3]
    assert over(hands) <= over([0, 1, 2, 3])


def test_sixty_pieces_through_sixteen_days_are_proven_best_in_all_four_aims():
    """Twelve racks told apart were not after ten seconds; counted, they are, within the solver's own second."""
    wanted = yard(racks=12)
    result = solve(wanted, effort=2.0)
    assert result.proven
    assert result.schedule.finish < solve(wanted, effort=0.0).schedule.finish
