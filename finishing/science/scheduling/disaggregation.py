"""A schedule of counted racks becomes one of named racks: whose which starts are is chosen so that they fit."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from finishing.science.hours import Flags

from .choices import Choice, Resource
from .insertion import Insertion, Room
from .problem import Chain, Slots
from .search_space import Picks, SearchSpace, Tie, meets
from .symmetry import Pick, RackGroup, Starts, likewise

String = list[Pick]  # the starts of one rack, task by task
Match = Callable[[Flags], list[int]]  # for each row its column, as many where both can meet as there can be
Areas = NDArray[np.int64]  # of a group, by limit and string: how much of it each of the racks would take


def disaggregate(
    space: SearchSpace, groups: list[RackGroup], few: SearchSpace, starts: Starts, match: Match
) -> Picks | None:
    """A counted schedule as one of named racks; None where what lies wet of them does not allow it.

    few: what `aggregate` made of the search space, perhaps with fewer starts; a rack that gets a string of starts on
    which it does not fit is put in wherever there is room for it.
    """
    starts = _fetched_late(few, starts)
    strings = [_strings(few, group[0], starts, match) for group in groups]
    insertion, left = Insertion(space), []
    for group, its, racks in zip(groups, strings, swapped(*_wet(space, groups, strings)), strict=True):
        for string, rack in zip(its, racks, strict=True):
            left += [] if insertion.lay(_own(space, group[0], group[rack], string)) else [group[rack]]
    return insertion.picks if all(map(insertion.put, left)) else None


def swapped(areas: list[Areas], room: list[int]) -> list[list[int]]:
    """For each group the rack of each string: two at a time are exchanged while less lies wet than has no room.

    >>> swapped([np.array([[[1, 2], [0, 0]]])], [1]), swapped([np.array([[[3, 2], [0, 0]]])], [2])
    ([[0, 1]], [[1, 0]])
    """
    hands = [np.arange(each.shape[1]) for each in areas]
    while True:
        over = sum(_taken(*pair) for pair in zip(areas, hands, strict=True)) - np.array(room, np.int64)
        too_much = int(np.maximum(over, 0).sum())
        if too_much == 0:
            break
        left, one, other, racks = min((_best_swap(*pair, over) for pair in zip(areas, hands, strict=True)), key=_first)
        if left >= too_much:
            break
        racks[[one, other]] = racks[[other, one]]
    return [racks.tolist() for racks in hands]


def _first(swap: tuple[int, int, int, Slots]) -> int:
    return swap[0]


def _taken(areas: Areas, racks: Slots) -> Slots:
    return np.asarray(areas[:, np.arange(len(racks)), racks].sum(axis=1))


def _best_swap(areas: Areas, racks: Slots, over: Slots) -> tuple[int, int, int, Slots]:
    """What is too much after the exchange of two strings' racks that helps most, the strings, and the racks."""
    given = areas[:, :, racks]  # by limit and string, if it had the rack of another string
    own = np.einsum("ljj->lj", given)
    after = over[:, None, None] + given + given.transpose(0, 2, 1) - own[:, :, None] - own[:, None, :]
    index = np.arange(len(racks))
    after[:, index, index] = over[:, None]
    too_much = np.maximum(after, 0).sum(axis=0)
    one, other = np.unravel_index(int(np.argmin(too_much)), too_much.shape)
    return int(too_much[one, other]), int(one), int(other), racks


def _wet(space: SearchSpace, groups: list[RackGroup], strings: list[list[String]]) -> tuple[list[Areas], list[int]]:
    """What lies wet wherever there is a limit to it, each time that something is added, and the limits."""
    limits = space.resources()
    lies: dict[Resource, list[tuple[int, int, int, int, int]]] = {}
    for number, its in enumerate(strings):
        for which, string in enumerate(its):
            for task, (choice, k) in enumerate(string):
                for load in choice.loads:
                    if load.on[0] == "wet" and limits[load.on] is not None:
                        lies.setdefault(load.on, []).append((int(load.begin[k]), int(load.end[k]), number, which, task))
    times = [(on, t) for on, loads in lies.items() for t in sorted({begin for begin, *_ in loads})]
    areas = [np.zeros((len(times), len(group), len(group)), np.int64) for group in groups]
    wet = [np.array([[task.wet for task in chain.tasks] for chain in group]) for group in groups]
    for row, (on, t) in enumerate(times):
        for begin, end, number, which, task in lies[on]:
            if begin <= t < end:
                areas[number][row, which] += wet[number][:, task]
    return areas, [limits[on] or 0 for on, _ in times]


def _own(space: SearchSpace, first: Chain, chain: Chain, string: String) -> Picks:
    """The same starts as picks of this rack's tasks."""
    tasks = zip(first.tasks, chain.tasks, string, strict=True)
    return {task.name: likewise(space, like.name, pick, space.choices[task.name]) for like, task, pick in tasks}


def _strings(space: SearchSpace, chain: Chain, starts: Starts, match: Match) -> list[String]:
    """Starts of the tasks strung together, one string a rack: before each start one that it may follow."""
    strings = [[pick] for pick in starts[chain.tasks[0].name]]
    for before, task in zip(chain.tasks, chain.tasks[1:], strict=False):
        ties = [tie for tie in space.ties if (tie.before, tie.after) == (before.name, task.name)]
        able = [[_able(space, ties, string[-1], pick) for pick in starts[task.name]] for string in strings]
        for string, number in zip(strings, match(np.array(able, bool)), strict=True):
            string.append(starts[task.name][number])
    return strings


def _able(space: SearchSpace, ties: list[Tie], before: Pick, after: Pick) -> bool:
    (choice, k), (following, number) = before, after
    flags = (meets(space.follow(tie, choice), k, choice, following, True)[number] for tie in ties)
    return following.comes_from == choice.stands and all(flags)


def _fetched_late(space: SearchSpace, starts: Starts) -> Starts:
    """The same starts, every rack fetched as late as there are hands for it at no more cost."""
    room = Room(space)
    for choice, k in (pick for picks in starts.values() for pick in picks):
        room.put(choice, k)
    return {name: [(_fetched_later(room, *pick), pick[1]) for pick in picks] for name, picks in starts.items()}


def _fetched_later(room: Room, choice: Choice, k: int) -> Choice:
    room.put(choice, k, times=-1)
    late = room.fetched(choice)
    late = late if late.cost[k] <= choice.cost[k] else choice
    room.put(late, k)
    return late
