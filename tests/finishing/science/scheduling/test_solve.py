"""Plans against every schedule there is, against the rules, and against what can be worked out in the head."""

import threading

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from finishing.science.scheduling.feasibility import check_feasibility
from finishing.science.scheduling.problem import (
    Chain,
    Horizon,
    Mode,
    Person,
    Problem,
    Task,
    TimeLag,
    Transport,
    VisitOffer,
    Workplace,
)
from finishing.science.scheduling.schedule import AIMS, Aim
from finishing.science.scheduling.solve import solve
from finishing.science.scheduling.stages import first_schedule
from tests.racks_in_the_yard import yard

from .shop import COUNT, DONE, MINUTES, always, blast, coat, dry_after, every_plan, frame, problem, window

FEW = st.sampled_from


def test_a_frame_is_blasted_carried_in_and_coated_as_early_as_it_goes():
    """At work from 1: blast 1–3, carry 3–4, coat 4–5, dry 7."""
    result = solve(frame())
    assert [(s.begin, s.end, s.dry) for s in result.schedule.tasks.values()] == [(1, 3, 3), (4, 5, 7)]
    assert result.proven
    assert result.gap == 0


def test_the_aims_come_in_the_order_asked():
    """Overtime before 6: early costs 900 cents, waiting until 6 nothing."""
    ada = Person("Ada", always(), wage=np.where(MINUTES < 6, 60 * 900, 0))
    early = solve(problem(Chain("wheel", (coat("wheel"),)), people=(ada,))).schedule
    cheap = solve(problem(Chain("wheel", (coat("wheel"),)), people=(ada,)), (Aim.COST, Aim.FINISH)).schedule
    assert (early.finish, early.cost) == (3, 900)
    assert (cheap.finish, cheap.cost) == (9, 0)


def test_a_promise_comes_before_the_finish_of_all():
    first, second = (Chain(n, (coat(n),), promised=p) for n, p in (("frame", None), ("wheel", 4)))
    result = solve(problem(first, second))
    assert result.schedule.tasks["wheel coat 1"].dry <= 4
    assert result.schedule.lateness == 0


def test_one_visit_is_booked_where_one_will_do():
    visited = {"by_visit": True, "people": 0}
    racks = [Chain(n, (blast(n, **visited),)) for n in ("frame", "wheel")]
    days = (VisitOffer("Monday", 2, 6, 45_000), VisitOffer("Tuesday", 4, 6, 45_000))
    schedule = solve(problem(*racks, visits=days)).schedule
    assert (schedule.finish, schedule.visits, schedule.cost) == (6, ("Monday",), 45_000)


def test_margin_is_what_is_left_to_choose():
    mode = Mode("shop", always(), dry_after(3), margin=np.where(MINUTES == 9, 50, 20))
    late = coat("frame", modes=(mode,))
    slow = coat("wheel", modes=(Mode("shop", MINUTES == 12, dry_after(3)),))
    result = solve(problem(Chain("frame", (late,)), Chain("wheel", (slow,))))
    assert result.schedule.tasks["frame coat 1"].begin == 9
    assert result.schedule.margin == 50
    assert result.proven


@pytest.mark.parametrize("early", [True, False])
def test_a_rack_is_carried_once_it_is_there(early):
    """There from 4, an hour on the way, an hour's work, dry three hours after its start."""
    chain = Chain("frame", (coat(not_before=4, early=early),), stands_in="yard")
    result = solve(problem(chain))
    assert (result.schedule.tasks["frame coat 1"].carried_in.begin, result.schedule.finish) == (4, 8)
    equals_the_best_of_all_plans(problem(chain))


def test_iron_is_not_carried_for_nothing():
    """The wheel holds everything up until 16; the frame could be carried in and out, and is left where it stands."""
    slow = coat("wheel", modes=(Mode("shop", MINUTES == 13, dry_after(3)),))
    racks = Chain("frame", tuple(coat(number=n, places=("shop", "yard")) for n in (1, 2)), stands_in="yard")
    transports = (Transport("yard", "shop", 1), Transport("shop", "yard", 1))
    result = solve(problem(racks, Chain("wheel", (slow,)), transports=transports))
    assert result.proven
    assert {slot.carried_in for slot in result.schedule.tasks.values()} == {None}
    assert result.schedule.labour == 3


