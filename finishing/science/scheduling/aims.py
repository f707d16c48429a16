"""What is aimed at, in the variables of rules.py: each aim is a sum to be made small, with rows of its own."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from .choices import Choice
from .problem import Chain
from .rules import LinearRow, Terms, Variables
from .schedule import Aim
from .search_space import SearchSpace


@dataclass(frozen=True)
class Sum:
    """offset + Σ coefficient · variable, no less than the aim's value and equal to it where it is made small."""

    terms: Terms
    offset: int
    rows: list[LinearRow]


def sum_of(aim: Aim, variables: Variables) -> Sum:
    """The aim as a sum; margin is sought by leaving out starts that keep less, and so has none."""
    return {Aim.LATENESS: lateness, Aim.FINISH: finish, Aim.COST: cost, Aim.LABOUR: labour}[aim](variables)


def lateness(variables: Variables) -> Sum:
    """Σ over racks of  Σ_i (v_i+1 − v_i) · (n − done[rack, v_i]),  v_0 its promise, v_i its possible ends behind."""
    terms: Terms = []
    rows: list[LinearRow] = []
    offset = 0
    for chain in variables.space.problem.chains:
        if chain.promised is not None:
            times = variables.space.times(chain.tasks[0].name)
            late = _until_done(variables, [chain], chain.promised, times)
            terms, rows = terms + late.terms, rows + late.rows
            offset += late.offset - times * chain.promised
    return Sum(terms, offset, rows)


def finish(variables: Variables) -> Sum:
    """v_0 + Σ_i (v_i+1 − v_i) · (1 − done[v_i]),  v_i what the end of everything may be."""
    chains = variables.space.problem.chains
    return _until_done(variables, chains, max(earliest(variables.space, chain) for chain in chains))


def cost(variables: Variables) -> Sum:
    """Σ cost · start + Σ call-out · booked."""
    terms: Terms = []
    for way in variables.ways():
        # A cost that it has at every start hangs on its last y alone.
        rises = np.diff(way.own_cost, append=0)
        terms += [term for k in np.flatnonzero(rises) for term in variables.y(way, int(k), -int(rises[k]))]
    for number, visit in enumerate(variables.space.problem.visits):
        if ("booked", number) in variables.named:
            terms.append((visit.call_out, variables.named["booked", number]))
    return Sum(terms, 0, [])


def labour(variables: Variables) -> Sum:
    """Σ labour · y[c, last]."""
    return Sum([term for choice in variables.choices() for term in variables.last(choice, choice.labour)], 0, [])


def earliest(space: SearchSpace, chain: Chain) -> int:
    """The earliest end by the hours alone, people and room apart."""
    return max(min(int(c.after.dry.min()) for c in space.choices[task.name]) for task in chain.tasks)


def _until_done(variables: Variables, chains: tuple[Chain, ...] | list[Chain], least: int, times: int = 1) -> Sum:
    """When these racks are dry, or `least` where that is earlier; the sum over so many racks of a counted one."""
    ends = [(c, c.after.dry) for chain in chains for s in chain.tasks for c in variables.space.choices[s.name]]
    values = [least, *(int(v) for v in np.unique(np.concatenate([dry for _, dry in ends])) if v > least)]
    terms: Terms = []
    rows: list[LinearRow] = []
    for value, following in zip(values, values[1:], strict=False):
        done = variables.extra(("done", tuple(chain.name for chain in chains), value), times)
        terms.append((value - following, done))
        for chain in chains:
            each = variables.space.times(chain.tasks[0].name) // times
            rows += [
                LinearRow([(each, done), *_by(variables, ways, value)], high=0)
                for ways in _deciding(variables.space, chain)
            ]
    return Sum(terms, times * values[-1], rows)


def _deciding(space: SearchSpace, chain: Chain) -> Iterator[list[Choice]]:
    """The last task, and those that a later one need not wait for until they are dry."""
    linked = {tie.before for tie in space.ties if tie.neighbours and tie.lag is not None}
    for task in chain.tasks:
        if task is chain.tasks[-1] or (task.name in linked and any(mode.dry is not None for mode in task.modes)):
            yield space.choices[task.name]


def _by(variables: Variables, ways: list[Choice], value: int) -> Terms:
    return [term for c in ways for term in variables.by(c, c.after.dry, value, -1)]
