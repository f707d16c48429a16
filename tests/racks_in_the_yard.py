"""Racks to be blasted in the yard and coated under a roof or in a heated shop, through sixteen days of an open year."""

from functools import cache

import numpy as np

from finishing.science import drying, rust, windows
from finishing.science.drying import DryingStage, DryingTable, SheetRow
from finishing.science.metal import metal_temperature
from finishing.science.moving import moves
from finishing.science.scheduling.problem import (
    Chain,
    Grid,
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
COUNT = 24 * DAYS
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
ENAMEL = DryingTable(
    (SheetRow(10, touch=6, handle=14, recoat_from=24), SheetRow(25, touch=3, handle=7, recoat_from=14)), floor=3
)
HEATED = 18.0  # °C


@cache
def year():
    return open_year("723170TYA.CSV")


class Air:
    """The places' air and metal from a day of the year on."""

    def __init__(self, day):
        outside = year().between(
            year().start + np.timedelta64(24 * day, "h"), year().start + np.timedelta64(24 * day + COUNT, "h")
        )
        self.weekday = (np.arange(COUNT) // 24 + day) % 7
        self.clock = np.arange(COUNT) % 24
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

    def working(self, first=7, last=17):
        return (self.weekday < 6) & (self.clock >= first) & (self.clock < last)

    def mode(self, place, grid, step_hours, gates, table=None):
        hours, metal = self.hours[place], self.metal[place]
        done = np.arange(COUNT) + float(step_hours)
        left = done if table is None else drying.dried(table, DryingStage.TOUCH, metal, hours.humidity, done)
        refused = windows.refusals(
            hours, metal, gates, working=np.ones(COUNT, bool), application_h=step_hours, left_at=left
        )
        dry = (
            None
            if table is None
            else grid.not_before(drying.dried(table, DryingStage.HANDLE, metal, hours.humidity, done))
        )
        margin = metal - hours.dew_point - gates.margin
        ends = np.minimum(np.nan_to_num(np.ceil(left), nan=COUNT, posinf=COUNT), COUNT).astype(int)
        least = np.array([np.nanmin(margin[h : max(ends[h], h + 1)]) for h in range(COUNT)])
        heating = cents(3.0 * step_hours) if place == "shop" else 0
        return Mode(place, refused == 0, dry, cost=heating, margin=tenths(np.maximum(least, 0)))

    def recoat(self, place, grid, step_hours, table):
        hours, metal = self.hours[place], self.metal[place]
        window = drying.recoat_window(table, metal, hours.humidity, np.arange(COUNT) + float(step_hours))
        return TimeWindow(grid.not_before(window.opens), grid.not_after(window.closes))

    def bare(self, place, grid, step_hours):
        metal, done = self.metal[place], np.arange(COUNT) + float(step_hours)
        until = rust.coat_before(self.hours[place], metal, rust.Exposure(salt_shift=0), done).finish_by
        return TimeWindow(np.arange(COUNT) + step_hours, np.maximum.accumulate(grid.not_after(until)))

    def transport(self, origin, to):
        settled = moves(self.metal[origin], self.hours[to], LENGTH, "still indoor" if to == "shop" else "outdoor")
        settles = np.ceil(np.nan_to_num(settled.settles, posinf=COUNT)).astype(int)
        return Transport(origin, to, 1, settles=settles)


def chain(air, grid, number, area, cabinet, promised):
    """Mask, blast, prime and coat twice: hours by the rack's area at common rates."""
    name = f"rack {number}"
    hours = {
        kind: grid.work(60 * area / rate + fixed)
        for kind, rate, fixed in (("mask", 10, 15), ("blast", 8, 10), ("prime", 12, 30), ("coat", 10, 30))
    }
    wet = square_decimetres(area)
    anywhere = tuple(Mode(place, np.ones(COUNT, bool)) for place in ("roof", "shop"))
    bare = "cabinet" if cabinet else "yard"
    blast = air.mode(bare, grid, hours["blast"], GATES["blast"])
    prime = tuple(air.mode(p, grid, hours["prime"], GATES["prime"], PRIMER) for p in ("roof", "shop"))
    coat = tuple(air.mode(p, grid, hours["coat"], GATES["coat"], ENAMEL) for p in ("roof", "shop"))
    tasks = (
        Task(f"{name} mask", "mask", hours["mask"], anywhere, early=True),
        Task(
            f"{name} blast",
            "blast",
            hours["blast"],
            (blast,),
            people=min(cabinet, 1),
            dust=1,
            by_visit=not cabinet,
            early=True,
        ),
        Task(f"{name} prime", "prime", hours["prime"], prime, wet=wet),
        Task(f"{name} coat 1", "coat", hours["coat"], coat, wet=wet),
        Task(f"{name} coat 2", "coat", hours["coat"], coat, wet=wet),
    )
    first = tuple(air.recoat(p, grid, hours["prime"], PRIMER) for p in ("roof", "shop"))
    second = tuple(air.recoat(p, grid, hours["coat"], ENAMEL) for p in ("roof", "shop"))
    time_lags = (
        TimeLag(tasks[1].name, tasks[2].name, (air.bare(bare, grid, hours["blast"]),), "rust"),
        TimeLag(tasks[2].name, tasks[3].name, first),
        TimeLag(tasks[3].name, tasks[4].name, second),
    )
    return Chain(name, tasks, promised=promised), time_lags


def yard(racks, day=91, people=2, room=30.0, cabinet=0, promised=None, areas=(2, 5)):
    """A problem of so many racks that begins on a day of the year.

    areas: m² of the smallest and the largest; up to 5 m² every task takes an hour, and the racks are alike but for what
    lies wet of them · cabinet: how many may be blasted at once in the workshop's own; 0 for visits to the yard.
    """
    air, grid, draw = Air(day), Grid(60, COUNT), np.random.default_rng(racks)
    drawn = draw.uniform(*areas, racks)
    chains, time_lags = zip(
        *(chain(air, grid, n + 1, area, cabinet, promised) for n, area in enumerate(drawn)), strict=True
    )
    days = [d for d in range(DAYS) if air.weekday[24 * d] < 6]
    return Problem(
        grid,
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
        tuple(VisitOffer(f"day {d + 1}", 24 * d + 8, 24 * d + 17, 45_000) for d in days),
    )