def test_painted_outside_and_wheeled_in_before_the_dew():
    outside = Mode("yard", MINUTES < 3, dry_after(5), stands_in="shop", carried=DONE + 1)
    chain = Chain("frame", (coat(number=1, modes=(outside,)), coat(number=2)))
    schedule = solve(problem(chain, transports=(Transport("yard", "shop", 1, settles=2),))).schedule
    out = schedule.tasks["frame coat 1"].carried_out
    assert (out.begin, out.end) == (3, 4)
    assert schedule.tasks["frame coat 2"].begin == 6


def test_a_heavy_rack_does_not_keep_a_light_one_waiting():
    """Blast 1–3 and 3–5, carry the wheel 3–4 or 5–6 and coat it at once; the frame waits six hours for its margin."""
    racks = [Chain(n, (blast(n), coat(n))) for n in ("frame", "wheel")]
    transports = tuple(Transport("yard", "shop", 1, settles=s, rack=n) for n, s in (("frame", 6), ("wheel", 0)))
    schedule = solve(problem(*racks, transports=transports)).schedule
    frame_waits, wheel_waits = (
        schedule.tasks[f"{n} coat 1"].begin - schedule.tasks[f"{n} coat 1"].carried_in.end for n in ("frame", "wheel")
    )
    assert (frame_waits, wheel_waits) == (6, 0)
    assert schedule.finish == 1 + 2 + 1 + 6 + 3


def test_a_rack_is_fetched_earlier_where_the_hands_are_needed_later():
    """The frame may be coated at 5 alone and the wheel at 4 alone: at 4, its last moment, the frame has no carrier."""
    frame_at, wheel_at = (Mode(place, hour == MINUTES, dry_after(3)) for place, hour in (("shop", 5), ("yard", 4)))
    racks = [
        Chain("frame", (coat("frame", modes=(frame_at,), early=True),), stands_in="yard"),
        Chain("wheel", (coat("wheel", modes=(wheel_at,)),)),
    ]
    result = solve(problem(*racks))
    assert result.proven
    assert result.schedule.tasks["frame coat 1"].carried_in.begin == 3
    assert first_schedule(problem(*racks)).tasks == result.schedule.tasks


def test_a_rack_is_fetched_at_the_last_moment_for_which_there_are_hands():
    """Ada is paid for carrying before 6; nobody need carry earlier than an hour before the coat at 9."""
    mode = Mode("shop", MINUTES == 9, dry_after(3))
    ada = Person("Ada", MINUTES < 20, wage=np.where(MINUTES < 6, 60 * 900, 0))
    racks = [Chain(n, (coat(n, modes=(mode,), people=0, early=True),), stands_in="yard") for n in ("frame", "wheel")]
    schedule = solve(problem(*racks, people=(ada,))).schedule
    assert sorted(slot.carried_in.begin for slot in schedule.tasks.values()) == [7, 8]
    assert schedule.cost == 0


def test_what_is_bare_or_drying_is_fetched_at_the_last_moment_or_not_at_all():
    """As above, but the frame's windows run where it stands: Ada cannot be in two places at 4."""
    frame_at, wheel_at = (Mode(place, hour == MINUTES, dry_after(3)) for place, hour in (("shop", 5), ("yard", 4)))
    racks = [
        Chain("frame", (coat("frame", modes=(frame_at,)),), stands_in="yard"),
        Chain("wheel", (coat("wheel", modes=(wheel_at,)),)),
    ]
    assert solve(problem(*racks)).impossible


def test_no_plan_is_proven_and_not_guessed():
    result = solve(frame(people=(Person("Ada", MINUTES < 3),)))
    assert result.schedule is None
    assert result.impossible


def test_the_same_seed_gives_the_same_plan():
    racks = [Chain(n, (blast(n), coat(n))) for n in "abcd"]
    one, other = (solve(problem(*racks), seed=7, effort=0.5).schedule for _ in range(2))
    assert one.tasks == other.tasks


