"""Racks that are alike are counted, not named: a batch is many castings of the same few patterns.

Racks are alike when their steps may start in the same slots of the same places, with the same hands and what follows
from it; only what lies wet of them may differ. Any two of them can be exchanged in a plan, and whoever tells them
apart proves everything again for every exchange. Counted, a step of n racks has  y[c,k] ∈ {0 … n}:  how many of them
have begun in this way by its k-th start. A plan of named racks is one of counted racks with the least wet area among
them, so what is impossible counted is impossible; the other way round a counted plan has to be dealt out.
"""

from collections.abc import Callable
from dataclasses import replace
from hashlib import blake2b
from typing import Any

import numpy as np

from .board import Board, Picks, part
from .choices import Choice, Resource
from .problem import Chain

Alike = list[Chain]
Pick = tuple[Choice, int]
String = list[Pick]  # the starts of one rack, step by step
Amounts = tuple[int, int, list[int]]  # of a group, if its string goes to its first rack, its second …
Limit = tuple[list[Amounts], int]
Starts = dict[str, list[Pick]]  # step → for each of the racks that it counts for, a choice and the number of its start


def alike(board: Board) -> list[Alike]:
    """The racks, those that are alike together."""
    found: dict[bytes, Alike] = {}
    for chain in board.problem.chains:
        found.setdefault(_likeness(board, chain), []).append(chain)
    return list(found.values())


def counted(board: Board, groups: list[Alike], wet: Callable[[list[int]], int]) -> Board:
    """The first rack of each group for all of it; `wet` says of their wet areas what each counts for."""
    firsts = tuple(group[0] for group in groups)
    names = {step.name for chain in firsts for step in chain.steps}
    links = tuple(link for link in board.problem.links if {link.before, link.after} <= names)
    few = part(board, replace(board.problem, chains=firsts, links=links))
    choices, many = {}, {}
    for group in groups:
        for step, *others in zip(*(chain.steps for chain in group), strict=True):
            many[step.name] = len(group)
            amount = wet([step.wet, *(other.wet for other in others)])
            choices[step.name] = [_with_wet(choice, amount) for choice in board.choices[step.name]]
    return replace(few, choices=choices, many=many, most=_most_wet(board, firsts))


def tallied(board: Board, groups: list[Alike], picks: Picks) -> Starts:
    """A plan of named racks as one of counted racks."""
    starts: Starts = {}
    for first, *others in groups:
        for number, like in enumerate(first.steps):
            steps = [like, *(other.steps[number] for other in others)]
            starts[like.name] = [
                likewise(board, step.name, picks[step.name], board.choices[like.name]) for step in steps
            ]
    return starts


def likewise(board: Board, name: str, pick: Pick, others: list[Choice]) -> Pick:
    """Among the ways of a step that is alike the pick that says the same."""
    choice, k = pick
    way = next(i for i, c in enumerate(board.choices[name]) if c.by_slot is choice.by_slot)
    here = int(np.searchsorted(others[way].starts, choice.starts[k]))
    return others[way].fetched(here, choice.fetches(k)), here


def _likeness(board: Board, chain: Chain) -> bytes:
    """What the rules see of a rack, names and wet area apart; of a rack that waits for another its name as well."""
    own = {step.name: number for number, step in enumerate(chain.steps)}
    ties = [tie for tie in board.ties if tie.before in own or tie.after in own]
    alone = any({tie.before, tie.after} - own.keys() for tie in ties)
    seen = blake2b(repr((chain.promised, chain.name if alone else "")).encode())
    for step in chain.steps:
        seen.update(str(step.slots).encode())
        for choice in board.choices[step.name]:
            _see_choice(seen, choice)
    for tie in ties if not alone else ():
        seen.update(repr((own[tie.before], own[tie.after], tie.neighbours)).encode())
        for choice in board.choices[tie.before]:
            for values in vars(board.follow(tie, choice)).values():
                seen.update(values.tobytes())
    return seen.digest()


def _see_choice(seen: Any, choice: Choice) -> None:
    loads = [(load.on, 0 if load.on[0] == "wet" else load.amount) for load in choice.loads]
    carryings = [c for c in (choice.carried_in, choice.carried_out) if c is not None]
    moves = [(c.move.slots, c.team) for c in carryings]
    seen.update(repr((choice.option, choice.comes_from, choice.stands, choice.team, loads, moves)).encode())
    settled = [carrying.settled for carrying in carryings]
    for values in (choice.starts, *settled, *vars(choice.after).values()):
        seen.update(values.tobytes())
    for load in choice.loads:
        seen.update(load.begin.tobytes())
        seen.update(load.end.tobytes())


def _most_wet(board: Board, firsts: tuple[Chain, ...]) -> dict[Resource, int]:
    """How many racks may lie wet in a place at once: the smallest ones, as many as there is room for.

    Nothing is said where a rack may get its next coat before the last one can be handled, and so counts twice.
    """
    wet = {step.name for chain in firsts for step in chain.steps if step.wet}
    coats = [(tie, c) for tie in board.ties if tie.neighbours and tie.before in wet for c in board.choices[tie.before]]
    if any((board.follow(tie, choice).opens < choice.after.dry).any() for tie, choice in coats):
        return {}
    least = sorted(min(step.wet for step in c.steps if step.wet) for c in board.problem.chains if _wettest(c))
    room = {place.name: place.wet_room for place in board.problem.places if place.wet_room is not None}
    return {("wet racks", name): int(np.searchsorted(np.cumsum(least), most, "right")) for name, most in room.items()}


def _wettest(chain: Chain) -> int:
    return max(step.wet for step in chain.steps)


def _with_wet(choice: Choice, amount: int) -> Choice:
    """The same with another wet area, and as one of the racks that lie wet."""
    wet = [load for load in choice.takes if load.on[0] == "wet"]
    dry = [load for load in choice.takes if load.on[0] != "wet"]
    counted_too = [replace(load, on=("wet racks", load.on[1]), amount=1) for load in wet]
    return replace(choice, takes=(*dry, *(replace(load, amount=amount) for load in wet), *counted_too))
