"""The ordering plan of 12, 60 and 200 parts, each with a pattern, a casting and a machining from five suppliers with
five breaks, three batches of each: time to proof, gap, and what it saves against part by part, all in this run.

Seconds are of one processor's work, so that what else runs on the machine does not count.
For ten sets, for ten in 75 days, and for one set, where carriage and least orders weigh most.
"""

from statistics import mean
from time import process_time

import pytest
from hypothesis import HealthCheck, given, settings

from projects.money.ordering import lay_out, one_supplier, order_plan, part_by_part
from tests.projects.money.batches import batch
from tests.projects.money.test_ordering import equals_every_assignment_tried, small_cases

BATCHES = (1, 2, 3)
LIMIT = 60.0  # s


def timed(work):
    begin = process_time()
    answer = work()
    return answer, process_time() - begin


def share(plan, other):
    return 100 * float(plan.saves(other) / other.total)


@pytest.mark.parametrize(("kind", "sets", "days"), [("", 10, None), (".in_75_days", 10, 75), (".one_set", 1, None)])
@pytest.mark.parametrize("parts", [12, 60, 200])
def test_proof_and_saving(parts, kind, sets, days):
    took, gaps, saved, against_one = [], [], [], []
    for seed in BATCHES:
        case = batch(parts, sets, seed=seed)
        plan, seconds = timed(lambda case=case: order_plan(lay_out(*case, days), limit_s=LIMIT))
        laid_out = lay_out(*case, days)
        plain, one = part_by_part(laid_out), one_supplier(laid_out)
        assert not plan.troubles
        assert plan.bound <= plan.total <= plain.total
        assert one is None or plan.total <= one.total
        took.append(seconds)
        gaps.append(100 * plan.gap)
        saved.append(share(plan, plain))
        against_one += [share(plan, one)] if one else []
    name = f"order.{parts}{kind}"
    seconds = ", ".join(f"{one:.2f} s" for one in took)
    print(f"\n{parts} parts, sets of them: {sets}, days: {days or 'any'}: {seconds}")
    print(f"figure {name}.proof_s {max(took):.2f} s" if max(gaps) == 0 else f"no proof of all in {max(took):.1f} s")
    print(f"figure {name}.gap_pct {max(gaps):.2f} %")
    print(f"figure {name}.saving_pct {mean(saved):.2f} %")
    print(
        f"against one supplier a process: {mean(against_one):.1f} %" if against_one else "no one does a process whole"
    )


@given(small_cases())
@settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck))
def test_four_hundred_small_cases_equal_every_assignment_tried(case):
    equals_every_assignment_tried(case)
