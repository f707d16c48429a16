"""The ordering plan: equal to every assignment tried on small cases, and cases worked out by hand."""

from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from projects.money.breaks import Break, Counting, PriceList
from projects.money.ordering import (
    Offer,
    PurchaseNeed,
    SupplierTerms,
    TroubleReason,
    lay_out,
    one_supplier,
    order_plan,
    order_working,
    part_by_part,
)

from .batches import batch
from .every_assignment import least_total

SELLERS = ("Ash", "Birch", "Cedar")
Need, Reason = PurchaseNeed, TroubleReason


def plan_of(*case, **limits):
    return order_plan(lay_out(*case), **limits)


def part_by_part_of(*case):
    return part_by_part(lay_out(*case))


def one_supplier_of(*case):
    return one_supplier(lay_out(*case))


def at(price, **more):
    return PriceList((Break(1, Decimal(price)),), **more)


def offers_of(**prices):
    """One offer from each: "Ash" asks so much for each piece, in so many days."""
    return [
        Offer(f"{need}, {seller}", need, seller, at(price), days)
        for need, asked in prices.items()
        for seller, (price, days) in asked.items()
    ]


@st.composite
def price_lists(draw):
    floors = sorted(draw(st.sets(st.integers(1, 12), min_size=1, max_size=3)))
    price = st.decimals(0, 30, places=3)
    return PriceList(
        tuple(Break(floor, draw(price)) for floor in floors),
        draw(st.sampled_from(Counting)),
        draw(st.integers(1, 6)),
        draw(st.decimals(0, 50, places=2)),
        draw(st.sampled_from([Decimal(0), Decimal("199.99")])),
    )


@st.composite
def small_cases(draw):
    """Up to five needs in chains of up to three, up to three offers each, wishes, a date."""
    needs = []
    for number in range(draw(st.integers(1, 5))):
        before = needs[-1].key if needs and draw(st.booleans()) else None
        other = draw(st.sampled_from(needs)).key if needs and draw(st.integers(0, 2)) == 0 else None
        process = draw(st.sampled_from(["casting", "machining"]))
        needs.append(Need(f"n{number}", "part", draw(st.integers(1, 9)), process, before, other))
    home = draw(st.sampled_from(["workshop", "Ash"]))
    offers = [
        Offer(f"{need.key}-{number}", need.key, draw(st.sampled_from(SELLERS)), draw(price_lists()), draw(days))
        for need in needs
        for number in range(draw(st.integers(1, 3)))
    ]
    return needs, offers, draw(sellers()), draw(st.none() | st.integers(0, 30)), home


days = st.integers(0, 9)


@st.composite
def sellers(draw):
    charge = st.sampled_from([Decimal(0), Decimal("12.50"), Decimal(60)])
    least = st.sampled_from([Decimal(0), Decimal(100), Decimal(400)])
    return [SupplierTerms(seller, draw(charge), draw(least)) for seller in SELLERS]


def equals_every_assignment_tried(case):
    plan, best = plan_of(*case), least_total(*case)
    if best is None:
        assert any(trouble.reason is Reason.TOO_LATE for trouble in plan.troubles)
        return
    apart = sum(trouble.reason in (Reason.NOBODY_DOES_BOTH, Reason.KEPT_APART) for trouble in plan.troubles)
    wished = sum(need.keep_with is not None for need in case[0])
    assert (wished - apart, plan.total) == best
    assert plan.proven
    assert plan.gap == 0


@given(small_cases())
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
def test_it_equals_every_assignment_tried(case):
    equals_every_assignment_tried(case)


@given(small_cases(), st.data())
@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
def test_one_more_of_everything_never_costs_less(case, data):
    needs, offers, suppliers, days, home = case
    more = [Need(n.key, n.part, n.quantity + 1, n.process, n.follows, n.keep_with) for n in needs]
    fewer = plan_of(needs, offers, suppliers, days, home)
    assert plan_of(more, offers, suppliers, days, home).total >= fewer.total


