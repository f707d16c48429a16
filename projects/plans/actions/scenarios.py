"""A plan chosen over the members of an ensemble: by what it costs in the end, or to stand in so many of them.

Either way it is planned in hours that so many members allow, beside the one by the forecast alone.
"""

from dataclasses import asdict, replace

import numpy as np

from finishing.air.models import Ensemble
from finishing.science.hours import Hours
from finishing.science.scheduling.expectations import ExpectedCost, dried_in, expected_costs, least_expected
from finishing.science.scheduling.problem import Problem
from finishing.science.scheduling.scenarios import ScenarioCount, reaches, robust
from finishing.science.scheduling.schedule import Schedule
from finishing.science.scheduling.solve import Result, solve_for
from finishing.site.templatetags.clock import duration
from projects.plans.domain.problem import lay_out_rows
from projects.plans.domain.redoing import prices_of
from projects.record.models import Plan

from .ensemble_counts import count_plan
from .under_way import RunUnderWay

PLANNED_WITH = 10  # members, evenly picked; it is counted over all of them
SHARES = (0.6, 0.9)  # of members that allow the hours in which another plan is looked for
STEPS = (0.0, 0.5, 1.0)  # of the way from the share asked for to all members
NO_ENSEMBLE = "No ensemble is known, so the margin above the dew point stands in for a share of it."


def make_surer(under_way: RunUnderWay, first: Result) -> str:
    """Offers plans until one stands in as many members as was asked for; what came of it, in words."""
    ensemble = Ensemble.objects.told_to(under_way.run.workshop, under_way.now)
    return NO_ENSEMBLE if ensemble is None else _SureSearch(under_way, ensemble).run(first)


def choose_over_members(under_way: RunUnderWay, first: Result) -> str:
    """Offers the plan that is expected to cost least in the end, where an ensemble is known; in words where another one
    than that by the forecast is chosen."""
    ensemble = Ensemble.objects.told_to(under_way.run.workshop, under_way.now)
    if ensemble is None or first.schedule is None:
        return ""
    prices = prices_of(under_way.layout)
    counted = _count_offer(under_way)
    if counted.whole == counted.of:  # nothing to choose: no member spoils any of it
        sure = ExpectedCost(first.schedule.cost, 0, 0, 0, prices.day, counted.of)
        under_way.run.plans.offered().update(expected={**asdict(sure), "others": []})
        return ""
    problem, tried = first.schedule.problem, [first.schedule]
    members = member_problems(under_way, ensemble, problem)
    if not members:
        return ""
    by_forecast = expected_costs([first.schedule], members, prices)[0]
    for share in SHARES if by_forecast.spoilt else ():
        if under_way.stop_wanted():
            break
        under_way.tell("A plan is looked for in hours that more members of the ensemble allow")
        result = solve_for(
            under_way.terms.patience / 4, robust(problem, members, share), under_way.aims, seed=under_way.run.seed,
            stop=under_way.stop_wanted,
        )  # fmt: skip
        if result.schedule is not None:
            tried.append(result.schedule)
    by_the_forecast = [dried_in(schedule, problem) for schedule in tried]
    costs = expected_costs(by_the_forecast, members, prices)
    chosen = least_expected(by_the_forecast, costs)
    if chosen:
        under_way.offer(tried[chosen], _bounded_as(first, tried[chosen]))
        _count_offer(under_way)
    others = [asdict(cost) for number, cost in enumerate(costs) if number != chosen]
    under_way.run.plans.offered().update(expected={**asdict(costs[chosen]), "others": others})
    if not chosen:
        return ""
    sure, plain = costs[chosen], costs[0]
    ends = f", which would end {duration((sure.later - plain.later) / 60)} earlier" if sure.later > plain.later else ""
    return (
        f"Chosen over the members of the ensemble: done as planned, {sure.spoilt:.1f} of its steps are spoilt on"
        f" average; of those of the plan by the forecast alone {plain.spoilt:.1f}{ends}."
    )


