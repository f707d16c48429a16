"""How sure a schedule is: in how many members of an ensemble it stands, and a problem in which most of them agree.

An ensemble is one weather model run many times from beginnings that differ a little. A schedule is held against each
member as against a new forecast. It is counted whole first: tasks that each stand in most members may fall in
different ones, so the share of a whole schedule lies below that of its weakest task.

>>> count_scenarios([set(), {"coat 1"}, set(), {"coat 1", "coat 2"}, {"coat 2"}], ["blast", "coat 1", "coat 2"])
ScenarioCount(of=5, whole=2, tasks={'blast': 5, 'coat 1': 3, 'coat 2': 3})
"""

from collections.abc import Callable, Collection, Hashable, Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import Any

import numpy as np

from finishing.science.working import Working

from .problem import Chain, Mode, Problem, Task, TimeLag, TimeWindow, Transport

TINY = 1e-9


@dataclass(frozen=True)
class ScenarioCount:
    """Of so many members the whole schedule stands in `whole`, each task in its own number."""

    of: int
    whole: int
    tasks: dict[Any, int]


def count_scenarios(broken: Sequence[Collection[Hashable]], tasks: Collection[Hashable]) -> ScenarioCount:
    """broken: for each member the tasks that do not hold in it."""
    standing = {task: sum(task not in those for those in broken) for task in tasks}
    return ScenarioCount(len(broken), sum(not those for those in broken), standing)


def reaches(count: int, of: int, share: float) -> bool:
    """Whether so many of them are at least this share.

    >>> reaches(8, 10, 0.8), reaches(24, 31, 0.8)
    (True, False)
    """
    return of > 0 and count >= share * of - TINY


def share_working(whole: int, of: int, weakest: int) -> Working:
    """The share of members in which a whole schedule stands, as a page opens it."""
    inputs = (("members held against the plan", str(of)), ("members in which no step breaks a rule", str(whole)),
              ("members in which the weakest step stands", str(weakest)))  # fmt: skip
    return Working(
        "Share of the ensemble in which the whole plan stands", "members without a broken step / all members", inputs,
        f"{whole} of {of}", "our judgement",
        "Members are counted alike. An ensemble is often too sure of itself, and knows nothing of this yard.",
    )  # fmt: skip


# -- a problem in which most members agree


def robust(problem: Problem, scenarios: Sequence[Problem], share: float) -> Problem:
    """The problem, made so narrow that each start, wait and deadline holds in at least this share of the members too.

    scenarios: the same problem by each member's hours, its tasks with the same modes; a rack that cannot be planned in
    one is left out there, and counts as refused. What a task waits for is as late as the share asks, what closes as
    early; the forecast's own rules stay. Task by task that is enough; of a whole schedule it is not: that is counted.
    """
    few = len(scenarios) - ceil(share * len(scenarios) - TINY)  # so many may disagree
    chains = tuple(_chain(chain, scenarios, few) for chain in problem.chains)
    time_lags = tuple(_lag(lag, scenarios, few) for lag in problem.time_lags)
    transports = tuple(_transport(transport, scenarios, few) for transport in problem.transports)
    return replace(problem, chains=chains, time_lags=time_lags, transports=transports)


def _late(own: Any, others: Sequence[Any], few: int) -> Any:
    """By slot: the value at which all but a few are ready, no sooner than the forecast."""
    if not others:
        return own
    return np.maximum(own, np.sort(np.array(others), axis=0)[len(others) - 1 - few])


def _early(own: Any, others: Sequence[Any], few: int) -> Any:
    """By slot: the value at which all but a few are still open, no later than the forecast."""
    return np.minimum(own, np.sort(np.array(others), axis=0)[few]) if others else own


def _chain(chain: Chain, scenarios: Sequence[Problem], few: int) -> Chain:
    return replace(chain, tasks=tuple(_task(task, scenarios, few) for task in chain.tasks))


def _task(task: Task, scenarios: Sequence[Problem], few: int) -> Task:
    there = [scenario.tasks.get(task.name) for scenario in scenarios]
    missing = sum(other is None for other in there)
    modes = tuple(
        _mode(mode, [other.modes[n] for other in there if other is not None], few - missing)
        for n, mode in enumerate(task.modes)
    )
    return replace(task, modes=modes)


def _mode(mode: Mode, others: Sequence[Mode], few: int) -> Mode:
    if few < 0:
        return replace(mode, may_start=np.zeros_like(mode.may_start))
    refused = np.sum([~other.may_start for other in others], axis=0) if others else 0
    ready = {name: _late(getattr(mode, name), [getattr(other, name) for other in others], few)
             for name in ("dry", "carried") if getattr(mode, name) is not None}  # fmt: skip
    margin = _early(mode.margin, [other.margin for other in others], few)
    return replace(mode, may_start=mode.may_start & (refused <= few), margin=margin, **ready)


def _lag(lag: TimeLag, scenarios: Sequence[Problem], few: int) -> TimeLag:
    there = [other for scenario in scenarios if (other := _same(scenario, lag)) is not None]
    spared = max(0, few - (len(scenarios) - len(there)))
    windows = tuple(
        _window(window, [other.windows[n] for other in there], spared) for n, window in enumerate(lag.windows)
    )
    return replace(lag, windows=windows)


def _same(scenario: Problem, lag: TimeLag) -> TimeLag | None:
    key = lag.before, lag.after, lag.kind
    return next((other for other in scenario.time_lags if (other.before, other.after, other.kind) == key), None)


ENDS: dict[str, Callable[[Any, Sequence[Any], int], Any]] = {
    "opens": _late, "closes": _early, "closed_from": _early, "closed_until": _late,
}  # fmt: skip


def _window(window: TimeWindow, others: Sequence[TimeWindow], few: int) -> TimeWindow:
    ends = {name: pick(getattr(window, name), [getattr(o, name) for o in others], few) for name, pick in ENDS.items()}
    return replace(window, **ends)


def _transport(transport: Transport, scenarios: Sequence[Problem], few: int) -> Transport:
    key = transport.origin, transport.to, transport.rack
    others = [other.settles for m in scenarios for other in m.transports if (other.origin, other.to, other.rack) == key]
    return replace(transport, settles=_late(transport.settles, others, max(0, few - (len(scenarios) - len(others)))))
