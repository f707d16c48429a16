"""Racks stage by stage: what leads on to most that is still to come is put in first, for all racks, and then the rest.

Put in one after the other, whole racks leave the last ones to begin late, with nothing to work on meanwhile. A rack is
therefore cut where it may wait for days; between two such cuts windows close too soon for others to come first.
"""

from collections.abc import Sequence

import numpy as np

from .insertion import Insertion, longest_first, rack_by_rack
from .problem import NEVER, Chain, Problem, TimeWindow
from .schedule import Aim, Schedule

FIRST = (Aim.LATENESS, Aim.FINISH)
MAY_WAIT = 2880  # minutes that a window stays open where a rack is cut
THRIFTS = (8, 1)  # minutes by which a way may lead on later for each person-minute that it saves, tried in turn


class Stages:
    """Where the racks of a problem are cut."""

    def __init__(self, problem: Problem) -> None:
        waits: dict[int, bool] = {}
        self._ends: dict[str, list[int]] = {}
        closing = []
        for lag in problem.time_lags:
            for window in lag.windows:
                waits.setdefault(id(window), _may_wait(window, problem.horizon.count))
            if not all(waits[id(window)] for window in lag.windows):
                closing.append((lag.before, lag.after))
        for chain in problem.chains:
            number = {task.name: n for n, task in enumerate(chain.tasks)}
            whole = set(range(1, len(chain.tasks)))
            for before, after in closing:
                if before in number:
                    whole -= set(range(number[before] + 1, number[after] + 1))
            early = next((n for n, task in enumerate(chain.tasks) if not task.early), 0)
            self._ends[chain.name] = [*(n for n in sorted(whole) if n > early), len(chain.tasks)]

    def put(self, insertion: Insertion, chains: Sequence[Chain], anew: bool = False) -> bool:
        """Put these racks in, of each what is left; False, and some of them in, where one finds no place.

        anew: a rack of which a stage comes too late for what is in already may be taken out, and put in from its first.
        """
        most = max((len(self._ends[chain.name]) for chain in chains), default=0)
        for left in range(most, 0, -1):
            for chain in chains:
                ends = self._ends[chain.name]
                if len(ends) >= left and not self._go_on(insertion, chain, ends[-left], anew):
                    return False
        return True

    def _go_on(self, insertion: Insertion, chain: Chain, until: int, anew: bool) -> bool:
        if insertion.put(chain, until) or not anew:
            return all(task.name in insertion.tasks for task in chain.tasks[:until])
        inside = [task.name for task in chain.tasks if task.name in insertion.tasks]
        for name in inside:
            insertion.undo(name)
        return bool(inside) and insertion.put(chain, until)


def _may_wait(window: TimeWindow, count: int) -> bool:
    """Whether it stays open long, whenever it opens."""
    comes = window.opens <= count
    ends = np.minimum(window.closes, window.closed_from)
    return bool(np.all((ends[comes] >= NEVER) | (ends[comes] - window.opens[comes] >= MAY_WAIT)))


def first_schedule(problem: Problem) -> Schedule | None:
    """A schedule by insertion, stage by stage or, where that ends sooner, rack by rack; None where none is found."""
    queue = longest_first(problem)
    if len(queue) < len(problem.chains):
        return None
    stages, found = Stages(problem), [rack_by_rack(problem, queue)]
    for thrift in THRIFTS:
        insertion = Insertion(problem)
        insertion.thrift = thrift
        found.append(insertion.schedule() if stages.put(insertion, queue, anew=True) else None)
    return min(filter(None, found), key=lambda schedule: schedule.values(FIRST), default=None)
