"""Racks to be blasted in the yard and coated under a roof or in a heated shop, through sixteen days of an open year.

Areas are drawn at random, so that no two racks are alike, and half of them get another enamel: work takes minutes by
its area, and what follows from it is known to the minute.
"""

from functools import cache

import numpy as np

from finishing.science import drying, exposure, rust, windows
from finishing.science.drying import DryingStage, DryingTable, SheetRow
from finishing.science.metal import metal_temperature
from finishing.science.moving import moves
from finishing.science.scheduling.problem import (
    Chain,
    Horizon,
    Mode,
    Person,
    Problem,
    Task,
    TimeLag,
    TimeWindow,
    Transport,
    VisitOffer,
    Workplace,
    cents,
    square_decimetres,
    tenths,
)
from finishing.science.windows import Gates

from .open_years import open_year

DAYS = 16
HOURS = 24 * DAYS
COUNT = 60 * HOURS
DONE = np.arange(COUNT + 1)
LENGTH = 0.010  # m: volume by area of a machine's castings
GATES = {
    "prime": Gates(temperature_min=10, temperature_max=40),
    "coat": Gates(temperature_min=5, temperature_max=40),
    "blast": Gates(humidity_max=None, margin=0),
}
# Hours of generic types of paint, from memory of data sheets; what matters here is that they differ and have ends.
PRIMER = DryingTable(
    (
        SheetRow(10, touch=3, handle=8, recoat_from=8, recoat_until=336),
        SheetRow(25, touch=1, handle=3, recoat_from=3, recoat_until=168),
    ),
    floor=5,
)
ENAMELS = (
    DryingTable(
        (SheetRow(10, touch=6, handle=14, recoat_from=24), SheetRow(25, touch=3, handle=7, recoat_from=14)), floor=3
    ),
    DryingTable(
        (SheetRow(10, touch=3, handle=9, recoat_from=16), SheetRow(25, touch=1, handle=4, recoat_from=6)), floor=3
    ),
)
HEATED = 18.0  # °C
PAINTED_IN = ("roof", "shop")


@cache
def year():
    return open_year("723170TYA.CSV")


def outside_from(day):
    """The air of the open year for sixteen days from one on."""
    begin = year().start + np.timedelta64(24 * day, "h")
    return year().between(begin, begin + np.timedelta64(HOURS, "h"))