def test_it_stops_when_asked_and_keeps_the_best_so_far():
    racks = [Chain(n, (blast(n), coat(n))) for n in "abc"]
    told = []
    result = solve(problem(*racks), report=told.append, stop=lambda: True)
    assert result.schedule is told[-1]
    assert check_feasibility(result.schedule) == []


def test_stopped_while_the_solver_works_it_keeps_the_best_so_far():
    """Beside the solver, in a thread of its own, somebody says stop: twelve racks are then far from proven."""
    told, said = [], threading.Event()

    def stop():
        if threading.current_thread() is not threading.main_thread():
            said.set()
        return said.is_set()

    result = solve(yard(racks=12), (Aim.FINISH,), report=told.append, stop=stop)
    assert said.is_set()
    assert result.schedule is told[-1]
    assert check_feasibility(result.schedule) == []
    assert result.bounds[0] < result.schedule.finish


def test_a_failure_to_ask_whether_to_stop_is_not_lost():
    def ask():
        if threading.current_thread() is not threading.main_thread():
            raise OSError("the line is dead")
        return False

    with pytest.raises(OSError, match="the line is dead"):
        solve(yard(racks=3, people=1), (Aim.MARGIN,), stop=ask)


def test_a_second_coat_comes_before_or_behind_the_closed_zone():
    """Coat at 1–2; open from 5, shut 6–12: 5–6 just fits; with Ada away until 9 it waits until 12."""
    racks = Chain("frame", (coat(number=1), coat(number=2)))
    lag = TimeLag("frame coat 1", "frame coat 2", (window(4, shut=(5, 11)),))
    away = Person("Ada", (MINUTES == 1) | (MINUTES >= 9))
    begins = [
        solve(problem(racks, time_lags=(lag,), **more)).schedule.tasks["frame coat 2"].begin
        for more in ({}, {"people": (away,)})
    ]
    assert begins == [5, 12]
    for more in ({}, {"people": (away,)}):
        equals_the_best_of_all_plans(problem(racks, time_lags=(lag,), **more))


def test_room_for_one_wet_rack_makes_the_other_wait():
    """100 dm² each and room for 150: the second coat begins when the first is dry, at 4, and is dry at 7."""
    racks = [Chain(n, (coat(n),)) for n in ("frame", "wheel")]
    wanted = problem(*racks, places=(Workplace("yard"), Workplace("shop", wet_room=150)))
    assert solve(wanted).schedule.finish == 7
    equals_the_best_of_all_plans(wanted)


@st.composite
def small_problems(draw):
    """One or two racks and one person; of 24 hours the first seven may be allowed."""
    hours = st.lists(st.booleans(), min_size=7, max_size=7).map(lambda few: np.array(few + [False] * (COUNT - 7)))
    dry = dry_after(draw(FEW([2, 3])))
    margin = np.array(draw(st.lists(FEW([5, 10, 20]), min_size=7, max_size=7)) + [20] * (COUNT - 7))
    places = draw(FEW([("shop",), ("yard",), ("yard", "shop")]))
    modes = tuple(Mode(p, draw(hours), dry, cost=draw(FEW([0, 300])), margin=margin) for p in places)
    first = blast(modes=(Mode("yard", draw(hours)),), by_visit=draw(st.booleans()), people=draw(FEW([0, 1])))
    rust = TimeLag("frame blast", "frame coat 1", (window(2, closes=draw(FEW([4, 6])), work=2),), "rust")
    second = coat(modes=modes, early=draw(st.booleans()))
    chains = [Chain("frame", (first, second), promised=draw(FEW([None, 5])))]
    if draw(st.booleans()):
        chains.append(Chain("wheel", (coat("wheel", modes=(Mode("yard", draw(hours) & (MINUTES < 4), dry),)),)))
    return problem(
        *chains,
        time_lags=(rust,) if draw(st.booleans()) else (),
        people=(Person("Ada", MINUTES < 9, wage=np.where(MINUTES > 5, 60 * 100, 0)),),
        visits=(VisitOffer("Monday", 0, 4, 500), VisitOffer("Tuesday", 2, 8, 400)),
        transports=(
            Transport(
                "yard", "shop", 1, settles=np.resize(draw(st.lists(FEW([0, 1, 3]), min_size=1, max_size=5)), COUNT)
            ),
        ),
    )


