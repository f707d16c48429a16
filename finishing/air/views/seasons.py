"""Which month: the weeks of the year in which a system can be put on here, from past or typical years."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from finishing.air.actions.years import ARCHIVE
from finishing.air.domain.freshness import CREDITS, Credit
from finishing.air.domain.seasons import NamedStep, SystemThroughYears
from finishing.air.forms.years import WhichMonthForm
from finishing.air.models import YearOfWeather
from finishing.air.pictures.seasons import (
    SeasonPicture,
    WeeklyHours,
    by_month,
    by_week,
    months,
    season_picture,
    week_begins,
)
from finishing.science.seasons import WEEKS, Season, weekly_working
from finishing.science.working import Working
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.models import Workshop


@dataclass(frozen=True)
class StepPicture:
    named: NamedStep
    picture: SeasonPicture
    working: Working


@dataclass(frozen=True)
class Outcome:
    """Everything the page tells of a system through years."""

    of: SystemThroughYears

    @cached_property
    def whole(self) -> SeasonPicture:
        return season_picture(self.of.whole, self.top)

    @cached_property
    def steps(self) -> list[StepPicture]:
        return [
            StepPicture(named, season_picture(answer, self.top), weekly_working(named.step, answer, self.years))
            for named, answer in zip(self.of.steps, self.of.answers, strict=True)
        ]

    @property
    def top(self) -> float:
        return float(self.of.workshop.hours_a_week)

    @property
    def columns(self) -> list[str]:
        return [*(named.name for named in self.of.steps), "All of it"]

    @property
    def months(self) -> list[tuple[date, list[tuple[str, WeeklyHours]]]]:
        return self._table(months(), by_month)

    @property
    def weeks(self) -> list[tuple[date, list[tuple[str, WeeklyHours]]]]:
        return self._table([week_begins(week) for week in range(WEEKS)], by_week)

    def _table(
        self, heads: list[date], by: Callable[[Season], list[WeeklyHours]]
    ) -> list[tuple[date, list[tuple[str, WeeklyHours]]]]:
        """A row for each month or week; each cell with the name of its column, for a phone has no heading above."""
        rows = zip(*(by(answer) for answer in (*self.of.answers, self.of.whole)), strict=True)
        return [(head, list(zip(self.columns, row, strict=True))) for head, row in zip(heads, rows, strict=True)]

    @property
    def years(self) -> str:
        rows = self.of.rows
        return str(rows[0]) if len(rows) == 1 else f"{rows[0]} to {rows[-1]}, {len(rows)} years"

    @property
    def made_up(self) -> bool:
        return any(row.invented for row in self.of.rows)

    @property
    def credits(self) -> list[str]:
        """Of files and of invented years; the archive's credit is a link."""
        return sorted({row.attribution for row in self.of.rows if row.attribution and row.source != ARCHIVE})

    @property
    def service(self) -> Credit | None:
        from_archive = any(row.source == ARCHIVE for row in self.of.rows)
        return CREDITS[Workshop.WeatherService.OPEN_METEO] if from_archive else None

    @property
    def not_whole(self) -> list[YearOfWeather]:
        return [row for row in self.of.rows if not row.whole]


@require_safe
@member()
def which_month(request: WorkshopRequest) -> HttpResponse:
    form = WhichMonthForm(request.GET, workshop=request.workshop)
    outcome = Outcome(_through_years(form)) if form.has_years and form.is_valid() else None
    return render(request, "finishing/air/seasons/which_month.html", {"form": form, "outcome": outcome})


def _through_years(form: WhichMonthForm) -> SystemThroughYears:
    asked = form.cleaned_data
    return SystemThroughYears(
        form.workshop,
        asked["system"],
        asked["place"],
        asked["area"].to("m**2").magnitude,
        asked["wall"].to("meter").magnitude / 2,  # a wall gives its heat away on both sides
        form.chosen_years(),
    )
