"""Racks that are alike are counted, not named: a batch is many castings of the same few patterns.

Racks are alike when their tasks may start in the same slots of the same places, with the same hands and what follows
from it; only what lies wet of them may differ. Any two of them can be exchanged in a schedule, and whoever tells them
apart proves everything again for every exchange. Counted, a task of n racks has  y[c,k] ∈ {0 … n}:  how many of them
have begun in this way by its k-th start. A schedule of named racks is one of counted racks with the least wet area
among them, so what is impossible counted is impossible; a counted schedule is yet to be disaggregated.
"""

from collections.abc import Callable
from dataclasses import replace
from hashlib import blake2b
from typing import Any

import numpy as np

from .choices import Choice, Resource
from .problem import Chain
from .search_space import Picks, SearchSpace, subspace

RackGroup = list[Chain]  # that are alike
Pick = tuple[Choice, int]
Starts = dict[str, list[Pick]]  # task → for each of the racks that it counts for, a choice and the number of its start


def symmetric_racks(space: SearchSpace) -> list[RackGroup]:
    """The racks, those that are alike together."""
    found: dict[bytes, RackGroup] = {}
    for chain in space.problem.chains:
        found.setdefault(_likeness(space, chain), []).append(chain)
    return list(found.values())


def aggregate(space: SearchSpace, groups: list[RackGroup], wet: Callable[[list[int]], int]) -> SearchSpace:
    """The first rack of each group for all of it; `wet` says of their wet areas what each counts for."""
    firsts = tuple(group[0] for group in groups)
    few = subspace(space, space.problem.restricted_to(firsts))
    choices, many = {}, {}
    for group in groups:
        for task, *others in zip(*(chain.tasks for chain in group), strict=True):
            many[task.name] = len(group)
            amount = wet([task.wet, *(other.wet for other in others)])
            choices[task.name] = [_with_wet(choice, amount) for choice in space.choices[task.name]]
    return replace(few, choices=choices, many=many, most=_most_wet(space, firsts))


def aggregate_picks(space: SearchSpace, groups: list[RackGroup], picks: Picks) -> Starts:
    """A schedule of named racks as one of counted racks."""
    starts: Starts = {}
    for first, *others in groups:
        for number, like in enumerate(first.tasks):
            tasks = [like, *(other.tasks[number] for other in others)]
            starts[like.name] = [
                likewise(space, task.name, picks[task.name], space.choices[like.name]) for task in tasks
            ]
    return starts


def likewise(space: SearchSpace, name: str, pick: Pick, others: list[Choice]) -> Pick:
    """Among the ways of a task that is alike the pick that says the same."""
    choice, k = pick
    way = next(i for i, c in enumerate(space.choices[name]) if c.by_slot is choice.by_slot)
    here = int(np.searchsorted(others[way].starts, choice.starts[k]))
    return others[way].fetched(here, choice.fetches(k)), here


def _likeness(space: SearchSpace, chain: Chain) -> bytes:
    """What the rules see of a rack, names and wet area apart; of a rack that waits for another its name as well."""
    own = {task.name: number for number, task in enumerate(chain.tasks)}
    ties = [tie for tie in space.ties if tie.before in own or tie.after in own]
    alone = any({tie.before, tie.after} - own.keys() for tie in ties)
    seen = blake2b(repr((chain.promised, chain.name if alone else "")).encode())
    for task in chain.tasks:
        seen.update(str(task.slots).encode())
        for choice in space.choices[task.name]:
            _see_choice(seen, choice)
    for tie in ties if not alone else ():
        seen.update(repr((own[tie.before], own[tie.after], tie.neighbours)).encode())
        for choice in space.choices[tie.before]:
            for values in vars(space.follow(tie, choice)).values():
                seen.update(values.tobytes())
    return seen.digest()


def _see_choice(seen: Any, choice: Choice) -> None:
    loads = [(load.on, 0 if load.on[0] == "wet" else load.amount) for load in choice.loads]
    carryings = [c for c in (choice.carried_in, choice.carried_out) if c is not None]
    transports = [(c.transport.slots, c.team) for c in carryings]
    seen.update(repr((choice.mode, choice.comes_from, choice.stands, choice.team, loads, transports)).encode())
    settled = [carrying.settled for carrying in carryings]
    for values in (choice.starts, *settled, *vars(choice.after).values()):
        seen.update(values.tobytes())
    for load in choice.loads:
        seen.update(load.begin.tobytes())
        seen.update(load.end.tobytes())


def _most_wet(space: SearchSpace, firsts: tuple[Chain, ...]) -> dict[Resource, int]:
    """How many racks may lie wet in a place at once: the smallest ones, as many as there is room for.

    Nothing is said where a rack may get its next coat before the last one can be handled, and so counts twice.
    """
    wet = {task.name for chain in firsts for task in chain.tasks if task.wet}
    coats = [(tie, c) for tie in space.ties if tie.neighbours and tie.before in wet for c in space.choices[tie.before]]
    if any((space.follow(tie, choice).opens < choice.after.dry).any() for tie, choice in coats):
        return {}
    least = sorted(min(task.wet for task in c.tasks if task.wet) for c in space.problem.chains if _wettest(c))
    room = {place.name: place.wet_room for place in space.problem.places if place.wet_room is not None}
    return {("wet racks", name): int(np.searchsorted(np.cumsum(least), most, "right")) for name, most in room.items()}


def _wettest(chain: Chain) -> int:
    return max(task.wet for task in chain.tasks)


def _with_wet(choice: Choice, amount: int) -> Choice:
    """The same with another wet area, and as one of the racks that lie wet."""
    wet = [load for load in choice.takes if load.on[0] == "wet"]
    dry = [load for load in choice.takes if load.on[0] != "wet"]
    counted_too = [replace(load, on=("wet racks", load.on[1]), amount=1) for load in wet]
    return replace(choice, takes=(*dry, *(replace(load, amount=amount) for load in wet), *counted_too))
