"""A server that is killed while people log: what they were told is kept is not lost. benchmarks/ does it 50 times."""

import sys

import pytest

from tests.under_load import Yard, killed_again_and_again


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the processes left are read from /proc")
def test_what_was_acknowledged_outlives_a_kill_and_nothing_is_left_over(tmp_path):
    yard = Yard(tmp_path)
    lost, unsound, stray = killed_again_and_again(yard, kills=1, seed=7)
    assert len(yard.acknowledged) >= 1
    assert not yard.refused
    assert (lost, unsound, stray) == (set(), [], [])
