"""A plan that shall stand in most members of an ensemble: planned in hours that so many allow, then counted whole."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from finishing.air.models import Ensemble
from finishing.science.scheduling.problem import Problem
from finishing.science.scheduling.scenarios import ScenarioCount, reaches, robust
from finishing.science.scheduling.schedule import Schedule
from projects.plans.domain.problem import lay_out_rows
from projects.record.models import Plan

from .members import count_plan
from .search import Found, solved

ASKED = 10  # members that are planned with, evenly picked; it is counted over all of them
STEPS = (0.0, 0.5, 1.0)  # of the way from the share asked for to all members
NO_ENSEMBLE = "No ensemble is known, so the margin above the dew point stands in for a share of it."

Tell = Callable[[str], None]


def surer(making: Any, first: Found, tell: Tell) -> str:
    """Offers plans until one stands in as many members as was asked for; what came of it, in words."""
    ensemble = Ensemble.objects.told_to(making.run.workshop, making.now)
    if ensemble is None:
        return NO_ENSEMBLE
    return _Search(making, ensemble, tell).run(first)


class _Search:
    def __init__(self, making: Any, ensemble: Ensemble, tell: Tell) -> None:
        self.making, self.ensemble, self.tell = making, ensemble, tell
        self.share = making.terms.stands_in
        self.best: tuple[int, Schedule, Found] | None = None
        self.offered: Schedule | None = None

    def run(self, first: Found) -> str:
        """The plan by the forecast alone may do already; else hours are left out that too many members refuse."""
        counted = self._count(first.plan, first)
        members: list[Problem] | None = None
        for step in STEPS:
            if reaches(counted.whole, counted.of, self.share) or self.making.stopped:
                break
            members = self._members() if members is None else members
            found = self._solve(robust(self.making.problem, members, self.share + step * (1 - self.share)))
            if found.plan is None:
                break
            self.making.offer(found.plan, found)
            counted = self._count(found.plan, found)
        return self._settle(counted.of)

    def _count(self, plan: Any, found: Found) -> ScenarioCount:
        self.tell("It is held against each member of the ensemble")
        row = Plan.objects.in_full().get(pk=self.making.run.best.pk)
        counted = count_plan(row, self.making.now)
        assert counted is not None
        self.offered = plan
        if self.best is None or counted.whole > self.best[0]:
            self.best = counted.whole, plan, found
        return counted

    def _settle(self, of: int) -> str:
        """Of those that were counted the surest is offered."""
        assert self.best is not None
        whole, plan, found = self.best
        if plan is not self.offered:
            self.making.offer(plan, found)
            count_plan(Plan.objects.in_full().get(pk=self.making.run.best.pk), self.making.now)
        asked, found = f"at least {round(10 * self.share)} of 10 members of the ensemble", f"{whole} of {of}"
        if reaches(whole, of, self.share):
            return f"Asked to stand in {asked}: the whole of it stands in {found}."
        return f"No plan was found that stands in {asked}: this one stands in {found}."

    def _solve(self, problem: Problem) -> Found:
        making = self.making
        return solved(problem, making.aims, making.terms.patience / 2, making.run.seed, stop=making.stop_wanted)

    def _members(self) -> list[Problem]:
        """The same racks by the hours of each, no longer than the forecast's."""
        ahead = self.ensemble.ahead(self.making.now)
        picked = ahead[:: -(-len(ahead) // ASKED)]
        found = []
        for number, member in enumerate(picked, start=1):
            self.tell(f"The hours of member {number} of {len(picked)} are laid out")
            problem = self._laid_out(member)
            if problem is not None and problem.grid == self.making.problem.grid:
                found.append(problem)
        return found

    def _laid_out(self, member: Any) -> Problem | None:
        making, ground = self.making, self.making.layout.ground
        racks = [hung for hung in making.layout.hung if hung.to_be_blasted]
        bare = {str(hung.pieces[0].pk): [str(place.pk) for place in hung.bare_places] for hung in racks}
        cut = member.between(member.start, ground.times[-1] + (ground.times[1] - ground.times[0]))
        terms = replace(making.terms.asks(bare_in=bare), member=cut)
        problem = lay_out_rows(terms, making.projects, making.now, making.kept_slots).problem
        wanted = {chain.name for chain in making.problem.chains}
        return problem.restricted_to([chain for chain in problem.chains if chain.name in wanted]) if problem else None
