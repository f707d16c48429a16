"""The starts of ways, cut into segments for a solver: what follows from a start is then told by a number.

A task's starts in one way are cut into segments in which all that follows keeps pace with the start: dry, opening,
closing and cost are the start and a number of the segment's own. Where there would be too many segments, neighbours are
taken together, and the number is the worst of them: what is planned so holds, and might come a little sooner.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from .crews import Hands, Team, hands
from .insertion import TaskWay
from .problem import NEVER, Minutes, Problem, TimeLag, Transport

SEGMENTS = 40  # of a task, over all its ways
SLACKS = (0, 2, 5, 10, 20, 40, 80, 160, 320, 10_000)  # minutes by which neighbours taken together may differ


@dataclass(frozen=True)
class Segment:
    """Starts from `first` to `last`, and what follows from each of them, in minutes after it.

    opens, closes, shut, until: by the number of a time lag · fetched: when its rack is, before it · away: the first and
    the last minute in which it may be wheeled on.
    """

    way: TaskWay
    first: int
    last: int
    dry: int
    cost: int
    margin: int
    opens: dict[int, int]
    closes: dict[int, int]
    shut: dict[int, int]
    until: dict[int, int]
    fetched: tuple[int, int] | None
    away: tuple[int, int] | None
    settled: int
    exact: bool


@dataclass(frozen=True)
class Fetching:
    """Moments from `first` to `last` in which a rack may be fetched, and after how many minutes it has settled."""

    first: int
    last: int
    settled: int
    cost: int


class Cutter:
    """Cuts the starts of ways into segments."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self.count = problem, problem.horizon.count
        self.hands: Hands = hands(problem)
        self.lags: dict[str, list[tuple[int, TimeLag]]] = {}
        for number, lag in enumerate(problem.time_lags):
            self.lags.setdefault(lag.before, []).append((number, lag))

    def segments(self, way: TaskWay, at: Minutes, most: int, by: int, margin: int) -> list[Segment]:
        """Of these starts those that are possible in this way and dry by then, with at least this margin."""
        task, mode = way.task, way.mode
        at = at[self.hands.at_work(way.team, task.minutes)[at]]
        if margin > 0:
            at = at[mode.margin[at] >= margin]
        done = at + task.minutes
        dry = done if mode.dry is None else mode.dry[done]
        kept = dry <= by
        columns: dict[Any, Minutes] = {"dry": dry}
        for number, lag in self.lags.get(task.name, ()):
            window = lag.windows[way.number]
            for name, values in (("opens", window.opens), ("closes", window.closes), ("shut", window.closed_from),
                                 ("until", window.closed_until)):  # fmt: skip
                columns[name, number] = values[done]
        columns["settled"] = done
        if way.fetch is not None and not task.early:
            transport, team = way.fetch
            columns["fetched"] = fetched = self.hands.last_carry(transport, team)[at]
            kept &= fetched >= task.not_before
        if way.away is not None and mode.carried is not None:
            transport, team = way.away
            columns["away"] = away = np.minimum(mode.carried[done], self.count)
            carriers = np.append(self.hands.settled(transport, team), NEVER)[away]
            kept &= carriers < NEVER
            columns["settled"] = carriers
        costs = self._costs(way, at, columns)
        at, costs = at[kept], costs[kept]
        if not len(at):
            return []
        never = 2 * self.count  # later than anything, whenever it starts
        cut = {name: values[kept] for name, values in columns.items()}
        after = {name: np.where(values > self.count, never, values - at) for name, values in cut.items()}
        return list(self._cut(way, at, after, costs, most))

    def _costs(self, way: TaskWay, at: Minutes, columns: dict[Any, Minutes]) -> Minutes:
        cost = np.asarray(way.mode.cost[at], np.int64)
        cost = cost + self._wages(way.team, at, way.task.minutes)
        for part, carrying in (("fetched", way.fetch), ("away", way.away)):
            if carrying is not None and part in columns:
                cost = cost + self._wages(carrying[1], np.maximum(columns[part], 0), carrying[0].minutes)
        return cost

    def _wages(self, team: Team, begin: Minutes, minutes: int) -> Minutes:
        """Cents that the team costs from then on, each person up."""
        total = np.zeros(len(begin), np.int64)
        for crew, people in team:
            if self.hands.crews[crew].wage.any():
                sums = np.append(0, np.cumsum(self.hands.crews[crew].wage))
                until = np.minimum(begin + minutes, self.count)
                total += people * -(-(sums[until] - sums[np.minimum(begin, self.count)]) // 60)
        return total

    def _cut(
        self, way: TaskWay, at: Minutes, after: dict[Any, Minutes], costs: Minutes, most: int
    ) -> Iterator[Segment]:
        for slack in SLACKS:
            breaks = _breaks(at, [*after.values(), costs, np.asarray(way.mode.margin[at], np.int64)], slack)
            if len(breaks) <= most:
                break
        for begin, end in zip(breaks, [*breaks[1:].tolist(), len(at)], strict=True):
            part = slice(int(begin), int(end))
            yield self._segment(way, at[part], {n: v[part] for n, v in after.items()}, costs[part], slack == 0)

    def _segment(self, way: TaskWay, at: Minutes, after: dict[Any, Minutes], costs: Minutes, exact: bool) -> Segment:
        low = {name: int(values.min()) for name, values in after.items()}
        high = {name: int(values.max()) for name, values in after.items()}

        def by_lag(what: str, worst: dict[Any, int]) -> dict[int, int]:
            return {name[1]: value for name, value in worst.items() if isinstance(name, tuple) and name[0] == what}

        return Segment(
            way, int(at[0]), int(at[-1]), high["dry"], int(costs.max()), int(way.mode.margin[at].min()),
            by_lag("opens", high), by_lag("closes", low), by_lag("shut", low), by_lag("until", high),
            (low["fetched"], high["fetched"]) if "fetched" in low else None,
            (low["away"], high["away"]) if "away" in low else None,
            high["settled"], exact,
        )  # fmt: skip

    def fetchings(self, transport: Transport, team: Team, not_before: int, most: int) -> list[Fetching]:
        """When a rack may be fetched that may be fetched early."""
        settled = self.hands.settled(transport, team)
        at = np.flatnonzero(settled < NEVER)
        at = at[at >= not_before]
        if not len(at):
            return []
        waits, costs = settled[at] - at, self._wages(team, at, transport.minutes)
        for slack in SLACKS:
            breaks = _breaks(at, [waits, costs], slack)
            if len(breaks) <= most:
                break
        parts = [slice(int(b), int(e)) for b, e in zip(breaks, [*breaks[1:].tolist(), len(at)], strict=True)]
        return [Fetching(int(at[p][0]), int(at[p][-1]), int(waits[p].max()), int(costs[p].max())) for p in parts]


def _breaks(at: Minutes, columns: list[Minutes], slack: int) -> Minutes:
    """Where a segment begins: behind a gap, and where something differs by more than the slack."""
    new = np.empty(len(at), bool)
    new[0], new[1:] = True, np.diff(at) != 1
    for values in columns:
        steps = values if slack == 0 else values // (slack + 1)
        new[1:] |= np.diff(steps) != 0
    return np.flatnonzero(new)