def equals_the_best_of_all_plans(wanted):
    best = min((schedule.values() for schedule in every_plan(wanted)), default=None)
    result = solve(wanted)
    assert result.impossible == (best is None)
    if best is not None:
        assert result.schedule.values() == best
        assert result.proven
        first = first_schedule(wanted)
        assert first is None or check_feasibility(first) == []


@given(small_problems())
@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
def test_small_problems_equal_the_best_of_all_plans(wanted):
    equals_the_best_of_all_plans(wanted)


@pytest.mark.parametrize("aims", [AIMS, AIMS[::-1], (Aim.MARGIN, Aim.COST, Aim.FINISH, Aim.LATENESS)])
def test_any_order_of_aims_equals_the_best_of_all_plans(aims):
    mode = Mode("shop", MINUTES < 8, dry_after(3), cost=np.where(MINUTES < 6, 200, 0), margin=10 + 5 * (MINUTES % 3))
    racks = Chain("frame", (blast(modes=(Mode("yard", MINUTES < 7),)), coat(modes=(mode,))), promised=8)
    wanted = problem(racks, places=(Workplace("yard"), Workplace("shop")))
    best = min(schedule.values(aims) for schedule in every_plan(wanted))
    assert solve(wanted, aims).schedule.values(aims) == best


@given(st.integers(1, 4), st.integers(1, 3), st.booleans(), st.integers(0, 2))
@settings(max_examples=6, deadline=None)
def test_every_plan_told_stands_and_is_better_than_the_one_before(racks, coats, zone, settles):
    chains, time_lags, told = [], [], []
    for n in range(racks):
        tasks = [blast(f"r{n}"), *(coat(f"r{n}", k, dries=2) for k in range(coats))]
        chains.append(Chain(f"r{n}", tuple(tasks), promised=20))
        shut = window(3, shut=(5, 8) if zone else None)
        time_lags += [TimeLag(a.name, b.name, (shut,)) for a, b in zip(tasks[1:], tasks[2:], strict=False)]
    people = tuple(Person(name, always()) for name in ("Ada", "Ben"))
    transports = (Transport("yard", "shop", 1, settles=settles),)
    wanted = problem(*chains, time_lags=tuple(time_lags), people=people, transports=transports)
    solve(wanted, effort=0.3, report=told.append)
    assert all(check_feasibility(schedule) == [] for schedule in told)
    assert [schedule.values() for schedule in told] == sorted((schedule.values() for schedule in told), reverse=True)


def test_of_plans_that_are_level_otherwise_the_one_with_fewer_sessions_of_a_paint_is_chosen():
    """The wheel ends last whatever is done before: a frame at once or hours later, and a gate that can only be late.

    Each session of green costs 300: both in one are mixed once, though the frame waits for that.
    """
    minutes = np.arange(200)
    dry = np.minimum(np.arange(201) + 3, 201)

    def rack(name, allowed, paint):
        return Chain(name, (Task(name, "coat", 5, (Mode("shop", allowed, dry),), paint=paint),))

    racks = (
        rack("frame", (minutes < 10) | (minutes >= 110), "green"),
        rack("gate", minutes >= 120, "green"),
        rack("wheel", minutes >= 150, "red"),
    )
    people, waste = (Person("Ada", np.ones(200, bool)),), {"green": 300}
    result = solve(Problem(Horizon(200), racks, people, (Workplace("shop"),), session_waste=waste))
    sessions = {(paint, *sorted(coats)) for paint, coats in result.schedule.sessions}
    assert sessions == {("green", "frame", "gate"), ("red", "wheel")}
    assert (result.schedule.finish, result.schedule.cost, result.proven) == (158, 300, True)
