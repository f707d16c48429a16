"""The smallest repair of a schedule that no longer stands: what holds stays where it is, to the minute.

A rack that breaks a rule keeps its tasks up to the first that breaks one; from there on it is put in anew, as early as
it fits beside all the others. Where it fits nowhere so, the whole rack is.
"""

from collections.abc import Mapping

from .feasibility import check_feasibility
from .insertion import Insertion
from .problem import Chain, Problem
from .schedule import Schedule, ScheduledTask


def repaired(problem: Problem, kept: Mapping[str, ScheduledTask]) -> Schedule | None:
    """A schedule of the racks that have some task in `kept`, or None where no such repair stands.

    kept: tasks as they were planned, by name; what the problem does not have any more is not looked at.
    """
    chains = [chain for chain in problem.chains if any(task.name in kept for task in chain.tasks)]
    if not chains:
        return None
    own = problem.restricted_to(chains)
    standing = _that_hold(own, kept)
    insertion = Insertion(own, [done for tasks in standing.values() for done in tasks])
    broken = [chain for chain in own.chains if len(standing[chain.name]) < len(chain.tasks)]
    for chain in sorted(broken, key=lambda chain: _first_begins(chain, kept)):
        if not insertion.put(chain):
            for done in standing[chain.name]:
                insertion.undo(done.task)
            if not insertion.put(chain):
                return None
    schedule = insertion.schedule()
    return None if check_feasibility(schedule) else schedule


def _that_hold(problem: Problem, kept: Mapping[str, ScheduledTask]) -> dict[str, list[ScheduledTask]]:
    """By rack its tasks up to the first that is missing or breaks a rule beside all other racks that are whole."""
    standing = {chain.name: _up_to_the_first_missing(chain, kept) for chain in problem.chains}
    while True:
        whole = [chain for chain in problem.chains if len(standing[chain.name]) == len(chain.tasks)]
        if not whole:
            return standing
        tasks = {done.task: done for chain in whole for done in standing[chain.name]}
        broken = {violation.task for violation in check_feasibility(Schedule(problem.restricted_to(whole), tasks))}
        struck = [chain for chain in whole if any(task.name in broken for task in chain.tasks)]
        if not struck:
            return standing
        # of two that meet the later gives way: what is planned sooner is the surer
        last = max(struck, key=lambda chain: _first_begins(chain, kept))
        first = next(n for n, task in enumerate(last.tasks) if task.name in broken)
        standing[last.name] = standing[last.name][:first]


def _up_to_the_first_missing(chain: Chain, kept: Mapping[str, ScheduledTask]) -> list[ScheduledTask]:
    names = [task.name for task in chain.tasks]
    first = next((n for n, name in enumerate(names) if name not in kept), len(names))
    return [kept[name] for name in names[:first]]


def _first_begins(chain: Chain, kept: Mapping[str, ScheduledTask]) -> int:
    return min(kept[task.name].begin for task in chain.tasks if task.name in kept)