@given(small_cases())
@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
def test_no_baseline_costs_less_where_there_are_no_wishes(case):
    needs, *rest = case
    needs = [Need(n.key, n.part, n.quantity, n.process, n.follows) for n in needs]
    plan, one = plan_of(needs, *rest), one_supplier_of(needs, *rest)
    assert plan.saves(part_by_part_of(needs, *rest)) >= 0
    assert one is None or plan.saves(one) >= 0


@given(small_cases())
@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
def test_one_supplier_is_the_best_of_its_kind(case):
    """Every assignment tried again, with each need of a process tied to its first."""
    needs, offers, suppliers, days, home = case
    first = {}
    tied = [Need(n.key, n.part, n.quantity, n.process, n.follows, _other(n, first)) for n in needs]
    best, one = least_total(tied, offers, suppliers, days, home), one_supplier_of(*case)
    possible = best is not None and best[0] == sum(need.keep_with is not None for need in tied)
    if possible:
        assert one.total == best[1]
    elif best is not None:
        assert one is None


def _other(need, first):
    other = first.setdefault(need.process, need.key)
    return None if other == need.key else other


def test_a_delivery_is_paid_once_for_each_place():
    """Three castings from Ash to Birch, all home from Birch: 6 · 10 + one carriage of 30 and one of 7."""
    needs = [
        Need(f"{part}, {process}", part, 1, process, follows=f"{part}, cast" if process == "turn" else None)
        for part in ("bed", "arm", "cap")
        for process in ("cast", "turn")
    ]
    offers = [Offer(n.key, n.key, "Ash" if n.process == "cast" else "Birch", at(10)) for n in needs]
    plan = plan_of(needs, offers, [SupplierTerms("Ash", Decimal(30)), SupplierTerms("Birch", Decimal(7))])
    assert [(d.supplier, d.to, d.cost) for d in plan.deliveries] == [("Ash", "Birch", 30), ("Birch", "workshop", 7)]
    assert plan.total == 97


def test_what_stays_in_the_house_is_not_carried():
    """Birch is dearer by 8 for turning, but need not carry its own casting for 20."""
    needs = [Need("cast", "bed", 1), Need("turn", "bed", 1, follows="cast")]
    offers = offers_of(cast={"Ash": (50, 0)}, turn={"Ash": (38, 0), "Birch": (30, 0)})
    plan = plan_of(needs, offers, [SupplierTerms("Ash", Decimal(20)), SupplierTerms("Birch", Decimal(20))])
    assert [line.offer.supplier for line in plan.lines] == ["Ash", "Ash"]
    assert (plan.total, part_by_part_of(needs, offers, [*plan_sellers(20)]).total) == (108, 120)


def plan_sellers(delivery):
    return (SupplierTerms(seller, Decimal(delivery)) for seller in SELLERS)


def test_work_at_home_is_delivered_to_and_costs_no_carriage_back():
    needs = [Need("cast", "bed", 1), Need("fettle", "bed", 1, follows="cast")]
    offers = offers_of(cast={"Ash": (50, 0)}, fettle={"workshop": (6, 0)})
    plan = plan_of(needs, offers, [SupplierTerms("Ash", Decimal(20))])
    assert ([(d.supplier, d.to) for d in plan.deliveries], plan.total) == ([("Ash", "workshop")], 76)


def test_an_order_below_the_least_is_charged_as_that():
    """Alone Birch's bolts at 5 would be charged as 100; with Ash they are 9."""
    needs = [Need("bed", "bed", 1), Need("bolt", "bolt", 1)]
    offers = offers_of(bed={"Ash": (200, 0)}, bolt={"Ash": (9, 0), "Birch": (5, 0)})
    suppliers = [SupplierTerms("Ash", minimum=Decimal(100)), SupplierTerms("Birch", minimum=Decimal(100))]
    plan, plain = plan_of(needs, offers, suppliers), part_by_part_of(needs, offers, suppliers)
    assert (plan.total, plan.least_orders) == (209, ())
    assert (plain.total, [(low.supplier, low.goods, low.charge) for low in plain.least_orders]) == (
        300,
        [("Birch", 5, 95)],
    )
    assert plan.saves(plain) == 91