def _bounded_as(first: Result, chosen: Schedule) -> Result:
    """What was proved of the plan by the forecast alone, as far as it holds of another one.

    The bound of an aim holds while the aims before it keep their values: up to the first in which the two differ.
    """
    assert first.schedule is not None
    pairs = zip(first.schedule.values(first.aims), chosen.values(first.aims), strict=True)
    same = next((number for number, (was, now) in enumerate(pairs) if was != now), len(first.aims))
    return Result(chosen, first.aims[: same + 1], first.bounds[: same + 1])


class _SureSearch:
    """surest: in how many members the surest plan so far stands whole, and its result · offered: the latest one."""

    def __init__(self, under_way: RunUnderWay, ensemble: Ensemble) -> None:
        self.under_way, self.ensemble = under_way, ensemble
        self.share = under_way.terms.stands_in
        self.surest: tuple[int, Result] | None = None
        self.offered: Result | None = None

    def run(self, first: Result) -> str:
        """The plan by the forecast alone may do already; else hours are left out that too many members refuse."""
        under_way = self.under_way
        assert first.schedule is not None
        problem, members = first.schedule.problem, None
        counted = self._count(first)
        for step in STEPS:
            if reaches(counted.whole, counted.of, self.share) or under_way.stopped:
                break
            members = member_problems(under_way, self.ensemble, problem) if members is None else members
            narrowed = robust(problem, members, self.share + step * (1 - self.share))
            patience, seed = under_way.terms.patience / 2, under_way.run.seed
            result = solve_for(patience, narrowed, under_way.aims, seed=seed, stop=under_way.stop_wanted)
            if result.schedule is None:
                break
            under_way.offer(result.schedule, result)
            counted = self._count(result)
        return self._settle(counted.of)

    def _count(self, result: Result) -> ScenarioCount:
        """Of the plan that is on offer."""
        counted = _count_offer(self.under_way)
        self.offered = result
        if self.surest is None or counted.whole > self.surest[0]:
            self.surest = counted.whole, result
        return counted

    def _settle(self, of: int) -> str:
        """Of those that were counted the surest is offered."""
        assert self.surest is not None
        whole, result = self.surest
        if result is not self.offered and result.schedule is not None:
            self.under_way.offer(result.schedule, result)
            _count_offer(self.under_way)
        asked, stands = f"at least {round(10 * self.share)} of 10 members of the ensemble", f"{whole} of {of}"
        if reaches(whole, of, self.share):
            return f"Asked to stand in {asked}: the whole of it stands in {stands}."
        return f"No plan was found that stands in {asked}: this one stands in {stands}."


def _count_offer(under_way: RunUnderWay) -> ScenarioCount:
    """In how many members the plan on offer stands; it is kept with it."""
    under_way.tell("It is held against each member of the ensemble")
    counted = count_plan(Plan.objects.in_full().filter(run=under_way.run).latest("made_at"), under_way.now)
    assert counted is not None  # there is an ensemble
    return counted


def member_problems(under_way: RunUnderWay, ensemble: Ensemble, problem: Problem) -> list[Problem]:
    """The same racks by the hours of some members, no longer than the forecast's."""
    ahead = ensemble.ahead(under_way.now)
    picked = ahead[:: -(-len(ahead) // PLANNED_WITH)]
    scenarios = []
    for number, member in enumerate(picked, start=1):
        if under_way.stop_wanted():
            break
        under_way.tell(f"The hours of member {number} of {len(picked)} are laid out")
        scenario = _laid_out(under_way, problem, member)
        if scenario is not None and scenario.horizon == problem.horizon:
            scenarios.append(scenario)
    return scenarios


def _laid_out(under_way: RunUnderWay, problem: Problem, member: Hours) -> Problem | None:
    times = under_way.ground.times
    racks = [hung for hung in under_way.layout.hung if hung.to_be_blasted]
    bare = {str(hung.pieces[0].pk): [str(place.pk) for place in hung.bare_places] for hung in racks}
    cut = member.between(member.start, times[-1] + np.timedelta64(1, "m"))
    terms = replace(under_way.terms.asks(bare_in=bare), member=cut)
    whole = lay_out_rows(terms, under_way.projects, under_way.now, under_way.kept_slots).problem
    names = {chain.name for chain in problem.chains}
    return whole.restricted_to(chain for chain in whole.chains if chain.name in names) if whole else None
