"""Plans broken on purpose, one a rule: check names the rule and the slot."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from finishing.science.scheduling.check import Broken, Rule, check
from finishing.science.scheduling.plan import Carry, Plan, Slot
from finishing.science.scheduling.problem import Chain, Link, Move, Option, Person, Place, Visit

from .shop import COUNT, HOURS, always, blast, coat, dry_after, frame, good, problem, rules_broken, window


def changed(plan, step, **more):
    """The plan with one slot otherwise."""
    return Plan(plan.problem, {**plan.slots, step: replace(plan.slots[step], **more)})


def test_a_plan_that_stands_breaks_nothing():
    assert check(good(frame())) == []


def test_every_step_has_its_time():
    plan = good(frame())
    left_out = Plan(plan.problem, {"frame blast": plan.slots["frame blast"]})
    assert check(left_out) == [Broken(Rule.PLANNED, "frame coat 1")]
    assert str(check(left_out)[0]) == "frame coat 1: every step has its time"


@pytest.mark.parametrize("wrong", [{"end": 4}, {"dry": 4}, {"option": 3}, {"begin": -1}])
def test_a_step_lasts_as_long_as_its_work_and_its_drying(wrong):
    broken = check(changed(good(frame()), "frame blast", **wrong))
    assert Broken(Rule.LENGTH, "frame blast") in broken


def test_what_runs_stays():
    fixed = problem(Chain("frame", (blast(fixed=2),)))
    assert rules_broken(Plan(fixed, {"frame blast": Slot("frame blast", 0, 1, 3, 3, ("Ada",))})) == {Rule.FIXED}


def test_air_and_metal():
    wet_morning = (Option("yard", HOURS >= 2),)
    refused = problem(Chain("frame", (blast(options=wet_morning),)))
    plan = Plan(refused, {"frame blast": Slot("frame blast", 0, 1, 3, 3, ("Ada",))})
    assert check(plan) == [Broken(Rule.WEATHER, "frame blast", "yard")]


def test_not_before_its_receipt():
    waits = problem(Chain("frame", (blast(not_before=2),)))
    assert rules_broken(Plan(waits, {"frame blast": Slot("frame blast", 0, 1, 3, 3, ("Ada",))})) == {Rule.RECEIPT}


def two_coats(*links):
    return problem(Chain("frame", (coat(number=1, dries=3), coat(number=2, dries=3))), links=links)


def coats_at(wanted, first, second):
    slots = [Slot(f"frame coat {n}", 0, h, h + 1, h + 3, ("Ada",)) for n, h in ((1, first), (2, second))]
    return Plan(wanted, {slot.step: slot for slot in slots})


def test_steps_in_their_order_and_on_dry_paint():
    assert rules_broken(coats_at(two_coats(), 5, 2)) == {Rule.ORDER}
    assert rules_broken(coats_at(two_coats(), 1, 3)) == {Rule.ORDER}
    assert rules_broken(coats_at(two_coats(), 1, 4)) == set()


def test_too_soon_too_late_and_in_the_closed_zone():
    link = Link("frame coat 1", "frame coat 2", (window(4, closes=12, shut=(7, 9)),))
    met = {h: rules_broken(coats_at(two_coats(link), 1, h)) for h in range(4, 14)}
    assert met[4] == {Rule.TOO_SOON}
    assert met[5] == met[6] == met[7] == set()
    assert met[8] == met[9] == {Rule.CLOSED_ZONE}
    assert met[10] == met[11] == met[12] == set()
    assert met[13] == {Rule.TOO_LATE}


@pytest.mark.parametrize("people", [(), ("Ada", "Ada"), ("nobody",)])
def test_as_many_people_as_it_takes(people):
    assert Rule.PEOPLE in rules_broken(changed(good(frame()), "frame blast", people=people))


def test_only_people_who_do_that():
    painter = frame(people=(Person("Ada", always(), kinds=frozenset({"coat"})),))
    assert check(good(painter)) == [Broken(Rule.PEOPLE, "frame blast")]


def test_people_at_work_also_for_carrying():
    assert check(good(frame(people=(Person("Ada", HOURS != 4),)))) == [
        Broken(Rule.WORKING_HOURS, "frame coat 1", "Ada")
    ]
    assert check(good(frame(people=(Person("Ada", HOURS != 3),)))) == [
        Broken(Rule.WORKING_HOURS, "frame coat 1", "Ada")
    ]


def two_racks(first, second, **more):
    return problem(Chain("frame", (first,)), Chain("wheel", (second,)), **more)


def both_at(wanted, first, second, people=("Ada", "Ben")):
    slots = {}
    for step, begin, who in zip(wanted.steps.values(), (first, second), people, strict=True):
        dry = begin + step.slots if step.options[0].dry is None else int(step.options[0].dry[begin])
        slots[step.name] = Slot(step.name, 0, begin, begin + step.slots, dry, (who,))
    return Plan(wanted, slots)


PAIR = (Person("Ada", np.ones(COUNT, bool)), Person("Ben", np.ones(COUNT, bool)))


def test_one_person_one_thing():
    wanted = two_racks(coat("frame"), coat("wheel"))
    assert rules_broken(both_at(wanted, 1, 1, ("Ada", "Ada"))) == {Rule.ONE_THING}
    assert rules_broken(both_at(wanted, 1, 2, ("Ada", "Ada"))) == set()


def test_so_many_at_a_time_in_a_place():
    one_bench = (Place("shop", at_once=1), Place("yard"))
    wanted = two_racks(coat("frame"), coat("wheel"), people=PAIR, places=one_bench)
    assert check(both_at(wanted, 1, 1)) == [Broken(Rule.BENCH, "wheel coat 1", "shop")]
    assert check(both_at(wanted, 1, 2)) == []


def test_room_for_wet_work_until_it_is_dry():
    wanted = two_racks(coat("frame"), coat("wheel", wet=101), people=PAIR)
    assert check(both_at(wanted, 1, 3)) == [Broken(Rule.WET_ROOM, "wheel coat 1", "shop")]
    assert check(both_at(wanted, 1, 4)) == []


def test_nothing_wet_in_dust_until_it_is_swept_and_settled():
    wanted = two_racks(blast("frame"), coat("wheel", places=("yard",)), people=PAIR)
    assert check(both_at(wanted, 1, 3)) == [Broken(Rule.DUST, "wheel coat 1", "frame blast")]
    assert check(both_at(wanted, 1, 4)) == []
    assert check(both_at(wanted, 3, 1)) == [Broken(Rule.DUST, "wheel coat 1", "frame blast")]


def test_blasting_whole_inside_a_visit_and_one_rack_at_a_time():
    visited = {"by_visit": True, "people": 0, "dust": None}
    wanted = two_racks(blast("frame", **visited), blast("wheel", **visited), visits=(Visit("Monday", 2, 8),))

    def at(first, second, visit="Monday"):
        slots = [Slot(f"{n} blast", 0, h, h + 2, h + 2, visit=visit) for n, h in (("frame", first), ("wheel", second))]
        return check(Plan(wanted, {slot.step: slot for slot in slots}))

    assert at(2, 4) == []
    assert at(1, 4) == [Broken(Rule.VISIT, "frame blast", "Monday")]
    assert at(2, 7) == [Broken(Rule.VISIT, "wheel blast", "Monday")]
    assert at(2, 3) == [Broken(Rule.VISIT, "wheel blast", "frame blast")]
    assert {broken.rule for broken in at(2, 4, visit="Friday")} == {Rule.VISIT}


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
    assert Rule.CARRIED in rules_broken(changed(good(frame()), "frame coat 1", carried_in=carry))


def test_what_is_not_there_is_not_carried():
    there_from = Chain("frame", (coat(not_before=4),), stands_in="yard")
    slot = Slot("frame coat 1", 0, 4, 5, 7, ("Ada",), carried_in=Carry("yard", "shop", 3, 4, ("Ada",)))
    assert check(Plan(problem(there_from), {slot.step: slot})) == [Broken(Rule.RECEIPT, slot.step)]


def test_wet_paint_is_not_carried():
    wanted = problem(Chain("frame", (coat(number=1, places=("yard",)), coat(number=2, early=True))))
    first = Slot("frame coat 1", 0, 1, 2, 4, ("Ada",))

    def carried(begin):
        second = Slot(
            "frame coat 2", 0, 8, 9, 11, ("Ada",), carried_in=Carry("yard", "shop", begin, begin + 1, ("Ada",))
        )
        return check(Plan(wanted, {first.step: first, second.step: second}))

    assert carried(4) == []
    assert carried(3) == [Broken(Rule.HANDLED, "frame coat 2", "frame coat 1")]


@pytest.mark.parametrize(("early", "broken"), [(True, []), (False, [Broken(Rule.STAYS, "frame coat 1", "shop")])])
def test_what_is_bare_stays_where_it_is_until_the_next_step_needs_it(early, broken):
    """Carried at 3 and coated at 5: at 4 would have done, unless Ada is away then."""
    rust = Link("frame blast", "frame coat 1", (window(2, closes=7),), "rust")

    def carried_at_three(**more):
        wanted = problem(Chain("frame", (blast(), coat(early=early))), links=(rust,), **more)
        plan = good(wanted)
        later = replace(plan.slots["frame coat 1"], begin=5, end=6, dry=8)
        return check(Plan(wanted, {**plan.slots, later.step: later}))

    assert carried_at_three() == broken
    assert carried_at_three(people=(Person("Ada", (HOURS >= 1) & (HOURS != 4)),)) == []


def test_cold_metal_settles_before_it_is_coated():
    assert check(good(frame(moves=(Move("yard", "shop", 1, settles=1),)))) == [
        Broken(Rule.SETTLED, "frame coat 1", "shop")
    ]


def wheeled(**more):
    """Coated outside, wheeled in after two hours, coated again in there."""
    outside = Option("yard", always(), dry_after(5), stands_in="shop", carried=HOURS + 2)
    return problem(Chain("frame", (coat(number=1, options=(outside,)), coat(number=2))), **more)


def wheeled_at(wanted, out, second):
    slots = (
        Slot("frame coat 1", 0, 1, 2, 6, ("Ada",), carried_out=out),
        Slot("frame coat 2", 0, second, second + 1, second + 3, ("Ada",)),
    )
    return check(Plan(wanted, {slot.step: slot for slot in slots}))


def test_wheeled_in_when_its_option_says():
    out = Carry("yard", "shop", 3, 4, ("Ada",))
    assert wheeled_at(wheeled(), out, 6) == []
    assert wheeled_at(wheeled(), None, 6)[0] == Broken(Rule.CARRIED, "frame coat 1", "shop")
    assert wheeled_at(wheeled(), replace(out, begin=4, end=5), 6)[0].rule == Rule.CARRIED
    late = wheeled(moves=(Move("yard", "shop", 1, settles=3),))
    assert wheeled_at(late, out, 6) == [Broken(Rule.SETTLED, "frame coat 2", "shop")]
    assert wheeled_at(late, out, 7) == []


def test_all_rules_are_tried_here():
    """Every rule there is stands in some test above; a new one fails here until it does."""
    text = Path(__file__).read_text(encoding="utf-8")
    assert not [rule.name for rule in Rule if f"Rule.{rule.name}" not in text]


def test_a_rack_is_carried_as_it_bears_it_and_not_as_another_does():
    """A bed that settles for four hours after the move; the wheel's own move is no way to carry it."""
    heavy, light = Move("yard", "shop", 1, settles=4, rack="frame"), Move("yard", "shop", 1, rack="wheel")
    alone = frame(moves=(heavy, light))
    assert check(good(alone)) == [Broken(Rule.SETTLED, "frame coat 1", "shop")]
    assert Rule.CARRIED in rules_broken(good(frame(moves=(light,))))
