"""On which days the tasks of racks fall: whether for some choice, one a rack, there are hands and visits enough.

A rack that waits a night more leaves more room for its tasks; one that does not must begin early, with all that comes
before. A flow of minutes shares a rack out over both; here it is on one side or the other. Of the tasks' windows, which
are then narrow, it is asked stretch by stretch of time how much of them falls into it wherever they stand, and whether
those that lie whole in it find room one after the other: energetic reasoning and dual feasible functions, as in
P. Baptiste, C. Le Pape, W. Nuijten, Constraint-Based Scheduling (2001), and S. Fekete, J. Schepers, New classes of fast
lower bounds for bin packing problems (2001); both from memory.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice, pairwise
from typing import Literal

import numpy as np

from finishing.science.hours import Flags

from .lower_bounds import OwnWay, OwnWays, carried_between
from .problem import Minutes, Problem

NIGHT = 240  # minutes without anybody at work that part two days
MOST_CHOICES = 60  # of days for one rack; of a rack with more no days are told apart
LENGTHS = 3  # of the longest work: in longer stretches one work more or less makes little difference
CUTS_AT_ONCE, MOST_ROUNDS = 6, 60

On = Literal["hands", "visits"]
ON: tuple[On, On] = ("hands", "visits")


@dataclass(frozen=True, eq=False)
class Cut:
    """Something of which there is no more than `room`. asked: for each rack, what each of its choices asks of it."""

    asked: list[Minutes]
    room: int


Choose = Callable[[list[int], list[Cut]], list[int] | None]


@dataclass(frozen=True, eq=False)
class Works:
    """Works, one a row: first and last start, minutes, and how many hands or visits at once."""

    rows: Minutes

    def within(self, begin: Minutes, end: Minutes) -> Minutes:
        """Minutes that each asks for from `begin` to `end` at the least: all stretches (columns) for all works (rows).

        >>> Works(np.array([[0, 30, 40, 1]])).within(np.array([20, 0]), np.array([50, 70])).tolist()
        [[20, 40]]
        """
        first, last, minutes, amount = self.rows.T[:, :, None]
        early = np.minimum(first + minutes, end) - np.maximum(first, begin)
        late = np.minimum(last + minutes, end) - np.maximum(last, begin)
        return np.asarray(amount * np.maximum(np.minimum(early, late), 0))

    def packed(self, begin: Minutes, end: Minutes, least: Minutes) -> Minutes:
        """Minutes that each fills of a stretch in which it lies whole, one after the other; rows and columns likewise.

        least: at most half of the stretch, up. What leaves less than that fills all of it, since nothing as long finds
        room beside it; what is shorter fills nothing.

        >>> works = Works(np.array([[0, 45, 41, 1], [0, 35, 51, 1]]))
        >>> works.packed(np.array([0]), np.array([86]), np.array([41])).tolist()
        [[41], [86]]
        """
        first, last, minutes, amount = self.rows.T[:, :, None]
        inside, length = (first >= begin) & (last + minutes <= end), end - begin
        filled = np.where(minutes > length - least, length, np.where(minutes >= least, minutes, 0))
        return np.asarray(amount * filled * inside)

    def stretches(self) -> tuple[Minutes, Minutes]:
        """Stretches of time from the first start of one to the last end of one."""
        begins, ends = np.unique(self.rows[:, 0]), np.unique(self.rows[:, 1] + self.rows[:, 2])
        begin, end = (grid.ravel() for grid in np.meshgrid(begins, ends))
        return begin[begin < end], end[begin < end]


class DayChoices:
    """For each rack its ways through the weather by the days on which its tasks begin, dry by some end."""

    def __init__(self, problem: Problem, end: int) -> None:
        self.problem, self.ways = problem, list[list[OwnWay]]()
        people = np.sum([person.working for person in problem.people], axis=0)
        visits = np.zeros(problem.horizon.count, np.int64)
        for visit in problem.visits:
            visits[max(0, visit.begin) : visit.end] += 1
        self.there: dict[On, Minutes] = {"hands": people, "visits": visits}
        maker, day = OwnWays(problem), _day_numbers(people > 0)
        for chain in problem.chains:
            alone = maker.of(chain)
            days = [{int(d) for at in modes for d in np.unique(day[at])} for _, modes in alone.by(end)]
            choices = list(islice(_in_order(days), MOST_CHOICES + 1))
            ways = (maker.of(chain, [day == d for d in choice]) for choice in choices)
            self.ways.append(
                [alone] if len(choices) > MOST_CHOICES else [way for way in ways if _leads_there(way, end)]
            )

    def suffice(self, end: int, choose: Choose) -> bool:
        """Whether there are hands and visits enough for all to be dry by then; True as well where that stays open.

        choose: one choice for each rack, of so many, that keeps all cuts; None where there is none.
        """
        asked = [[_asked(self.problem, way, end) for way in ways if _leads_there(way, end)] for ways in self.ways]
        if not all(asked):
            return False
        cuts: list[Cut] = []
        for _ in range(MOST_ROUNDS):
            chosen = choose([len(choices) for choices in asked], cuts)
            if chosen is None:
                return False
            now = [choices[number] for choices, number in zip(asked, chosen, strict=True)]
            more = [cut for on in ON for cut in self._overloaded(on, now, asked)]
            more = more or [cut for on in ON for cut in self._overfilled(on, now, asked)]
            if not more:
                return True
            cuts += more
        return True

    def _overloaded(self, on: On, now: list[dict[On, Works]], asked: list[list[dict[On, Works]]]) -> Iterator[Cut]:
        """The stretches of time in which these choices ask for most beyond what there is."""
        works = Works(np.concatenate([each[on].rows for each in now]))
        begin, end = works.stretches()
        sums = np.append(0, np.cumsum(self.there[on]))
        room = sums[end] - sums[begin]
        over = works.within(begin, end).sum(axis=0) - room
        for number in _most(over):
            stretch = begin[[number]], end[[number]]
            fallen = [np.array([int(c[on].within(*stretch).sum()) for c in choices]) for choices in asked]
            yield Cut(fallen, int(room[number]))

    def _overfilled(self, on: On, now: list[dict[On, Works]], asked: list[list[dict[On, Works]]]) -> Iterator[Cut]:
        """Short stretches of time in which these choices find no room one after the other."""
        works = Works(np.concatenate([each[on].rows for each in now]))
        begin, end = works.stretches()
        minutes = np.unique(works.rows[:, 2])
        short = end - begin <= LENGTHS * max(minutes, default=0)
        begin, end = begin[short], end[short]
        shares = np.vstack([np.broadcast_to(minutes[:, None], (len(minutes), len(begin))), (end - begin + 1) // 2])
        tried = 2 * shares <= end - begin + 1
        begin, end, least = (np.broadcast_to(column, shares.shape)[tried] for column in (begin, end, shares))
        at_once = np.array([self.there[on][b:e].max() for b, e in zip(begin, end, strict=True)], np.int64)
        room = at_once * (end - begin)
        over = works.packed(begin, end, least).sum(axis=0) - room
        for number in _most(over):
            stretch = begin[[number]], end[[number]], least[[number]]
            filled = [np.array([int(c[on].packed(*stretch).sum()) for c in choices]) for choices in asked]
            yield Cut(filled, int(room[number]))


def _leads_there(way: OwnWay, end: int) -> bool:
    """Whether each task has a start from which the rack can be dry by then."""
    return all(any(len(at) for at in modes) for _, modes in way.by(end))


def _asked(problem: Problem, way: OwnWay, end: int) -> dict[On, Works]:
    """What a rack asks of hands and of visits when it goes this way."""
    hands, visits = list[tuple[int, int, int, int]](), list[tuple[int, int, int, int]]()
    for task, modes in way.by(end):
        first, last = min(int(at[0]) for at in modes if len(at)), max(int(at[-1]) for at in modes if len(at))
        hands.append((first, last, task.minutes, task.people))
        if task.by_visit:
            visits.append((first, last, task.minutes, 1))
    for ready, latest, minutes, people in carried_between(problem, way, end):
        hands.append((ready, max(ready, latest - minutes), minutes, people))
    return {"hands": _works(hands), "visits": _works(visits)}


def _works(rows: list[tuple[int, int, int, int]]) -> Works:
    return Works(np.array(rows, np.int64).reshape(-1, 4))


def _most(over: Minutes) -> Iterator[int]:
    """The numbers of the greatest that are above nothing."""
    return (int(number) for number in np.argsort(-over)[:CUTS_AT_ONCE] if over[number] > 0)


def _day_numbers(working: Flags) -> Minutes:
    """By minute the number of its day: nights are parted in their middle."""
    at = np.flatnonzero(working).tolist()
    nights = [(before + after) // 2 for before, after in pairwise(at) if after - before > NIGHT]
    return np.asarray(np.searchsorted(nights, np.arange(len(working)), side="right"))


def _in_order(days: list[set[int]], since: int = 0) -> Iterator[list[int]]:
    """Every way to take a day for each task in turn, none before that of the task before it."""
    if not days:
        yield []
        return
    for day in sorted(d for d in days[0] if d >= since):
        for rest in _in_order(days[1:], day):
            yield [day, *rest]
