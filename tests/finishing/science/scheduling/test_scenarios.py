"""In how many members a schedule stands, counted by hand; a problem in which most agree, counted one by one."""

from math import ceil

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science.scheduling.feasibility import check_feasibility
from finishing.science.scheduling.problem import Chain, Mode, TimeLag
from finishing.science.scheduling.scenarios import count_scenarios, reaches, robust, share_working
from finishing.science.scheduling.schedule import Schedule
from finishing.science.scheduling.solve import solve

from .shop import COUNT, DONE, MINUTES, always, coat, dry_after, problem, window


def raining(*hours):
    """The shop's one coat where nothing may start in these minutes."""
    mode = Mode("shop", always() & ~np.isin(MINUTES, hours), dry_after(3))
    return problem(Chain("frame", (coat(modes=(mode,)),)))


def test_ten_members_of_which_three_rain_at_coat_time_are_counted_by_hand():
    """Coated at 1; rain at 1 in the second, fifth and ninth: it stands in seven."""
    forecast = raining()
    schedule = solve(forecast).schedule
    assert schedule.tasks["frame coat 1"].begin == 1
    members = [raining(1) if number in (2, 5, 9) else raining() for number in range(1, 11)]
    broken = [{each.task for each in check_feasibility(Schedule(member, schedule.tasks))} for member in members]
    counted = count_scenarios(broken, schedule.tasks)
    assert (counted.of, counted.whole, counted.tasks) == (10, 7, {"frame coat 1": 7})
    assert share_working(counted.whole, counted.of, 7).result == "7 of 10"


def test_a_whole_plan_may_stand_in_fewer_than_each_of_its_steps():
    counted = count_scenarios([{"first"}, {"second"}, set(), set()], ["first", "second"])
    assert (counted.whole, counted.tasks) == (2, {"first": 3, "second": 3})


@pytest.mark.parametrize(("share", "begin"), [(0.7, 1), (0.8, 2), (1.0, 5)])
def test_a_plan_that_shall_stand_in_more_of_them_begins_when_so_many_allow_it(share, begin):
    """Three rain at 1, one until 5."""
    members = [raining(1), raining(1), raining(1, 2, 3, 4), *(raining() for _ in range(7))]
    assert solve(robust(raining(), members, share)).schedule.tasks["frame coat 1"].begin == begin


def test_what_waits_is_as_late_and_what_closes_as_early_as_the_share_asks():
    def told(dries, closes):
        tasks = coat(dries=dries), coat(number=2)
        return problem(
            Chain("frame", tasks), time_lags=(TimeLag("frame coat 1", "frame coat 2", (window(dries, closes=closes),)),)
        )

    members = [told(dries, closes) for dries, closes in [(3, 12), (4, 11), (5, 10), (6, 9), (7, 8)]]
    narrow = robust(told(3, 12), members, 0.8)  # one of five may disagree
    mode, lag = narrow.tasks["frame coat 1"].modes[0], narrow.time_lags[0].windows[0]
    assert (mode.dry[3], lag.opens[3], lag.closes[3]) == (2 + 6, 2 + 6, 2 + 9)


def test_the_forecast_s_own_rules_stay_and_a_rack_that_a_member_cannot_plan_counts_as_refused():
    lost = problem(Chain("wheel", (coat("wheel"),)))
    forecast = raining(0, 1, 2)
    assert solve(robust(forecast, [raining()] * 5, 1.0)).schedule.tasks["frame coat 1"].begin == 3
    assert solve(robust(forecast, [raining()] * 4 + [lost], 0.8)).schedule is not None
    assert solve(robust(forecast, [raining()] * 4 + [lost], 0.9)).schedule is None


@given(st.lists(st.lists(st.booleans(), min_size=COUNT, max_size=COUNT), min_size=1, max_size=12),
       st.sampled_from([0.5, 0.8, 0.9, 1.0]))  # fmt: skip
def test_a_start_is_allowed_just_where_so_many_members_allow_it(flags, share):
    modes = [Mode("shop", np.array(row), dry_after(3)) for row in flags]
    members = [problem(Chain("frame", (coat(modes=(mode,)),))) for mode in modes]
    allowed = robust(raining(), members, share).tasks["frame coat 1"].modes[0].may_start
    for minute in MINUTES:
        count = sum(bool(row[minute]) for row in flags)
        assert allowed[minute] == (count >= ceil(share * len(flags) - 1e-9)) == reaches(count, len(flags), share)


def test_what_is_agreed_keeps_to_the_rule_that_what_is_done_later_is_never_ready_earlier():
    random = np.random.default_rng(4)

    def member():
        dry = np.maximum.accumulate(DONE + random.integers(0, 6, COUNT + 1))
        mode = Mode("shop", always(), np.minimum(dry, COUNT + 1))
        return problem(Chain("frame", (coat(modes=(mode,)),)))

    narrow = robust(raining(), [member() for _ in range(9)], 0.8)  # Problem itself refuses what is not so
    assert (np.diff(narrow.tasks["frame coat 1"].modes[0].dry) >= 0).all()
