"""What is aimed at, in the variables of rules.py: each aim is a sum to be made small, with rows of its own."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from .board import Board
from .choices import Choice
from .plan import Aim
from .problem import Chain
from .rules import Ladder, Row, Terms


@dataclass(frozen=True)
class Sum:
    """offset + Σ coefficient · variable, no less than the aim's value and equal to it where it is made small."""

    terms: Terms
    offset: int
    rows: list[Row]


def sum_of(aim: Aim, ladder: Ladder) -> Sum:
    """The aim as a sum; margin is sought by leaving out starts that keep less, and so has none."""
    return {Aim.LATENESS: lateness, Aim.FINISH: finish, Aim.COST: cost, Aim.LABOUR: labour}[aim](ladder)


def lateness(ladder: Ladder) -> Sum:
    """Σ over racks of  Σ_i (v_i+1 − v_i) · (n − done[rack, v_i]),  v_0 its promise, v_i its possible ends behind."""
    terms: Terms = []
    rows: list[Row] = []
    offset = 0
    for chain in ladder.board.problem.chains:
        if chain.promised is not None:
            times = ladder.board.times(chain.steps[0].name)
            late = _until_done(ladder, [chain], chain.promised, times)
            terms, rows = terms + late.terms, rows + late.rows
            offset += late.offset - times * chain.promised
    return Sum(terms, offset, rows)


def finish(ladder: Ladder) -> Sum:
    """v_0 + Σ_i (v_i+1 − v_i) · (1 − done[v_i]),  v_i what the end of everything may be."""
    chains = ladder.board.problem.chains
    return _until_done(ladder, chains, max(earliest(ladder.board, chain) for chain in chains))


def cost(ladder: Ladder) -> Sum:
    """Σ cost · start + Σ call-out · booked."""
    terms: Terms = []
    for way in ladder.ways():
        # A cost that it has at every start hangs on its last y alone.
        steps = np.diff(way.own_cost, append=0)
        terms += [term for k in np.flatnonzero(steps) for term in ladder.y(way, int(k), -int(steps[k]))]
    for number, visit in enumerate(ladder.board.problem.visits):
        if ("booked", number) in ladder.named:
            terms.append((visit.call_out, ladder.named["booked", number]))
    return Sum(terms, 0, [])


def labour(ladder: Ladder) -> Sum:
    """Σ labour · y[c, last]."""
    return Sum([term for choice in ladder.choices() for term in ladder.last(choice, choice.labour)], 0, [])


def earliest(board: Board, chain: Chain) -> int:
    """The earliest end by the hours alone, people and room apart."""
    return max(min(int(c.after.dry.min()) for c in board.choices[step.name]) for step in chain.steps)


def _until_done(ladder: Ladder, chains: tuple[Chain, ...] | list[Chain], least: int, times: int = 1) -> Sum:
    """When these racks are dry, or `least` where that is earlier; the sum over so many racks of a counted one."""
    ends = [(c, c.after.dry) for chain in chains for s in chain.steps for c in ladder.board.choices[s.name]]
    values = [least, *(int(v) for v in np.unique(np.concatenate([dry for _, dry in ends])) if v > least)]
    terms: Terms = []
    rows: list[Row] = []
    for value, following in zip(values, values[1:], strict=False):
        done = ladder.extra(("done", tuple(chain.name for chain in chains), value), times)
        terms.append((value - following, done))
        for chain in chains:
            each = ladder.board.times(chain.steps[0].name) // times
            rows += [Row([(each, done), *_by(ladder, ways, value)], high=0) for ways in _deciding(ladder.board, chain)]
    return Sum(terms, times * values[-1], rows)


def _deciding(board: Board, chain: Chain) -> Iterator[list[Choice]]:
    """The last step, and those that a later one need not wait for until they are dry."""
    linked = {tie.before for tie in board.ties if tie.neighbours and tie.link is not None}
    for step in chain.steps:
        if step is chain.steps[-1] or (step.name in linked and any(option.dry is not None for option in step.options)):
            yield board.choices[step.name]


def _by(ladder: Ladder, ways: list[Choice], value: int) -> Terms:
    return [term for c in ways for term in ladder.by(c, c.after.dry, value, -1)]
