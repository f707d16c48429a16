"""The cost ladder of a big machine, and how many to start, each against the plain way to the same figures.

Seconds are of one processor's work, so that what else runs on the machine does not count.
"""

from decimal import Decimal
from time import process_time

import pytest

from projects.money.ladder import ladder
from projects.money.starts import entering, starts
from projects.money.unit_cost import CostingTerms, machine_cost
from tests.projects.money.routes import big_machine

SIZES = range(1, 51)
TERMS = CostingTerms(Decimal(40), overhead=Decimal(20))


def timed(work):
    entering.cache_clear()
    begun = process_time()
    answer = work()
    return answer, process_time() - begun


def test_a_ladder_against_a_sheet_of_each_size():
    """Sixty parts of six operations; a sheet rounds every amount, and tells of no step."""
    parts = big_machine()
    found, seconds = timed(lambda: ladder(parts, SIZES, TERMS))
    sheets, plain = timed(lambda: [machine_cost(parts, size, TERMS) for size in SIZES])
    assert [rung.each for rung in found.rungs] == [sheet.each for sheet in sheets]
    print(f"\n60 parts, 50 sizes: ladder {seconds:.2f} s, a sheet of each size {plain:.2f} s")
    print(f"figure ladder.60.share_of_sheets {seconds / plain:.2f}")


@pytest.mark.parametrize(("good", "yield_"), [(50, "0.9"), (60, "0.3"), (60, "0.00243")])
def test_starts_against_one_start_after_another(good, yield_):
    share = Decimal(yield_)
    found, seconds = timed(lambda: starts(good, share))
    plain, one_by_one = timed(lambda: _one_after_another(good, share))
    assert found == plain
    print(f"\n{good} good ones at {100 * share} %: {1000 * seconds:.2f} ms, one by one {1000 * one_by_one:.2f} ms")
    print(f"figure starts.{good}_at_{yield_}.times_faster {one_by_one / seconds:.1f}")


def _one_after_another(good, share, wanted=Decimal("0.9")):
    """The chance that the last good one comes at the next start is added until it is enough."""
    started, term = good, share**good
    reached = term
    while reached < wanted:
        term *= (1 - share) * started / (started - good + 1)
        reached, started = reached + term, started + 1
    return started
