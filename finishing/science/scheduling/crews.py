"""People of the same hours and skills, and what can be asked of them: who of a crew does it is settled last."""

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np

from finishing.science.hours import Flags

from .problem import NEVER, Minutes, Person, Problem, Transport

Team = tuple[tuple[int, int], ...]  # how many of which crew, by its number


@dataclass(frozen=True, eq=False)
class Crew:
    """People who may stand in for each other."""

    people: tuple[str, ...]
    working: Flags
    wage: Minutes
    kinds: frozenset[str] | None

    def does(self, kind: str) -> bool:
        """Whether they do this kind of task."""
        return self.kinds is None or kind in self.kinds


def crews(people: tuple[Person, ...]) -> tuple[Crew, ...]:
    """The people, by hours and skills."""
    alike: dict[Any, list[Person]] = {}
    for person in people:
        alike.setdefault((person.working.tobytes(), person.wage.tobytes(), person.kinds), []).append(person)
    groups = alike.values()
    return tuple(Crew(tuple(p.name for p in g), g[0].working, g[0].wage, g[0].kinds) for g in groups)


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


def latest(settled: Minutes, usable: Flags) -> Minutes:
    """By start, the last usable minute in which carrying may begin so that the metal has settled; −1: there is none.

    >>> latest(np.array([2, 2, 3, NEVER]), np.array([True, True, False, False])).tolist()
    [-1, -1, 1, 1]
    """
    last = np.full(len(settled), -1)
    np.maximum.at(last, settled[usable], np.flatnonzero(usable))
    return np.asarray(np.maximum.accumulate(last))


class Hands:
    """When teams are at work, by minute; what has been asked once is kept."""

    def __init__(self, people: tuple[Person, ...], count: int) -> None:
        self.count, self.crews = count, crews(people)
        self.crew_of = {name: number for number, crew in enumerate(self.crews) for name in crew.people}
        self._kept: dict[Hashable, Any] = {}
        self._alive: list[Any] = []  # whose ids are keys

    def at_work(self, team: Team, minutes: int) -> Flags:
        """Whether the whole team is at work from a minute on for so many; nobody is always there."""
        if ("work", team, minutes) not in self._kept:
            away = np.zeros(self.count + 1, np.int32)
            if team:
                present = np.all([self.crews[crew].working for crew, _ in team], axis=0)
                away[1:] = np.cumsum(~present)
            there = np.zeros(self.count, bool)
            there[: self.count - minutes + 1] = away[minutes:] == away[: self.count + 1 - minutes]
            self._kept["work", team, minutes] = there[: self.count]
        return cast(Flags, self._kept["work", team, minutes])

    def settled(self, transport: Transport, team: Team) -> Minutes:
        """By minute in which carrying begins, when the metal has settled; NEVER where the team cannot carry then."""
        key = "settled", id(transport.settles), transport.minutes, team
        if key not in self._kept:
            arrived = np.arange(self.count) + transport.minutes
            waits = np.broadcast_to(transport.settles, self.count)[np.minimum(arrived, self.count - 1)]
            at = arrived + waits
            self._kept[key] = np.where(self.at_work(team, transport.minutes) & (at < self.count), at, NEVER)
            self._alive.append(transport.settles)
        return cast(Minutes, self._kept[key])

    def last_carry(self, transport: Transport, team: Team) -> Minutes:
        """By start, the last minute in which carrying may begin so that the metal has settled; −1: there is none."""
        key = "last", id(transport.settles), transport.minutes, team
        if key not in self._kept:
            settled = self.settled(transport, team)
            self._kept[key] = latest(settled, settled < NEVER)
        return cast(Minutes, self._kept[key])


def hands(problem: Problem) -> Hands:
    """The same for all problems that come from one and have its people; they go with the last of these."""
    key = problem.people, problem.horizon.count
    if key not in problem.hands:
        problem.hands[key] = Hands(*key)
    return cast(Hands, problem.hands[key])
