"""How good were the forecasts here: for each place their bias and spread, rain, and whether workable came true."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from finishing.air.actions.ensembles import LEARNED
from finishing.air.domain.freshness import freshness
from finishing.air.domain.past_forecasts import JUDGED, LEARNED_FROM, PastForecasts, past_forecasts
from finishing.air.models import Ensemble
from finishing.air.pictures.errors import ErrorPicture, error_picture
from finishing.science.forecast_errors import ENOUGH_FORECASTS, ENOUGH_IN_ALL, spread_working, taken_together
from finishing.science.working import Working
from finishing.workshops.access import WorkshopRequest, member, unless_unchanged
from finishing.workshops.models import Place

TOLD_AT = (3, 6, 12, 24, 48, 72, 120, 168, 240, 336)  # hours ahead in the table
HEADLINE = 24


@dataclass(frozen=True)
class LeadRow:
    """Errors so many hours ahead, as numbers: °C, and of so many hours how many."""

    ahead: int
    air_bias: float
    air_spread: float
    dew_bias: float
    dew_spread: float
    rain_told: int
    rain_fell: int
    rain_missed: int
    rain_looked: int
    workable: int
    came_true: int

    @property
    def too_cold(self) -> float:
        return -self.air_bias

    @property
    def share(self) -> int | None:
        return round(100 * self.came_true / self.workable) if self.workable else None


@dataclass(frozen=True)
class PlaceForecasts:
    """What a page tells of a place."""

    past: PastForecasts

    @property
    def place(self) -> Place:
        return self.past.place

    @property
    def beside(self) -> int:
        """Hours that were both foretold and read."""
        return int(self.past.errors.count.sum())

    @property
    def told(self) -> bool:
        """Enough of several forecasts to be told."""
        return self.past.errors.forecasts >= ENOUGH_FORECASTS and self.past.errors.reach > min(TOLD_AT)

    @cached_property
    def rows(self) -> list[LeadRow]:
        return list(self._rows())

    def _rows(self) -> Iterator[LeadRow]:
        errors, rain = self.past.errors, self.past.errors.rain
        foretold, came_true = map(taken_together, self.past.workable)
        for at in (at for at in TOLD_AT if at < errors.reach):
            yield LeadRow(
                at,
                air_bias=float(errors.air_bias[at]),
                air_spread=float(errors.air_spread[at]),
                dew_bias=float(errors.dew_bias[at]),
                dew_spread=float(errors.dew_spread[at]),
                rain_told=int(rain.hits[at] + rain.false[at]),
                rain_fell=int(rain.hits[at]),
                rain_missed=int(rain.missed[at]),
                rain_looked=int(rain.known[at]),
                workable=int(foretold[at]),
                came_true=int(came_true[at]),
            )

    @property
    def headline(self) -> LeadRow:
        """A day ahead, or as near to it as is known."""
        return min(self.rows, key=lambda row: abs(row.ahead - HEADLINE))

    @property
    def rain_looked(self) -> bool:
        return any(row.rain_looked for row in self.rows)

    @property
    def picture(self) -> ErrorPicture:
        return error_picture(self.past.errors, self.place.workshop.units)

    @property
    def workings(self) -> list[Working]:
        row, errors = self.headline, self.past.errors
        count = float(errors.count[row.ahead])
        return [
            spread_working(row.air_spread, count, row.ahead, "air"),
            spread_working(row.dew_spread, count, row.ahead, "dew point"),
        ]


@member()
@unless_unchanged
def how_good(request: WorkshopRequest) -> HttpResponse:
    now = timezone.now()
    places = [PlaceForecasts(past) for past in past_forecasts(request.workshop, now)]
    stands_in = Ensemble.objects.told_to(request.workshop, now)
    context = {
        "freshness": freshness(request.workshop, now),
        "places": [here for here in places if here.told],
        "not_yet": [here for here in places if not here.told],
        "told": len(places[0].past.told) if places else 0,
        "days": LEARNED_FROM.days,
        "judged": JUDGED,
        "enough_days": ENOUGH_FORECASTS,
        "enough": ENOUGH_IN_ALL,
        "drawn": stands_in is not None and stands_in.model == LEARNED,
        "ensemble": stands_in,
    }
    return render(request, "finishing/air/past_forecasts/how_good.html", context)
