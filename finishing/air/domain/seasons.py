"""A system at a place through past years: each coat's workable hours by week."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from finishing.air.models.years import YearOfWeather
from finishing.coatings.models import Layer, System
from finishing.science.hours import Hours
from finishing.science.seasons import Season, SeasonStep, Year, apart_from_rain, iron_through, least, season, tells_rain
from finishing.science.windows import Gates
from finishing.science.work_time import application_hours
from finishing.site.calendar import week_of_year
from finishing.workshops.models.workshops import Place, Workshop

BLASTING = "Blasting"
BLASTING_H = 1.0  # an hour of it: the day's work is the contractor's matter


@dataclass(frozen=True)
class NamedStep:
    """A step of a system under the name it is shown by; `layer` is the coat, None for blasting."""

    name: str
    step: SeasonStep
    layer: Layer | None = None

    @property
    def drying_known(self) -> bool:
        return self.layer is None or self.step.table is not None


@dataclass(frozen=True)
class SystemThroughYears:
    """area in m², iron as its volume by area in metres; `rows` are the years it rests on."""

    workshop: Workshop
    system: System
    place: Place
    area: float
    length_m: float
    rows: list[YearOfWeather]

    @cached_property
    def steps(self) -> list[NamedStep]:
        """Blasting, then each coat with the preparations before it."""
        return [NamedStep(BLASTING, SeasonStep(Gates(), BLASTING_H)), *coat_steps(self.system.layers.all(), self.area)]

    @cached_property
    def answers(self) -> list[Season]:
        """One for each step; coats that ask the same are reckoned once."""
        irons = iron_through([year.hours for year in self._years], self.length_m, self.place.shelter)
        by_step = {step: season(self._years, irons, step) for step in {named.step for named in self.steps}}
        return [by_step[named.step] for named in self.steps]

    @cached_property
    def whole(self) -> Season:
        """The step that has fewest hours decides each week."""
        return least(self.answers)

    @property
    def rain_untold(self) -> list[YearOfWeather]:
        """Years that do not tell the rain that falls here; they were reckoned as if none fell."""
        return [row for row, (_, rain_known) in zip(self.rows, self._outside, strict=True) if not rain_known]

    @cached_property
    def _outside(self) -> list[tuple[Hours, bool]]:
        return [with_rain_told(self.place.reckoned(row.to_hours())) for row in self.rows]

    @cached_property
    def _years(self) -> list[Year]:
        zone = self.workshop.zone
        return [
            Year(air, self.workshop.usual_hours(air.times), week_of_year(air.times, zone)) for air, _ in self._outside
        ]


def with_rain_told(air: Hours) -> tuple[Hours, bool]:
    """A year as it is reckoned with, and whether it tells its rain; one that does not as if none fell."""
    return (air, True) if tells_rain(air) else (apart_from_rain(air), False)


def coat_steps(layers: Iterable[Layer], area: float) -> Iterator[NamedStep]:
    """Each coat with the preparations before it, as it is asked of past years."""
    before: list[Layer] = []
    for layer in layers:
        if not layer.is_coat:
            before.append(layer)
        elif coating := layer.coating:
            side = "" if layer.side == Layer.Side.ALL else f", {layer.get_side_display()}"
            minutes = layer.minutes_after(before, area)
            step = SeasonStep(layer.gates(), application_hours(minutes), coating.drying_table(), layer.slower)
            yield NamedStep(f"{layer.position}. {coating}{side}", step, layer)
            before = []
