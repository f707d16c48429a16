"""The aims in turn, each made as small as it goes: by hand where that is quick, and by asking a solver for the rest.

The racks are asked about one by one and, before, where some are alike, counted: for the least that lies wet of any of
them, where what is impossible is impossible for all; and for the share of each in what lies wet of all, where good
schedules are found. Which solver answers is not known here.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Protocol

from finishing.science.hours import Flags

from .aims import earliest
from .disaggregation import disaggregate
from .feasibility import check_feasibility
from .insertion import first_picks
from .local_search import LocalSearch
from .lower_bounds import capacity_suffices, dearest_call, earliest_finish
from .problem import NEVER, Problem
from .schedule import Aim, Schedule
from .search_space import Picks, SearchSpace, again, narrow, search_space, settle, within
from .symmetry import RackGroup, Starts, aggregate, aggregate_picks, symmetric_racks

# Effort is counted in the solver's deterministic seconds.
TURN = 0.0005  # of them that a turn of shuffling counts for each rack
SHARE = 0.25  # of what is left of the effort that shuffling may take for one aim, where the solver follows
TURNS = 10  # for each rack, where the solver follows
PROBE = 0.5  # of what is left of the effort, for one question on the way to a bound
QUESTION = 4.0  # of them that it takes at most: what takes longer is more often yes than no
LIMITED = ("crew", "visit", "bench", "wet")  # what there may not be enough of
FEW = 2_000  # starts that the solver goes through sooner than shuffling does
CLIMBS = 2  # questions whether there is any more margin, before what is open is halved
OPEN = 2  # questions in a row that are left open before something else is tried
REACH = 15_000  # starts beyond which the solver has not been seen to help

Report = Callable[[Schedule], None]
Stop = Callable[[], bool]
Attempt = tuple[
    bool, int | None, float
]  # a better schedule came of it; the bound, None: nothing is possible; effort spent


@dataclass(frozen=True, eq=False)
class Result:
    """The best schedule found, None where there is none; for each aim in turn no schedule is better than its bound.

    bounds: lower bounds of Schedule.values, each while the aims before it keep the values that the schedule has
    impossible: that there is no schedule at all has been proven.
    """

    schedule: Schedule | None
    aims: tuple[Aim, ...]
    bounds: tuple[int, ...]
    impossible: bool = False

    @property
    def proven(self) -> bool:
        """Nothing is better, in any of the aims."""
        return self.impossible or (self.schedule is not None and self.schedule.values(self.aims) == self.bounds)

    @property
    def open_aim(self) -> Aim | None:
        """The first aim in which a better schedule has not been ruled out."""
        if self.schedule is None:
            return None
        values = self.schedule.values(self.aims)
        return next((a for a, v, b in zip(self.aims, values, self.bounds, strict=True) if v != b), None)

    @property
    def gap(self) -> float:
        """How much better the first aim that is open could be at most, as a share of its value or bound, the larger."""
        if self.schedule is None or self.open_aim is None:
            return 0.0
        value, bound = self.schedule.value(self.open_aim), self.bounds[self.aims.index(self.open_aim)]
        return (value - bound) / max(abs(value), abs(bound))


class Solver(Protocol):
    """What a solver is asked."""

    def ask(
        self,
        space: SearchSpace,
        aim: Aim | None,
        held: dict[Aim, int],
        hint: Starts | None,
        effort: float,
        stop: Stop,
        keep: Callable[[Starts], bool],
    ) -> Attempt:
        """Makes an aim small, or, without one, finds any schedule; `keep` gets each and says whether it is better."""

    def flow(self, arcs: list[Any]) -> int:
        """How much passes through a network, from node 0 to node 1."""

    def match(self, able: Flags) -> list[int]:
        """For each row its column, as many where both can meet as there can be."""


class Search:
    """One problem on its way to its best schedule."""

    def __init__(
        self,
        problem: Problem,
        aims: tuple[Aim, ...],
        solver: Solver,
        seed: int,
        effort: float,
        report: Report,
        stop: Stop,
    ) -> None:
        self.problem, self.solver, self.seed, self.left = problem, solver, seed, effort
        self.aims = (*aims, Aim.LABOUR)
        self.report, self.stop = report, stop
        self.space = search_space(problem)
        self.excluded: dict[int, int] = {}  # for each search space the starts with which it was asked in vain
        self.held: dict[Aim, int] = {}
        self.picks: Picks = {}
        self.schedule: Schedule | None = None

    def run(self) -> Result:
        """First a schedule, then each aim in its turn."""
        first = first_picks(self.space)
        if first is not None:
            self._keep(first)
        space = narrow(self.space)
        self.groups = symmetric_racks(space)
        self._restrict(space)
        if first is None and (no_way := self._no_way()) is not None:
            return no_way
        bounds = [self._best(aim) for aim in self.aims]
        return Result(self.schedule, self.aims[:-1], tuple(bounds[:-1]))

    def _count(self) -> None:
        """The search spaces that are asked; what the first or the last of them excludes is excluded."""
        self.spaces = [self.space]
        if len(self.groups) < len(self.problem.chains):
            self.spaces = [*(aggregate(self.space, self.groups, wet) for wet in (min, _share)), self.space]

    def _no_way(self) -> Result | None:
        """None once there is a schedule after all."""
        aims = self.aims[:-1]
        nothing = tuple(0 for _ in aims)
        if not all(self.space.choices.values()):
            return Result(None, aims, nothing, impossible=True)
        possible = self._possible(self.spaces, lambda space: space)
        return None if possible else Result(None, aims, nothing, impossible=possible is False)

    def _best(self, aim: Aim) -> int:
        """Makes this aim as small as it goes and holds it; gives its bound."""
        bound, sooner = self._bound(aim), [space for space in self.spaces[:-1] if _starts(space) <= FEW]
        bound = self._refine(aim, bound, sooner)
        if self._open(aim, bound):
            self._shuffle(aim, bound)
        bound = self._refine(aim, bound, self.spaces[len(sooner) :])
        self._hold(aim)
        return bound

    def _open(self, aim: Aim, bound: int) -> bool:
        return self._value(aim) > bound and not self.stop()

    def _refine(self, aim: Aim, bound: int, spaces: list[SearchSpace]) -> int:
        """Asks these search spaces for better schedules; the bound that comes of it."""
        if not self._open(aim, bound):
            return bound
        self.excluded = {}
        ask = {Aim.FINISH: self._earlier, Aim.MARGIN: self._thicker}.get(aim, self._less)
        return max(bound, ask(aim, bound, spaces))

    def _value(self, aim: Aim) -> int:
        assert self.schedule is not None
        return self.schedule.value(aim)

    def _keep(self, picks: Picks) -> bool:
        """Makes a better schedule the incumbent; RuntimeError if it breaks a rule, which is a fault of ours."""
        schedule = settle(self.space, picks)
        if self.schedule is not None and schedule.values(self.aims) >= self.schedule.values(self.aims):
            return False
        if broken := check_feasibility(schedule):
            raise RuntimeError(f"this plan breaks its rules: {'; '.join(map(str, broken))}")
        self.picks, self.schedule = picks, schedule
        self.report(schedule)
        return True

    def _bound(self, aim: Aim) -> int:
        """What no schedule can be better in, seen without the solver."""
        space = self.spaces[0]
        chains = [(chain, space.times(chain.tasks[0].name)) for chain in space.problem.chains]
        if aim is Aim.LATENESS:
            promised = ((earliest(space, chain), chain.promised, times) for chain, times in chains)
            return sum(times * max(0, end - date) for end, date, times in promised if date is not None)
        if aim is Aim.FINISH:
            return self._capacity_bound(space, earliest_finish(space))
        if aim is Aim.COST:
            least = ((min(int(c.own_cost.min()) for c in w), space.times(name)) for name, w in space.choices.items())
            return sum(times * cost for cost, times in least) + dearest_call(space)
        if aim is Aim.LABOUR:
            return sum(min(c.labour for c in ways) * space.times(name) for name, ways in space.choices.items())
        return -min(max(int(c.after.margin.max()) for c in ways) for ways in space.choices.values())

    def _capacity_bound(self, space: SearchSpace, low: int) -> int:
        """The earliest end for which the people, each piece of work cut up as one likes, are enough."""
        high = self._value(Aim.FINISH)
        while low < high and not self.stop():
            middle = (low + high) // 2
            cut = within(space, middle)
            if all(cut.choices.values()) and all(capacity_suffices(cut, on, self.solver.flow) for on in LIMITED):
                high = middle
            else:
                low = middle + 1
        return low

    def _shuffle(self, aim: Aim, bound: int) -> None:
        local_search = LocalSearch(self.space, self.picks, self.aims[: self.aims.index(aim) + 1], self.seed)

        def better(picks: Picks) -> bool:
            self._keep(picks)
            return self._value(aim) > bound

        turn = TURN * len(self.problem.chains)
        followed = _in_reach(self.space) or len(self.spaces) > 1
        few, share = (TURNS * len(self.problem.chains), SHARE) if followed else (NEVER, 1.0)
        turns = min(few, int(share * self.left / turn))
        self.left -= turn * local_search.run(turns, better, self.stop)

    def _less(self, aim: Aim, bound: int, spaces: list[SearchSpace]) -> int:
        """Lateness and cost: the solver makes the sum small."""
        for space in spaces:
            if self._open(aim, bound) and _in_reach(space) and self.left > 0:
                hint = aggregate_picks(self.space, self._groups(space), self.picks)
                least = self._ask(space, aim, hint)[1]
                bound = max(bound, least) if least is not None and self._sound(space) else bound
        return bound

    def _earlier(self, aim: Aim, low: int, spaces: list[SearchSpace]) -> int:
        """Finish: "all done by then?" is answered sooner than "when?": halves what is open, then tries its end."""
        high, left_open = self._value(aim), 0
        while low < high and left_open < OPEN and not self.stop():
            middle = (low + high - 1) // 2
            possible = self._possible(spaces, _by(middle), min(PROBE, QUESTION / max(self.left, QUESTION)))
            left_open = left_open + 1 if possible is None else 0
            if possible is False:
                low = middle + 1
            else:
                high = min(middle, self._value(aim))
        while low < self._value(aim) and not self.stop() and self.left > 0:
            before = self._value(aim)
            if self._possible(spaces, _by(before - 1), 0.5) is False:
                return before
            if self._value(aim) == before:
                break
        return low

    def _thicker(self, aim: Aim, best: int, spaces: list[SearchSpace]) -> int:
        """Margin: the starts that keep less are left out, and what is left is tried; the bound, negative.

        Whether there is any more to be had is asked first, a few times while there is, and then what is open is halved.
        """
        for _ in range(CLIMBS):
            more = self._possible(spaces, _keeping(1 - self._value(aim)), PROBE) if self._open(aim, best) else None
            if more is False:
                return self._value(aim)
            if more is None:
                break
        high = -best
        while -self._value(aim) < high and not self.stop():
            low = -self._value(aim)
            middle = high if high - low <= 1 else (low + high + 1) // 2
            possible = self._possible(spaces, _keeping(middle))
            if possible is None:
                return -high
            if not possible:
                high = middle - 1
        return -high

    def _possible(
        self, spaces: list[SearchSpace], cut: Callable[[SearchSpace], SearchSpace], share: float = 1.0
    ) -> bool | None:
        """Whether the cut spaces hold a better schedule: True, it is kept; False, there is none; None, left open."""
        for space in spaces:
            left = cut(space)
            # The questions of one aim lie within each other: as many starts are the same starts.
            if not all(left.choices.values()) or _starts(left) == self.excluded.get(id(space)):
                return False
            if not _in_reach(left) or self.left <= 0:
                continue
            # Where the schedule at hand is not asked for, to start from it leads astray: no hint.
            found, excluded = self._ask(left, share=share)
            if excluded is None and not found and self._sound(space):
                self.excluded[id(space)] = _starts(left)
            if found or (excluded is None and self._sound(space)):
                return found
        return None

    def _ask(
        self, space: SearchSpace, aim: Aim | None = None, hint: Starts | None = None, share: float = 1.0
    ) -> tuple[bool, int | None]:
        """Whether a better schedule came of it; the aim's bound, or, without an aim, None if there is no schedule."""

        def keep(starts: Starts) -> bool:
            picks = disaggregate(self.space, self._groups(space), space, starts, self.solver.match)
            return picks is not None and self._keep(picks)

        found, bound, spent = self.solver.ask(space, aim, self.held, hint, share * self.left, self.stop, keep)
        self.left -= spent
        return found, bound

    def _groups(self, space: SearchSpace) -> list[RackGroup]:
        return self.groups if space.many else [[chain] for chain in self.problem.chains]

    def _sound(self, space: SearchSpace) -> bool:
        return space is self.spaces[0] or space is self.spaces[-1]

    def _hold(self, aim: Aim) -> None:
        """What comes after may not make this aim worse."""
        value = self.held[aim] = self._value(aim)
        if aim is Aim.FINISH:
            self._restrict(within(self.space, value))
        elif aim is Aim.LATENESS and value == 0:
            self._restrict(within(self.space, self.problem.grid.count, promised=True))
        elif aim is Aim.MARGIN:
            self._restrict(_keeping(-value)(self.space))

    def _restrict(self, space: SearchSpace) -> None:
        """The same picks, counted in what is left."""
        self.space, self.picks = space, {name: again(space, name, pick) for name, pick in self.picks.items()}
        self._count()


def _share(areas: list[int]) -> int:
    """What each of these counts for, up."""
    return -(-sum(areas) // len(areas))


def _by(end: int) -> Callable[[SearchSpace], SearchSpace]:
    return lambda space: within(space, end)


def _keeping(margin: int) -> Callable[[SearchSpace], SearchSpace]:
    def cut(space: SearchSpace) -> SearchSpace:
        kept = {name: [c.keep(c.after.margin >= margin) for c in ways] for name, ways in space.choices.items()}
        return narrow(replace(space, choices=kept))

    return cut


def _starts(space: SearchSpace) -> int:
    return sum(len(c) for ways in space.choices.values() for c in ways)


def _in_reach(space: SearchSpace) -> bool:
    return _starts(space) <= REACH
