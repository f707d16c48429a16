"""How far the estimate of the metal lies from what was measured, place by place: said, never applied.

Each estimate is made as if no surface had ever been measured. Sun that nobody knows counts as none in it, so by day
a place in the open is found warmer than estimated.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np

from finishing.air.domain.outside_air import WorkshopAir
from finishing.air.models import Reading
from finishing.science.hours import Floats
from finishing.science.metal import GREY_IRON, Body, metal_temperature
from finishing.science.sources import OUR_JUDGEMENT
from finishing.science.working import Working
from finishing.workshops.models import Place
from projects.record.models.designs import ASSUMED_WALL
from projects.record.models.pieces import Piece
from projects.record.models.steps import Step

from .paths import paths, stays

LOOK_BACK = timedelta(days=30)
BEFORE = timedelta(days=2)  # air before it, so that heavy metal is in balance when it counts
ONE_HOUR = timedelta(hours=1)
LEAST = 5  # readings from which a difference is said: [our judgement]
SOMETHING = Body.of(ASSUMED_WALL / 2000, GREY_IRON, assumed=True)  # what a reading without a piece was taken on


@dataclass(frozen=True)
class Comparison:
    """A surface as measured and as estimated for that instant, °C to a tenth."""

    when: datetime
    measured: float
    estimated: float
    piece: Piece | None = None  # None: something at the place, taken for iron of 25 mm

    @property
    def difference(self) -> float:
        return round(self.measured - self.estimated, 1)


@dataclass(frozen=True)
class Difference:
    """What the comparisons of one place say: measured less estimated, °C."""

    comparisons: list[Comparison]

    @property
    def count(self) -> int:
        return len(self.comparisons)

    @property
    def newest_first(self) -> list[Comparison]:
        return self.comparisons[::-1]

    @property
    def said(self) -> bool:
        return self.count >= LEAST

    @property
    def missing(self) -> int:
        """Readings until it is said."""
        return max(0, LEAST - self.count)

    @cached_property
    def _spread(self) -> tuple[float, float, float]:
        low, median, high = np.percentile([each.difference for each in self.comparisons], (10, 50, 90))
        return float(low), float(median), float(high)

    @property
    def median(self) -> float:
        return self._spread[1]

    @property
    def off(self) -> float:
        """By how much the estimate misses, whichever way."""
        return round(abs(self.median), 1)

    @property
    def runs(self) -> str:
        """Which way the estimate misses."""
        return "true" if not self.off else "warm" if self.median < 0 else "cold"

    @property
    def low(self) -> float:
        return self._spread[0]

    @property
    def high(self) -> float:
        return self._spread[2]

    @property
    def without_piece(self) -> int:
        return sum(each.piece is None for each in self.comparisons)

    @property
    def working(self) -> Working:
        return Working(
            name="Measured less estimated",
            formula="median (t_measured − t_estimated)",
            inputs=(
                ("readings", f"{self.count}, {self.without_piece} of them on no piece"),
                ("eight of ten lie between", f"{self.low:+.1f} and {self.high:+.1f} °C"),
            ),
            result=f"{self.median:+.1f} °C",
            source=OUR_JUDGEMENT,
            note="Each estimate is made as if no surface had been measured. A reading on no piece is compared with iron"
            f" of {ASSUMED_WALL:g} mm. Sun that is not known counts as none. Nothing is corrected by this.",
        )


def difference_at(place: Place, now: datetime) -> Difference:
    """From the surfaces measured at a place in the last days."""
    begin = (now - LOOK_BACK - BEFORE).replace(minute=0, second=0, microsecond=0)
    air = WorkshopAir(place.workshop, begin, now)
    found = [*_on_pieces(place, air), *_on_no_piece(place, air)]
    return Difference(sorted(found, key=lambda each: each.when))


def _on_pieces(place: Place, air: WorkshopAir) -> list[Comparison]:
    since = air.now - LOOK_BACK
    pieces = [piece for piece in _measured(air, since) if _stood_at(place, piece, air)]
    trails = paths(pieces, air, pinned=False)
    found = []
    for piece in pieces:
        path = trails[piece.pk]
        for when, celsius in piece.state_at(air.now).measured:
            position = float(path.hours.position(when))
            stay = path.stay_at(int(position))
            just_moved = 0 < stay.first == int(position)  # that hour's metal is neither place's
            if when >= since and stay.place == place and not just_moved:
                found += _compared(when, celsius, path.metal, position, piece)
    return found


def _measured(air: WorkshopAir, since: datetime) -> list[Piece]:
    entries = Step.objects.of(air.workshop).filter(surface_temperature__isnull=False, voided_by=None)
    recent = entries.filter(happened_at__gte=since, happened_at__lte=air.now)
    return list(Piece.objects.of(air.workshop).filter(pk__in=recent.values("piece")).with_log())


def _stood_at(place: Place, piece: Piece, air: WorkshopAir) -> bool:
    return any(stay.place == place for stay in stays(piece, air.outdoor))


def _on_no_piece(place: Place, air: WorkshopAir) -> list[Comparison]:
    taken = Reading.objects.of(air.workshop).filter(place=place, surface_temperature__isnull=False)
    readings = list(taken.between(air.now - LOOK_BACK, air.now))
    if not readings:
        return []
    there = air.of(place).between(air.begin, air.now + ONE_HOUR)
    metal = metal_temperature(there, SOMETHING.length_m, None, place.shelter, sky=True)
    found = []
    for reading in readings:
        assert reading.surface_temperature is not None  # asked for above
        celsius = float(reading.surface_temperature.to("degC").magnitude)
        found += _compared(reading.taken_at, celsius, metal, float(there.position(reading.taken_at)))
    return found


def _compared(
    when: datetime, measured: float, metal: Floats, position: float, piece: Piece | None = None
) -> list[Comparison]:
    """The comparison at this position of the run; none where the estimate is not known."""
    estimated = float(np.interp(position, np.arange(len(metal)), metal))
    return [] if np.isnan(estimated) else [Comparison(when, round(measured, 1), round(estimated, 1), piece)]