def test_ten_are_ordered_for_nine_and_one_is_left_over():
    """trade: 9 at 42.00 are 378, 10 at 36.00 are 360; the tooling is paid with the order."""
    prices = PriceList(tuple(Break(q, Decimal(p)) for q, p in ((1, 48), (5, 42), (10, 36))), tooling=Decimal(640))
    plan = plan_of([Need("cast", "bed", 9)], [Offer("o", "cast", "Ash", prices)], [SupplierTerms("Ash")])
    assert (plan.lines[0].quantity, plan.total, plan.lines[0].left_over) == (10, 1000, 1)


def test_a_date_is_worth_money_and_chains_run_one_after_another():
    needs = [Need("cast", "bed", 1), Need("turn", "bed", 1, follows="cast")]
    offers = offers_of(cast={"Ash": (50, 30), "Birch": (60, 20)}, turn={"Ash": (40, 20), "Birch": (70, 5)})
    totals = {days: plan_of(needs, offers, [*plan_sellers(0)], days).total for days in (None, 50, 40, 35, 25)}
    assert totals == {None: 90, 50: 90, 40: 100, 35: 120, 25: 130}
    plan = plan_of(needs, offers, [*plan_sellers(0)], 40)
    assert (plan.finish, plan.ready) == (40, {"cast": 20, "turn": 40})


def test_part_by_part_comes_in_time_too():
    needs = [Need("cast", "bed", 1), Need("turn", "bed", 1, follows="cast")]
    offers = offers_of(cast={"Ash": (50, 30), "Birch": (60, 20)}, turn={"Ash": (40, 20), "Birch": (70, 5)})
    assert part_by_part_of(needs, offers, [*plan_sellers(0)], 35).total == 120


def test_what_comes_too_late_is_named_and_the_rest_planned():
    needs = [
        Need("cast", "bed", 1),
        Need("turn", "bed", 1, follows="cast"),
        Need("bolt", "bolt", 4),
    ]
    offers = offers_of(cast={"Ash": (50, 30)}, turn={"Ash": (40, 20)}, bolt={"Ash": (1, 2)})
    plan = plan_of(needs, offers, [*plan_sellers(0)], 49)
    (trouble,) = plan.troubles
    assert (trouble.reason, trouble.needs, trouble.days) == (Reason.TOO_LATE, ("cast", "turn"), 50)
    assert (plan.total, plan.proven) == (4, True)
    assert str(trouble) == "cast, turn: it cannot be there in time: 50 days at the soonest."


def test_what_nobody_offers_is_named_and_what_comes_before_it_is_brought_home():
    needs = [Need("pattern", "bed", 1), Need("cast", "bed", 1, follows="pattern")]
    plan = plan_of(needs, offers_of(pattern={"Ash": (90, 5)}), [SupplierTerms("Ash", Decimal(8))])
    assert [(t.reason, t.needs) for t in plan.troubles] == [(Reason.NO_OFFER, ("cast",))]
    assert ([(d.supplier, d.to) for d in plan.deliveries], plan.total) == ([("Ash", "workshop")], 98)


def test_nothing_offered_at_all_is_an_empty_plan():
    plan = plan_of([Need("cast", "bed", 1)], [], [])
    assert (plan.lines, plan.total, plan.finish, plan.gap) == ((), 0, 0, 0)
    assert one_supplier_of([Need("cast", "bed", 1)], [], []).total == 0


def test_one_supplier_is_kept_where_wanted():
    needs = [Need("bed", "bed", 1), Need("arm", "arm", 1, keep_with="bed")]
    offers = offers_of(bed={"Ash": (50, 0), "Birch": (60, 0)}, arm={"Ash": (40, 0), "Birch": (20, 0)})
    plan = plan_of(needs, offers, [*plan_sellers(0)])
    assert ({line.offer.supplier for line in plan.lines}, plan.total) == ({"Birch"}, 80)


def test_a_wish_nobody_can_meet_is_named_and_the_rest_planned():
    needs = [Need("bed", "bed", 1), Need("arm", "arm", 1, keep_with="bed")]
    offers = offers_of(bed={"Ash": (50, 0)}, arm={"Birch": (20, 0)})
    plan = plan_of(needs, offers, [*plan_sellers(0)])
    assert [(t.reason, t.needs) for t in plan.troubles] == [(Reason.NOBODY_DOES_BOTH, ("arm", "bed"))]
    assert plan.total == 70