class Air:
    """The places' air and metal from a day of the year on; what paints and bare iron do there, by completion.

    outside: other air than the year's for these days, as a forecast has it.
    """

    def __init__(self, day, outside=None):
        outside = outside or outside_from(day)
        self.horizon = Horizon(COUNT)
        self.at, self.done = np.arange(COUNT) / 60, DONE / 60
        self.weekday = (np.arange(COUNT) // 1440 + day) % 7
        self.clock = np.arange(COUNT) % 1440
        self.hours = {
            "yard": outside,
            "roof": outside.under_roof(),
            "cabinet": outside.under_roof(),
            "shop": outside.in_shop(HEATED),
        }
        shelters = {"yard": "outdoor", "roof": "outdoor", "cabinet": "outdoor", "shop": "still indoor"}
        self.metal = {
            name: metal_temperature(hours, LENGTH, shelter=shelters[name]) for name, hours in self.hours.items()
        }
        self.dried = cache(self._dried)
        self.recoat = cache(self._recoat)
        self.bare = cache(self._bare)

    def working(self, first=7, last=17):
        return (self.weekday < 6) & (self.clock >= 60 * first) & (self.clock < 60 * last)

    def _dried(self, place, table, stage):
        return drying.dried(table, stage, self.metal[place], self.hours[place].humidity, self.done)

    def mode(self, place, minutes, gates, table=None):
        hours, metal = self.hours[place], self.metal[place]
        beyond = np.full(minutes, np.inf)
        touch = self.done if table is None else self.dried(place, table, DryingStage.TOUCH)
        left = np.concatenate([touch[minutes:], beyond])[:COUNT]
        working = np.ones(HOURS, bool)
        refused = windows.refusals(
            hours, metal, gates, working=working, application_h=minutes / 60, left_at=left, starts=self.at
        )
        dry = None
        if table is not None:
            dry = np.maximum(self.horizon.not_before(self.dried(place, table, DryingStage.HANDLE)), DONE)
        heating = cents(3.0 * minutes / 60) if place == "shop" else 0
        margin = (metal - hours.dew_point - gates.margin)[self.at.astype(int)]
        return Mode(place, refused == 0, dry, cost=heating, margin=tenths(np.maximum(margin, 0)))

    def _recoat(self, place, table):
        opens = self.horizon.not_before(self.dried(place, table, DryingStage.RECOAT_FROM))
        closes = {}
        if table.gives(DryingStage.RECOAT_UNTIL):
            closes["closes"] = self.horizon.not_after(self.dried(place, table, DryingStage.RECOAT_UNTIL))
        return TimeWindow(np.maximum(opens, DONE), **closes)

    def _bare(self, place):
        standing = exposure.StandingIron(self.hours[place], self.metal[place][None])
        until = exposure.finish_by(standing, rust.Exposure(salt_shift=0), self.done)
        return TimeWindow(DONE, np.maximum.accumulate(self.horizon.not_after(until)))

    def transport(self, origin, to):
        settled = moves(self.metal[origin], self.hours[to], LENGTH, "still indoor" if to == "shop" else "outdoor")
        hours = np.minimum(np.ceil(self.at).astype(int), HOURS - 1)
        settles = self.horizon.not_before(np.maximum(settled.settles[self.at.astype(int)], settled.settles[hours]))
        return Transport(origin, to, 15, settles=settles)


def chain(air, number, area, cabinet, promised):
    """Mask, blast, prime and coat twice: minutes by the rack's area at common rates, and a fixed part."""
    name, enamel = f"rack {number}", ENAMELS[number % 2]
    rates = (("mask", 10, 10), ("blast", 8, 10), ("prime", 12, 30), ("coat", 10, 30))
    minutes = {kind: air.horizon.work(60 * area / rate + fixed) for kind, rate, fixed in rates}
    wet, bare = square_decimetres(area), "cabinet" if cabinet else "yard"
    anywhere = tuple(Mode(place, np.ones(COUNT, bool)) for place in PAINTED_IN)
    blast = air.mode(bare, minutes["blast"], GATES["blast"])
    prime = tuple(air.mode(p, minutes["prime"], GATES["prime"], PRIMER) for p in PAINTED_IN)
    coat = tuple(air.mode(p, minutes["coat"], GATES["coat"], enamel) for p in PAINTED_IN)
    tasks = (
        Task(f"{name} mask", "mask", minutes["mask"], anywhere, early=True),
        Task(f"{name} blast", "blast", minutes["blast"], (blast,), people=min(cabinet, 1), dust=60,
             by_visit=not cabinet, early=True),
        Task(f"{name} prime", "prime", minutes["prime"], prime, wet=wet),
        Task(f"{name} coat 1", "coat", minutes["coat"], coat, wet=wet),
        Task(f"{name} coat 2", "coat", minutes["coat"], coat, wet=wet),
    )  # fmt: skip
    time_lags = (
        TimeLag(tasks[1].name, tasks[2].name, (air.bare(bare),), "rust"),
        TimeLag(tasks[2].name, tasks[3].name, tuple(air.recoat(p, PRIMER) for p in PAINTED_IN)),
        TimeLag(tasks[3].name, tasks[4].name, tuple(air.recoat(p, enamel) for p in PAINTED_IN)),
    )
    return Chain(name, tasks, promised=promised), time_lags


def yard(racks, day=91, people=2, room=30.0, cabinet=0, promised=None, areas=(0.1, 5), outside=None):
    """A problem of so many racks that begins on a day of the year.

    areas: m² of the smallest and the largest · cabinet: how many may be blasted at once in the workshop's own; 0 for
    visits to the yard, on any working day.
    """
    air, draw = Air(day, outside), np.random.default_rng(racks)
    drawn = draw.uniform(*areas, racks)
    chains, time_lags = zip(*(chain(air, n + 1, area, cabinet, promised) for n, area in enumerate(drawn)), strict=True)
    days = [d for d in range(DAYS) if air.weekday[1440 * d] < 6]
    return Problem(
        air.horizon,
        chains,
        tuple(Person(f"painter {n + 1}", air.working()) for n in range(people)),
        (
            Workplace("yard"),
            Workplace("cabinet", at_once=cabinet),
            Workplace("roof", 100 * int(room)),
            Workplace("shop", 100 * int(room)),
        ),
        tuple(lag for group in time_lags for lag in group),
        tuple(air.transport(a, b) for a in air.hours for b in air.hours if a != b),
        tuple(VisitOffer(f"day {d + 1}", 1440 * d + 480, 1440 * d + 1020, 45_000) for d in days),
    )
