"""Plans broken on purpose, one a rule: check names the rule and the slot."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from finishing.science.scheduling.feasibility import Constraint, Violation, check_feasibility
from finishing.science.scheduling.problem import Chain, Mode, Person, TimeLag, Transport, VisitOffer, Workplace
from finishing.science.scheduling.schedule import Carry, Schedule, ScheduledTask

from .shop import COUNT, DONE, MINUTES, always, blast, coat, dry_after, frame, good, problem, rules_broken, window


def changed(schedule, task, **more):
    """The schedule with one slot otherwise."""
    return Schedule(schedule.problem, {**schedule.tasks, task: replace(schedule.tasks[task], **more)})


def test_a_plan_that_stands_breaks_nothing():
    assert check_feasibility(good(frame())) == []


def test_every_step_has_its_time():
    schedule = good(frame())
    left_out = Schedule(schedule.problem, {"frame blast": schedule.tasks["frame blast"]})
    assert check_feasibility(left_out) == [Violation(Constraint.PLANNED, "frame coat 1")]
    assert str(check_feasibility(left_out)[0]) == "frame coat 1: every step has its time"


@pytest.mark.parametrize("wrong", [{"end": 4}, {"dry": 4}, {"mode": 3}, {"begin": -1}, {"begin": 23}])
def test_a_step_lasts_as_long_as_its_work_and_its_drying(wrong):
    broken = check_feasibility(changed(good(frame()), "frame blast", **wrong))
    assert Violation(Constraint.LENGTH, "frame blast") in broken


def test_what_runs_stays():
    fixed = problem(Chain("frame", (blast(fixed=2),)))
    assert rules_broken(Schedule(fixed, {"frame blast": ScheduledTask("frame blast", 0, 1, 3, 3, ("Ada",))})) == {
        Constraint.FIXED
    }


def test_air_and_metal():
    wet_morning = (Mode("yard", MINUTES >= 2),)
    refused = problem(Chain("frame", (blast(modes=wet_morning),)))
    schedule = Schedule(refused, {"frame blast": ScheduledTask("frame blast", 0, 1, 3, 3, ("Ada",))})
    assert check_feasibility(schedule) == [Violation(Constraint.WEATHER, "frame blast", "yard")]


def test_not_before_its_receipt():
    waits = problem(Chain("frame", (blast(not_before=2),)))
    assert rules_broken(Schedule(waits, {"frame blast": ScheduledTask("frame blast", 0, 1, 3, 3, ("Ada",))})) == {
        Constraint.RECEIPT
    }


def two_coats(*time_lags):
    return problem(Chain("frame", (coat(number=1, dries=3), coat(number=2, dries=3))), time_lags=time_lags)


def coats_at(wanted, first, second):
    slots = [ScheduledTask(f"frame coat {n}", 0, h, h + 1, h + 3, ("Ada",)) for n, h in ((1, first), (2, second))]
    return Schedule(wanted, {slot.task: slot for slot in slots})


def test_steps_in_their_order_and_on_dry_paint():
    assert rules_broken(coats_at(two_coats(), 5, 2)) == {Constraint.ORDER}
    assert rules_broken(coats_at(two_coats(), 1, 3)) == {Constraint.ORDER}
    assert rules_broken(coats_at(two_coats(), 1, 4)) == set()


def test_too_soon_too_late_and_in_the_closed_zone():
    lag = TimeLag("frame coat 1", "frame coat 2", (window(4, closes=12, shut=(7, 9)),))
    met = {h: rules_broken(coats_at(two_coats(lag), 1, h)) for h in range(4, 14)}
    assert met[4] == {Constraint.TOO_SOON}
    assert met[5] == met[6] == met[7] == set()
    assert met[8] == met[9] == {Constraint.CLOSED_ZONE}
    assert met[10] == met[11] == met[12] == set()
    assert met[13] == {Constraint.TOO_LATE}


@pytest.mark.parametrize("people", [(), ("Ada", "Ada"), ("nobody",)])
def test_as_many_people_as_it_takes(people):
    assert Constraint.PEOPLE in rules_broken(changed(good(frame()), "frame blast", people=people))


def test_only_people_who_do_that():
    painter = frame(people=(Person("Ada", always(), kinds=frozenset({"coat"})),))
    assert check_feasibility(good(painter)) == [Violation(Constraint.PEOPLE, "frame blast")]


def test_people_at_work_also_for_carrying():
    assert check_feasibility(good(frame(people=(Person("Ada", MINUTES != 4),)))) == [
        Violation(Constraint.WORKING_HOURS, "frame coat 1", "Ada")
    ]
    assert check_feasibility(good(frame(people=(Person("Ada", MINUTES != 3),)))) == [
        Violation(Constraint.WORKING_HOURS, "frame coat 1", "Ada")
    ]


def two_racks(first, second, **more):
    return problem(Chain("frame", (first,)), Chain("wheel", (second,)), **more)


def both_at(wanted, first, second, people=("Ada", "Ben")):
    slots = {}
    for task, begin, who in zip(wanted.tasks.values(), (first, second), people, strict=True):
        dry = begin + task.minutes if task.modes[0].dry is None else int(task.modes[0].dry[begin + task.minutes])
        slots[task.name] = ScheduledTask(task.name, 0, begin, begin + task.minutes, dry, (who,))
    return Schedule(wanted, slots)


PAIR = (Person("Ada", np.ones(COUNT, bool)), Person("Ben", np.ones(COUNT, bool)))


def test_one_person_one_thing():
    wanted = two_racks(coat("frame"), coat("wheel"))
    assert rules_broken(both_at(wanted, 1, 1, ("Ada", "Ada"))) == {Constraint.ONE_THING}
    assert rules_broken(both_at(wanted, 1, 2, ("Ada", "Ada"))) == set()


def test_so_many_at_a_time_in_a_place():
    one_bench = (Workplace("shop", at_once=1), Workplace("yard"))
    wanted = two_racks(coat("frame"), coat("wheel"), people=PAIR, places=one_bench)
    assert check_feasibility(both_at(wanted, 1, 1)) == [Violation(Constraint.BENCH, "wheel coat 1", "shop")]
    assert check_feasibility(both_at(wanted, 1, 2)) == []


def test_room_for_wet_work_until_it_is_dry():
    wanted = two_racks(coat("frame"), coat("wheel", wet=101), people=PAIR)
    assert check_feasibility(both_at(wanted, 1, 3)) == [Violation(Constraint.WET_ROOM, "wheel coat 1", "shop")]
    assert check_feasibility(both_at(wanted, 1, 4)) == []


def test_nothing_wet_in_dust_until_it_is_swept_and_settled():
    wanted = two_racks(blast("frame"), coat("wheel", places=("yard",)), people=PAIR)
    assert check_feasibility(both_at(wanted, 1, 3)) == [Violation(Constraint.DUST, "wheel coat 1", "frame blast")]
    assert check_feasibility(both_at(wanted, 1, 4)) == []
    assert check_feasibility(both_at(wanted, 3, 1)) == [Violation(Constraint.DUST, "wheel coat 1", "frame blast")]


def test_blasting_whole_inside_a_visit_and_one_rack_at_a_time():
    visited = {"by_visit": True, "people": 0, "dust": None}
    wanted = two_racks(blast("frame", **visited), blast("wheel", **visited), visits=(VisitOffer("Monday", 2, 8),))

    def at(first, second, visit="Monday"):
        slots = [
            ScheduledTask(f"{n} blast", 0, h, h + 2, h + 2, visit=visit)
            for n, h in (("frame", first), ("wheel", second))
        ]
        return check_feasibility(Schedule(wanted, {slot.task: slot for slot in slots}))

    assert at(2, 4) == []
    assert at(1, 4) == [Violation(Constraint.VISIT, "frame blast", "Monday")]
    assert at(2, 7) == [Violation(Constraint.VISIT, "wheel blast", "Monday")]
    assert at(2, 3) == [Violation(Constraint.VISIT, "wheel blast", "frame blast")]
    assert {broken.constraint for broken in at(2, 4, visit="Friday")} == {Constraint.VISIT}


@pytest.mark.parametrize(
    "carry",
    [
        None,
        Carry("shop", "yard", 3, 4, ("Ada",)),  # the wrong way
        Carry("yard", "shop", 3, 5, ("Ada",)),  # too slow
        Carry("yard", "shop", 3, 4),  # by itself
    ],
)
def test_a_rack_is_carried_from_where_it_stands(carry):
    assert Constraint.CARRIED in rules_broken(changed(good(frame()), "frame coat 1", carried_in=carry))


def test_what_is_not_there_is_not_carried():
    there_from = Chain("frame", (coat(not_before=4),), stands_in="yard")
    slot = ScheduledTask("frame coat 1", 0, 4, 5, 7, ("Ada",), carried_in=Carry("yard", "shop", 3, 4, ("Ada",)))
    assert check_feasibility(Schedule(problem(there_from), {slot.task: slot})) == [
        Violation(Constraint.RECEIPT, slot.task)
    ]


def test_wet_paint_is_not_carried():
    wanted = problem(Chain("frame", (coat(number=1, places=("yard",)), coat(number=2, early=True))))
    first = ScheduledTask("frame coat 1", 0, 1, 2, 4, ("Ada",))

    def carried(begin):
        second = ScheduledTask(
            "frame coat 2", 0, 8, 9, 11, ("Ada",), carried_in=Carry("yard", "shop", begin, begin + 1, ("Ada",))
        )
        return check_feasibility(Schedule(wanted, {first.task: first, second.task: second}))

    assert carried(4) == []
    assert carried(3) == [Violation(Constraint.HANDLED, "frame coat 2", "frame coat 1")]


@pytest.mark.parametrize(
    ("early", "broken"), [(True, []), (False, [Violation(Constraint.STAYS, "frame coat 1", "shop")])]
)
def test_what_is_bare_stays_where_it_is_until_the_next_step_needs_it(early, broken):
    """Carried at 3 and coated at 5: at 4 would have done, unless Ada is away then."""
    rust = TimeLag("frame blast", "frame coat 1", (window(2, closes=7, work=2),), "rust")

    def carried_at_three(**more):
        wanted = problem(Chain("frame", (blast(), coat(early=early))), time_lags=(rust,), **more)
        schedule = good(wanted)
        later = replace(schedule.tasks["frame coat 1"], begin=5, end=6, dry=8)
        return check_feasibility(Schedule(wanted, {**schedule.tasks, later.task: later}))

    assert carried_at_three() == broken
    assert carried_at_three(people=(Person("Ada", (MINUTES >= 1) & (MINUTES != 4)),)) == []


def test_cold_metal_settles_before_it_is_coated():
    assert check_feasibility(good(frame(transports=(Transport("yard", "shop", 1, settles=1),)))) == [
        Violation(Constraint.SETTLED, "frame coat 1", "shop")
    ]


def wheeled(**more):
    """Coated outside, wheeled in after two hours, coated again in there."""
    outside = Mode("yard", always(), dry_after(5), stands_in="shop", carried=DONE + 1)
    return problem(Chain("frame", (coat(number=1, modes=(outside,)), coat(number=2))), **more)


def wheeled_at(wanted, out, second):
    slots = (
        ScheduledTask("frame coat 1", 0, 1, 2, 6, ("Ada",), carried_out=out),
        ScheduledTask("frame coat 2", 0, second, second + 1, second + 3, ("Ada",)),
    )
    return check_feasibility(Schedule(wanted, {slot.task: slot for slot in slots}))


def test_wheeled_in_when_its_option_says():
    out = Carry("yard", "shop", 3, 4, ("Ada",))
    assert wheeled_at(wheeled(), out, 6) == []
    assert wheeled_at(wheeled(), None, 6)[0] == Violation(Constraint.CARRIED, "frame coat 1", "shop")
    assert wheeled_at(wheeled(), replace(out, begin=4, end=5), 6)[0].constraint == Constraint.CARRIED
    late = wheeled(transports=(Transport("yard", "shop", 1, settles=3),))
    assert wheeled_at(late, out, 6) == [Violation(Constraint.SETTLED, "frame coat 2", "shop")]
    assert wheeled_at(late, out, 7) == []


def test_all_rules_are_tried_here():
    """Every rule there is stands in some test above; a new one fails here until it does."""
    text = Path(__file__).read_text(encoding="utf-8")
    assert not [constraint.name for constraint in Constraint if f"Constraint.{constraint.name}" not in text]


def test_a_rack_is_carried_as_it_bears_it_and_not_as_another_does():
    """A bed that settles for four hours after the move; the wheel's own move is no way to carry it."""
    heavy, light = Transport("yard", "shop", 1, settles=4, rack="frame"), Transport("yard", "shop", 1, rack="wheel")
    alone = frame(transports=(heavy, light))
    assert check_feasibility(good(alone)) == [Violation(Constraint.SETTLED, "frame coat 1", "shop")]
    assert Constraint.CARRIED in rules_broken(good(frame(transports=(light,))))
