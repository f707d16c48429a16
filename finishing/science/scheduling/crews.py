"""People of the same hours and skills, and what can be asked of them: who of a crew does it is settled last."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from finishing.science.hours import Flags

from .problem import NEVER, Person, Problem, Slots, Transport

Team = tuple[tuple[int, int], ...]  # how many of which crew, by its number


@dataclass(frozen=True, eq=False)
class Crew:
    """People who may stand in for each other."""

    people: tuple[str, ...]
    working: Flags
    extra: Slots
    kinds: frozenset[str] | None

    def does(self, kind: str) -> bool:
        """Whether they do this kind of task."""
        return self.kinds is None or kind in self.kinds


def crews(problem: Problem) -> tuple[Crew, ...]:
    """The people, by hours and skills."""
    alike: dict[Any, list[Person]] = {}
    for person in problem.people:
        alike.setdefault((person.working.tobytes(), person.extra.tobytes(), person.kinds), []).append(person)
    groups = alike.values()
    return tuple(Crew(tuple(p.name for p in g), g[0].working, g[0].extra, g[0].kinds) for g in groups)


def teams(crews: Sequence[Crew], people: int, kind: str | None = None, first: int = 0) -> Iterator[Team]:
    """Every way to take so many people from the crews; anybody may lend a hand where no kind is named."""
    if people == 0:
        yield ()
    elif first < len(crews):
        crew = crews[first]
        most = min(people, len(crew.people)) if kind is None or crew.does(kind) else 0
        for count in range(most, -1, -1):
            for rest in teams(crews, people - count, kind, first + 1):
                yield ((first, count), *rest) if count else rest


def latest(settled: Slots, usable: Flags) -> Slots:
    """By start, the last usable slot in which carrying may begin so that the metal has settled; −1 where there is none.

    >>> latest(np.array([2, 2, 3, NEVER]), np.array([True, True, False, False])).tolist()
    [-1, -1, 1, 1]
    """
    last = np.full(len(settled), -1)
    np.maximum.at(last, settled[usable], np.flatnonzero(usable))
    return np.asarray(np.maximum.accumulate(last))


class Hands:
    """When teams are at work, by slot; what has been asked once is kept."""

    def __init__(self, problem: Problem) -> None:
        self.count, self.crews = problem.grid.count, crews(problem)
        self.at_work = lru_cache(maxsize=None)(self._at_work)
        self.settled = lru_cache(maxsize=None)(self._settled)
        self.last_carry = lru_cache(maxsize=None)(self._last_carry)

    def _at_work(self, team: Team, slots: int) -> Flags:
        """Whether the whole team is at work from a slot on for so many; nobody is always there."""
        if not team:
            return np.ones(self.count, bool)
        present = np.all([self.crews[crew].working for crew, _ in team], axis=0)
        away = np.append(0, np.cumsum(~present))
        ends = np.arange(self.count) + slots
        return np.asarray((ends <= self.count) & (away[np.minimum(ends, self.count)] == away[:-1]))

    def _settled(self, transport: Transport, team: Team) -> Slots:
        """By slot in which carrying begins, when the metal has settled; NEVER where the team cannot carry then."""
        arrived = np.arange(self.count) + transport.slots
        settled = arrived + transport.settled(arrived, self.count)
        return np.where(self.at_work(team, transport.slots) & (settled < self.count), settled, NEVER)

    def _last_carry(self, transport: Transport, team: Team) -> Slots:
        """By start, the last slot in which carrying may begin so that the metal has settled; −1 where there is none."""
        settled = self.settled(transport, team)
        return latest(settled, settled < NEVER)

    def extra(self, team: Team, begin: Slots, slots: int) -> Slots:
        """Cents that the team costs from these slots on beyond its usual hours."""
        total = np.zeros(self.count, np.int64)
        for crew, people in team:
            if self.crews[crew].extra.any():
                sums = np.append(0, np.cumsum(self.crews[crew].extra))
                until = np.clip(begin + slots, 0, self.count)
                total += people * (sums[until] - sums[np.clip(begin, 0, self.count)])
        return total
