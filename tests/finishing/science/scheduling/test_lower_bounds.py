"""What no schedule can beat, where it can be worked out in the head."""

from dataclasses import replace

import pytest

from finishing.science.scheduling.days import DayChoices
from finishing.science.scheduling.lower_bounds import capacity_suffices, own_ways
from finishing.science.scheduling.problem import Chain, Person, TimeLag, VisitOffer
from finishing.science.scheduling.schedule import Aim
from finishing.science.scheduling.solve import choose_days, flow, solve
from tests.racks_in_the_yard import yard

from .shop import COUNT, MINUTES, blast, coat, problem, window


def racks(*names, **more):
    """Each is coated within four minutes of the beginning of its blasting; Ada is there from 1 to 5, and from 12 on."""
    chains = [Chain(name, (blast(name, **more), coat(name))) for name in names]
    lags = [TimeLag(f"{n} blast", f"{n} coat 1", (window(2, closes=4, work=2),), "rust") for n in names]
    ada = Person("Ada", ((MINUTES >= 1) & (MINUTES < 5)) | (MINUTES >= 12))
    visit = VisitOffer("Monday", 0, 10, 0)
    return problem(*chains, time_lags=tuple(lags), people=(ada,), visits=(visit,))


def test_a_window_is_kept_only_if_it_is_open_when_the_rack_has_been_carried_there():
    """Blast 1–3, carry 3–4, coat 4–5; blasted at 2 the rack is there at 5, when Ada leaves."""
    (way,) = own_ways(racks("frame"))
    (blasted,) = way.tasks[0]
    assert blasted.at[blasted.at < 12].tolist() == [1]


def test_a_window_across_a_step_between_counts_what_that_takes():
    """Wiping stands between blasting and coating, and takes a minute more than there is."""
    wanted = racks("frame")
    chain = wanted.chains[0]
    wipe = replace(chain.tasks[1], name="frame wipe", kind="clean", wet=0)
    wiped = replace(chain, tasks=(chain.tasks[0], wipe, chain.tasks[1]))
    (way,) = own_ways(replace(wanted, chains=(wiped,)))
    assert not len(way.tasks[0][0].at)
    assert solve(replace(wanted, chains=(wiped,))).impossible


@pytest.mark.parametrize(("names", "enough"), [(["frame"], True), (["frame", "wheel"], False)])
def test_what_can_only_lie_in_the_same_minutes_does_not_fit_twice(names, enough):
    """The one visit blasts until 10, so both would be blasted from 1 to 3."""
    wanted = racks(*names, by_visit=True, people=0)
    assert capacity_suffices(wanted, own_ways(wanted), COUNT, flow) is enough
    assert solve(wanted).impossible is not enough


@pytest.mark.parametrize(("racks", "enough"), [(2, True), (3, False)])
def test_works_longer_than_half_of_a_day_find_no_room_one_after_the_other(racks, enough):
    """Two people are there for nine minutes, eighteen together: three times five are fewer, and one has no time."""
    chains = (Chain(name, (replace(coat(name), minutes=5, wet=0),)) for name in ("frame", "wheel", "lever")[:racks])
    people = tuple(Person(name, (MINUTES >= 1) & (MINUTES < 10)) for name in ("Ada", "Ben"))
    wanted = problem(*chains, people=people)
    assert capacity_suffices(wanted, own_ways(wanted), COUNT, flow)
    assert DayChoices(wanted, COUNT).suffice(COUNT, choose_days) is enough
    assert solve(wanted).impossible is not enough


def test_twelve_racks_that_are_told_apart_by_days_end_no_sooner_than_their_bound():
    """No end is ruled out by which a plan is done, and one is that a flow of minutes would allow."""
    wanted = yard(racks=12)
    ways, finish = own_ways(wanted), solve(wanted, (Aim.FINISH,), effort=0.2).schedule.finish
    days = DayChoices(wanted, finish)
    assert days.suffice(finish, choose_days)
    assert capacity_suffices(wanted, ways, 3750, flow)
    assert not days.suffice(3750, choose_days)
