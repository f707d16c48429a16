"""Whether there are hands, visits and room enough for all that is to be done: a bound that holds for every schedule."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np

from .aims import earliest
from .choices import Choice, Fetching, Resource
from .problem import Slots
from .search_space import SearchSpace

Flow = Callable[[list[Any]], int]  # how much passes through a network of arcs, from node 0 to node 1


def capacity_suffices(space: SearchSpace, what: str, flow: Flow) -> bool:
    """Whether all work finds hands (visits, wet room) in the slots it may lie in, if it could be cut up as one likes.

    In no slot does a task take more of anything than some way to do it takes at once.
    """
    resources = [(on, limit) for on, limit in space.resources().items() if on[0] == what and limit is not None]
    count = space.problem.grid.count
    first = {on: 2 + i * count for i, (on, _) in enumerate(resources)}
    arcs = [_arcs(first[on] + np.arange(count), 1, limit) for on, limit in resources]
    node, asked = 2 + len(resources) * count, 0
    for name, ways in space.choices.items():
        times = space.times(name)
        demand, slots = _demand(ways, space.fetchings(name), first, count)
        if demand:
            arcs.append(_arcs(0, node, times * demand))
            arcs += [_arcs(node, first[on] + at, times * at_once) for on, at, at_once in slots]
            node, asked = node + 1, asked + times * demand
    return not asked or flow(arcs) >= asked


def earliest_finish(space: SearchSpace) -> int:
    """Slot before which not everything can be dry by the hours alone, people and room apart."""
    return max(earliest(space, chain) for chain in space.problem.chains)


def dearest_call(space: SearchSpace) -> int:
    """Each blasting lies in some visit: what the cheapest one costs for that which has least to choose from, cents."""
    calls = np.array([visit.call_out for visit in space.problem.visits])
    least: dict[str, int] = {}
    for choice in (c for ways in space.choices.values() for c in ways if c.task.by_visit):
        cheapest = int(calls[choice.after.visit].min())
        least[choice.task.name] = min(cheapest, least.get(choice.task.name, cheapest))
    return max(least.values(), default=0)


def _arcs(tails: Any, heads: Any, room: int) -> Any:
    """From, to, and how much may pass: one column an arc."""
    return np.array(np.broadcast_arrays(np.atleast_1d(tails), heads, room))


Taken = tuple[Resource, Slots, int]


def _demand(
    ways: Iterable[Choice], fetchings: Iterable[Fetching], limited: dict[Resource, int], count: int
) -> tuple[int, list[Taken]]:
    """The least that a task takes in all, and the slots in which some start would take it, with the most at once."""
    least: list[int] = []
    spread: dict[Resource, Slots] = {}
    most: dict[Resource, int] = defaultdict(int)
    for choice in ways:
        loads = [load for load in choice.loads if load.on in limited]
        least.append(int(np.min(sum(load.amount * (load.end - load.begin) for load in loads))))
        for on in {load.on for load in loads}:
            most[on] = max(most[on], sum(load.amount for load in loads if load.on == on))
    everything = [load for choice in ways for load in choice.own_loads] + [
        load for f in fetchings for load in f.own_loads
    ]
    for load in (load for load in everything if load.on in limited):
        edges = spread.setdefault(load.on, np.zeros(count + 1, np.int64))
        np.add.at(edges, load.begin, 1)
        np.add.at(edges, load.end, -1)
    return min(least), [(on, np.flatnonzero(np.cumsum(edges)[:count]), most[on]) for on, edges in spread.items()]