def test_a_wish_that_the_date_forbids_is_named():
    needs = [Need("bed", "bed", 1), Need("arm", "arm", 1, keep_with="bed")]
    offers = offers_of(bed={"Ash": (50, 5), "Birch": (50, 30)}, arm={"Ash": (20, 30), "Birch": (20, 5)})
    plan = plan_of(needs, offers, [*plan_sellers(0)], 10)
    assert [(t.reason, t.needs) for t in plan.troubles] == [(Reason.KEPT_APART, ("arm", "bed"))]
    assert (plan.total, plan.finish) == (70, 5)


def test_of_two_wishes_that_exclude_each_other_the_cheaper_is_met():
    needs = [
        Need("bed", "bed", 1),
        Need("arm", "arm", 1, keep_with="bed"),
        Need("cap", "cap", 1, keep_with="bed"),
    ]
    offers = offers_of(bed={"Ash": (50, 0), "Birch": (45, 0)}, arm={"Ash": (20, 0)}, cap={"Birch": (30, 0)})
    plan = plan_of(needs, offers, [*plan_sellers(0)])
    assert ([t.needs for t in plan.troubles], plan.total, plan.proven) == ([("arm", "bed")], 95, True)


def test_no_one_supplier_where_nobody_does_a_whole_process():
    needs = [Need("bed", "bed", 1, "casting"), Need("arm", "arm", 1, "casting")]
    offers = offers_of(bed={"Ash": (50, 0)}, arm={"Birch": (20, 0)})
    assert one_supplier_of(needs, offers, [*plan_sellers(0)]) is None


def test_a_dozen_parts_are_proven_and_come_out_the_same_twice():
    case = batch(12)
    plan = plan_of(*case)
    assert plan.proven
    assert plan == plan_of(*case)


def test_stopped_by_the_clock_it_still_has_a_plan_and_an_honest_bound():
    case = batch(12)
    best, stopped = plan_of(*case), plan_of(*case, limit_s=0)
    assert len(stopped.lines) == 36
    assert stopped.bound <= best.total <= stopped.total
    assert stopped.gap > 0
    assert "No choice costs less than" in order_working(stopped, "GBP").note


def test_the_total_opens_its_working():
    needs, offers = [Need("bed", "bed", 2)], offers_of(bed={"Ash": ("50.005", 0)})
    plan = plan_of(needs, offers, [SupplierTerms("Ash", Decimal(20), Decimal(150))])
    working = order_working(plan, "GBP")
    assert [value for _, value in working.inputs] == ["100.01 GBP", "20.00 GBP", "49.99 GBP"]
    assert (working.result, working.note) == ("170.00 GBP", "Proven: no other choice costs less.")


BED = Need("bed", "bed", 1)


@pytest.mark.parametrize(
    ("needs", "offers", "says"),
    [
        ([BED, BED], [], "operation bed: it is there twice"),
        ([BED], [Offer("o", "bed", "Oak", at(1))], "offer o: there is no supplier Oak"),
        ([Need("bed", "bed", 1, follows="arm")], [], "bed: there is no other operation arm"),
        ([Need("bed", "bed", 1, keep_with="bed")], [], "bed: there is no other operation bed"),
        (
            [BED, Need("a", "bed", 1, follows="bed"), Need("b", "bed", 1, follows="bed")],
            [],
            "both a and b follow it",
        ),
        ([Need("a", "bed", 1, follows="b"), Need("b", "bed", 1, follows="a")], [], "in a circle"),
    ],
)
def test_what_cannot_be_meant_is_refused(needs, offers, says):
    with pytest.raises(ValueError, match=says):
        plan_of(needs, offers, [*plan_sellers(0)])


def test_each_value_checks_itself():
    with pytest.raises(ValueError, match="bed: a quantity of 0 cannot be ordered"):
        Need("bed", "bed", 0)
    with pytest.raises(ValueError, match="o: it cannot take -1 days"):
        Offer("o", "bed", "Ash", at(1), -1)
    with pytest.raises(ValueError, match="Ash, least order: -1 is not a sum of money"):
        SupplierTerms("Ash", minimum=Decimal(-1))
