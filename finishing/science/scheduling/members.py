"""How sure a plan is: in how many members of an ensemble it stands, and a problem in which most of them agree.

An ensemble is one weather model run many times from beginnings that differ a little. A plan is held against each
member as against a new forecast. It is counted whole first: steps that each stand in most members may fall in
different ones, so the share of a whole plan lies below that of its weakest step.

>>> count_members([set(), {"coat 1"}, set(), {"coat 1", "coat 2"}, {"coat 2"}], ["blast", "coat 1", "coat 2"])
Count(of=5, whole=2, steps={'blast': 5, 'coat 1': 3, 'coat 2': 3})
"""

from collections.abc import Callable, Collection, Hashable, Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import Any

import numpy as np

from finishing.science.working import Working

from .problem import Chain, Link, Move, Option, Problem, Step, Window

TINY = 1e-9


@dataclass(frozen=True)
class Count:
    """Of so many members the whole plan stands in `whole`, each step in its own number."""

    of: int
    whole: int
    steps: dict[Any, int]


def count_members(broken: Sequence[Collection[Hashable]], steps: Collection[Hashable]) -> Count:
    """broken: for each member the steps that do not hold in it."""
    standing = {step: sum(step not in fell for fell in broken) for step in steps}
    return Count(len(broken), sum(not fell for fell in broken), standing)


def enough(count: int, of: int, share: float) -> bool:
    """Whether so many of them are at least this share.

    >>> enough(8, 10, 0.8), enough(24, 31, 0.8)
    (True, False)
    """
    return of > 0 and count >= share * of - TINY


def share_working(whole: int, of: int, weakest: int) -> Working:
    """The share of members in which a whole plan stands, as a page opens it."""
    inputs = (("members held against the plan", str(of)), ("members in which no step breaks a rule", str(whole)),
              ("members in which the weakest step stands", str(weakest)))  # fmt: skip
    return Working(
        "Share of the ensemble in which the whole plan stands", "members without a broken step / all members", inputs,
        f"{whole} of {of}", "our judgement",
        "Members are counted alike. An ensemble is often too sure of itself, and knows nothing of this yard.",
    )  # fmt: skip


# -- a problem in which most members agree


def agreed(problem: Problem, members: Sequence[Problem], share: float) -> Problem:
    """The problem, made so narrow that each start, wait and deadline holds in at least this share of the members too.

    members: the same problem by each member's hours, its steps with the same options; a rack that cannot be planned in
    one is left out there, and counts as refused. What a step waits for is as late as the share asks, what closes as
    early; the forecast's own rules stay. Step by step that is enough; of a whole plan it is not: that is counted.
    """
    few = len(members) - ceil(share * len(members) - TINY)  # so many may disagree
    chains = tuple(_chain(chain, members, few) for chain in problem.chains)
    links = tuple(_link(link, members, few) for link in problem.links)
    moves = tuple(_move(move, members, few) for move in problem.moves)
    return replace(problem, chains=chains, links=links, moves=moves)


def _late(own: Any, others: Sequence[Any], few: int) -> Any:
    """By slot: the value at which all but a few are ready, no sooner than the forecast."""
    if not others:
        return own
    return np.maximum(own, np.sort(np.array(others), axis=0)[len(others) - 1 - few])


def _early(own: Any, others: Sequence[Any], few: int) -> Any:
    """By slot: the value at which all but a few are still open, no later than the forecast."""
    return np.minimum(own, np.sort(np.array(others), axis=0)[few]) if others else own


def _chain(chain: Chain, members: Sequence[Problem], few: int) -> Chain:
    return replace(chain, steps=tuple(_step(step, members, few) for step in chain.steps))


def _step(step: Step, members: Sequence[Problem], few: int) -> Step:
    told = [member.steps.get(step.name) for member in members]
    missing = sum(other is None for other in told)
    options = tuple(
        _option(option, [other.options[n] for other in told if other is not None], few - missing)
        for n, option in enumerate(step.options)
    )
    return replace(step, options=options)


def _option(option: Option, others: Sequence[Option], few: int) -> Option:
    if few < 0:
        return replace(option, may_start=np.zeros_like(option.may_start))
    refused = np.sum([~other.may_start for other in others], axis=0) if others else 0
    ready = {name: _late(getattr(option, name), [getattr(other, name) for other in others], few)
             for name in ("dry", "carried") if getattr(option, name) is not None}  # fmt: skip
    margin = _early(option.margin, [other.margin for other in others], few)
    return replace(option, may_start=option.may_start & (refused <= few), margin=margin, **ready)


def _link(link: Link, members: Sequence[Problem], few: int) -> Link:
    told = [other for member in members if (other := _same(member, link)) is not None]
    spared = max(0, few - (len(members) - len(told)))
    windows = tuple(
        _window(window, [other.windows[n] for other in told], spared) for n, window in enumerate(link.windows)
    )
    return replace(link, windows=windows)


def _same(member: Problem, link: Link) -> Link | None:
    key = link.before, link.after, link.kind
    return next((other for other in member.links if (other.before, other.after, other.kind) == key), None)


ENDS: dict[str, Callable[[Any, Sequence[Any], int], Any]] = {
    "opens": _late, "closes": _early, "closed_from": _early, "closed_until": _late,
}  # fmt: skip


def _window(window: Window, others: Sequence[Window], few: int) -> Window:
    ends = {name: pick(getattr(window, name), [getattr(o, name) for o in others], few) for name, pick in ENDS.items()}
    return replace(window, **ends)


def _move(move: Move, members: Sequence[Problem], few: int) -> Move:
    key = move.origin, move.to, move.rack
    others = [other.settles for m in members for other in m.moves if (other.origin, other.to, other.rack) == key]
    return replace(move, settles=_late(move.settles, others, max(0, few - (len(members) - len(others)))))
