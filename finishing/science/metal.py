"""The metal's own temperature: a casting lags behind the air, loses heat to a clear sky and gains it from the sun.

ρ·c·L·dT/dt = h·(T_air − T) + ε·σ·[F·(T_sky⁴ − T⁴) + (1 − F)·(T_air⁴ − T⁴)] + α·I·f

One temperature for the whole piece, which is fair while the Biot number h·L/k stays under 0.1 [INCROPERA]; a piece
with thin ribs on a heavy bed has several, and the heavy part is the one to ask for. L is volume by area that meets
the air: half the thickness of a plate. Not counted: the heat that dew gives off as it forms (a wet casting warms
a little sooner than said) and rain (a casting in rain is wet whatever its temperature).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from . import constants
from .heat import SECONDS, Course, bridged, radiative, through
from .hours import Floats, Hours
from .sky import lost_to_sky
from .sources import COMMON_PRACTICE, OUR_JUDGEMENT
from .units import units
from .validity import OutsideValidity, within
from .working import Working

HIGHEST_BIOT = 0.1
THINNEST, THICKEST = 0.1, 1000.0  # mm of volume by area
COLDEST, HOTTEST = -90.0, 1000.0  # °C of metal, from the coldest night on earth to a red heat
MILD = 10.0  # °C, for a lag told without weather


@dataclass(frozen=True)
class Material:
    """What a piece is made of: density kg/m³, heat capacity J/(kg·K), conductivity W/(m·K)."""

    name: str
    density: float
    heat_capacity: float
    conductivity: float


def _material(name: str, *properties: constants.Constant) -> Material:
    return Material(name, *(constant.value for constant in properties))


_c = constants
MATERIALS = {
    material.name: material
    for material in (
        _material("grey iron", _c.GREY_IRON_DENSITY, _c.GREY_IRON_HEAT_CAPACITY, _c.GREY_IRON_CONDUCTIVITY),
        _material("ductile iron", _c.DUCTILE_IRON_DENSITY, _c.DUCTILE_IRON_HEAT_CAPACITY, _c.DUCTILE_IRON_CONDUCTIVITY),
        _material("steel", _c.STEEL_DENSITY, _c.STEEL_HEAT_CAPACITY, _c.STEEL_CONDUCTIVITY),
        _material("brass", _c.BRASS_DENSITY, _c.BRASS_HEAT_CAPACITY, _c.BRASS_CONDUCTIVITY),
        _material("bronze", _c.BRONZE_DENSITY, _c.BRONZE_HEAT_CAPACITY, _c.BRONZE_CONDUCTIVITY),
        _material("aluminium", _c.ALUMINIUM_DENSITY, _c.ALUMINIUM_HEAT_CAPACITY, _c.ALUMINIUM_CONDUCTIVITY),
    )
}
GREY_IRON = MATERIALS["grey iron"]


@dataclass(frozen=True)
class Shelter:
    """How strongly a place couples metal to its air: W/(m²·K) when still, more by wind, radiation in it or not."""

    still: float
    by_wind: float
    emits: bool
    source: str

    def exchange(self, wind: Floats) -> Floats:
        """Coupling by hour; wind that is not known counts as still, which leaves the metal lagging longest."""
        return self.still + self.by_wind * np.nan_to_num(wind)


SHELTERS = {
    "still indoor": Shelter(constants.STILL_INDOOR_EXCHANGE.value, 0.0, False, "ISO-6946"),
    "indoor fan": Shelter(constants.FAN_EXCHANGE.value, 0.0, False, COMMON_PRACTICE),
    "outdoor": Shelter(constants.OUTDOOR_STILL.value, constants.OUTDOOR_BY_WIND.value, True, "ISO-6946"),
}


@dataclass(frozen=True)
class Body:
    """What a part is to heat: volume by area, and its material.

    assumed: the part says neither its mass and area nor its wall · beyond: they make it thicker than the lumped
    model reaches, so that a mistyped mass spoils an estimate and no page.
    """

    length_m: float
    material: Material
    assumed: bool = False
    beyond: bool = False

    @classmethod
    def of(cls, length_m: float, material: Material, assumed: bool = False) -> "Body":
        strongest = max(shelter.still for shelter in SHELTERS.values())
        thickest = min(THICKEST / 1000, HIGHEST_BIOT * material.conductivity / strongest)
        lumped = float(np.clip(length_m, THINNEST / 1000, thickest))
        return cls(lumped, material, assumed, beyond=length_m > thickest)


@units.wraps("second", ("meter", "watt / meter ** 2 / kelvin", "kilogram / meter ** 3", "joule / kilogram / kelvin"))
def time_constant(length: Any, exchange: Any, density: Any, heat_capacity: Any) -> Any:
    """Time in which a piece covers 63 % of the way to a new air temperature; 95 % takes three of them.

    τ = ρ·c·L / h
    Valid while the Biot number is under 0.1.  Source: [INCROPERA] ch. 5.

    >>> from finishing.science.units import Quantity as Q
    >>> plate = Q(12.5, "mm"), Q(8, "W/m^2/K"), Q(7200, "kg/m^3"), Q(460, "J/kg/K")
    >>> f"{time_constant(*plate).to('hour'):.2f~P}"
    '1.44 h'
    """
    return density * heat_capacity * np.asarray(length) / exchange


@units.wraps("", ("watt / meter ** 2 / kelvin", "meter", "watt / meter / kelvin"))
def biot_number(exchange: Any, length: Any, conductivity: Any) -> Any:
    """Whether a piece has one temperature: its own resistance to heat by that of the air around it.

    Bi = h·L / k      under 0.1 the piece is even to about 5 %
    Source: [INCROPERA] ch. 5.

    >>> from finishing.science.units import Quantity as Q
    >>> f"{biot_number(Q(8, 'W/m^2/K'), Q(12.5, 'mm'), Q(46, 'W/m/K')).magnitude:.4f}"
    '0.0022'
    """
    return exchange * np.asarray(length) / conductivity


@units.wraps("degC", ("degC", "degC", "second", "second"))
def temperature_after(start: Any, air: Any, elapsed: Any, time_constant: Any) -> Any:
    """Temperature of a piece some time after it was carried into steady air.

    T = T_a + (T_0 − T_a)·exp(−t/τ)
    Source: [INCROPERA] ch. 5.

    >>> from finishing.science.units import Quantity as Q
    >>> f"{temperature_after(Q(5, 'degC'), Q(18, 'degC'), Q(2.3, 'hour'), Q(2.3, 'hour')):.1f~P}"
    '13.2 °C'
    """
    return air + (np.asarray(start) - air) * np.exp(-np.asarray(elapsed) / time_constant)


@units.wraps("second", ("degC", "degC", "degC", "second"))
def time_to_reach(start: Any, air: Any, target: Any, time_constant: Any) -> Any:
    """How long a piece carried into steady air takes to a temperature on the way.

    t = τ·ln((T_a − T_0) / (T_a − T))
    Raises OutsideValidity where the target does not lie between start and air.  Source: [INCROPERA] ch. 5.

    >>> from finishing.science.units import Quantity as Q
    >>> f"{time_to_reach(Q(5, 'degC'), Q(18, 'degC'), Q(10.42, 'degC'), Q(2.3, 'hour')).to('hour'):.2f~P}"
    '1.24 h'
    """
    start, air, target = np.broadcast_arrays(np.asarray(start, float), air, target)
    missed = (target - start) * (air - target) < 0
    missed |= (target == air) & (start != air)
    if missed.any():
        low, high = sorted((float(start[missed][0]), float(air[missed][0])))
        raise OutsideValidity("target temperature", float(target[missed][0]), low, high, "°C", "INCROPERA")
    way = np.where(start == air, 1.0, (air - start) / np.where(air == target, 1.0, air - target))
    return (time_constant * np.log(way))[()]


def metal_temperature(
    hours: Hours,
    length_m: ArrayLike,
    start_temperature: ArrayLike | None = None,
    shelter: str = "outdoor",
    *,
    material: Material = GREY_IRON,
    sky: bool = False,
    sky_view: float = 0.5,
    emissivity: float = 0.9,
    absorptivity: float = 0.6,
    sunlit: float = 0.25,
    pinned: Mapping[float, ArrayLike] | None = None,
) -> Floats:
    """Temperature of pieces at the instant of each hour, °C: (n) for one length, (p, n) for p of them.

    length_m: volume by area, metres. start_temperature: °C at the first hour, one for all or one for each (NaN: not
    known); without it a piece begins in balance with the first known air, as if it had stood there for long.
    shelter: "outdoor" (wind from the hours), "still indoor" or "indoor fan".

    Only with sky=True, outdoors, in hours that are under the sky, do sky and sun take part: sky_view F (0.5 a piece
    in the open, 1.0 a flat top), emissivity ε (0.9 paint or rust), absorptivity α (0.6 bare iron, 0.9 dark paint),
    sunlit f (sunlit silhouette by whole area, 0.25 for a convex piece). A sky or sun that is not known neither cools
    nor warms: sky.careful and sky.warmest say what the hours may count on. Wind that is not known counts as still.

    pinned: {hours since the start: °C} for surfaces that were measured; from there on the metal follows the reading.
    A value may be one for each piece, NaN where that piece was not measured.

    Not known (NaN): wherever the air is not known, and after it until the air of the gap makes up less than 5 % of
    the metal's temperature (three time constants after a long gap, sooner after a short one in a heavy piece).

    Source: [INCROPERA] ch. 5; coupling [ISO-6946]; the sums by hour are ours, untested against castings.

    >>> warming = Hours.from_arrays(np.datetime64("2025-04-01T06"), temperature=[4, 5, 7, 9], humidity=[90, 90, 88, 85])
    >>> metal_temperature(warming, 0.025, shelter="still indoor").round(2).tolist()
    [4.0, 4.16, 4.71, 5.7]
    """
    lengths = np.asarray(length_m, float)
    shares = {"sky_view": sky_view, "emissivity": emissivity, "absorptivity": absorptivity, "sunlit": sunlit}
    met = course(hours, lengths.ravel(), shelter, material=material, sky=sky, **shares)
    readings = _readings(len(hours), len(met.store), start_temperature, pinned or {})
    temperatures, doubts = _march(met, readings)
    told = met.told(temperatures.T, doubts.T, slice(None))
    return told.reshape(*lengths.shape, len(hours))


def course(
    hours: Hours,
    lengths: Floats,
    shelter: str,
    *,
    material: Material = GREY_IRON,
    sky: bool = False,
    sky_view: float = 0.5,
    emissivity: float = 0.9,
    absorptivity: float = 0.6,
    sunlit: float = 0.25,
) -> Course:
    """What pieces of these lengths (p) meet in a place, hour by hour; the arguments are metal_temperature's."""
    place = _place(shelter)
    _check(lengths, place, material, sky_view=sky_view, emissivity=emissivity, absorptivity=absorptivity, sunlit=sunlit)
    loss, sun = np.zeros(len(hours)), np.zeros(len(hours))
    if sky and place.emits and hours.under_sky:
        loss = emissivity * sky_view * lost_to_sky(hours.temperature, hours.dew_point, hours.cloud)
        sun = absorptivity * sunlit * np.nan_to_num(hours.sun)
    return Course(
        air=bridged(hours.temperature),
        loss=np.nan_to_num(loss),
        sun=sun,
        convection=place.exchange(through(hours.wind)),
        emissivity=emissivity if place.emits else 0.0,
        air_known=~np.isnan(hours.temperature),
        known=~np.isnan(hours.temperature + loss),
        unknown=np.isnan(through(hours.temperature + loss)),
        store=material.density * material.heat_capacity * lengths,
    )


def still_exchange(shelter: str) -> float:
    """Coupling of a place in still air, its radiation at 10 °C with it, W/(m²·K).

    >>> round(still_exchange("outdoor"), 1)
    8.6
    """
    place = _place(shelter)
    return float(place.still + radiative(MILD, MILD, 0.9 if place.emits else 0.0))


def time_constant_working(length: Any, shelter: str, material: Material = GREY_IRON) -> Working:
    """What a page opens behind "this piece lags by…", in still air; the length is a quantity.

    >>> from finishing.science.units import Quantity as Q
    >>> time_constant_working(Q(25, "mm"), "still indoor").result
    '2.9 h'
    """
    thick, exchange = length.to("meter").magnitude, still_exchange(shelter)
    lag = material.density * material.heat_capacity * thick / exchange / SECONDS
    biot = biot_number.__wrapped__(exchange, thick, material.conductivity)
    return Working(
        name="Lag of the metal behind the air",
        formula="τ = ρ·c·L / h",
        inputs=(
            ("ρ", f"{material.density:g} kg/m³"),
            ("c", f"{material.heat_capacity:g} J/(kg·K)"),
            ("L, volume by area", f"{length.to('mm').magnitude:.1f} mm"),
            ("h, still air", f"{exchange:.1f} W/(m²·K)"),
            ("Biot number, h·L/k", f"{biot:.4f}"),
        ),
        result=f"{lag:.1f} h",
        source="INCROPERA",
        note="After this time 63 % of the way to the new air is done, after three times as long 95 %. One temperature"
        f" for the whole piece is fair while the Biot number is under {HIGHEST_BIOT:g}.",
    )


Readings = dict[int, list[tuple[float, Floats]]]


def _march(run: Course, readings: Readings) -> tuple[Floats, Floats]:
    temperatures = np.empty((len(run.air), len(run.store)))
    doubts = np.empty_like(temperatures)
    metal, doubt, met = np.full(len(run.store), run.air[0]), np.ones(len(run.store)), np.zeros(len(run.store), bool)
    first = int(np.argmax(run.known)) if run.known.any() else -1
    for hour in range(len(run.air)):
        if hour:
            metal, doubt = run.step(metal, doubt, hour - 1)
        if hour == first:  # a piece that was not measured before stands in balance with it
            metal, doubt = np.where(met, metal, run.balance(hour)), np.where(met, doubt, 0.0)
        for begin, reading in readings.get(hour, ()):
            measured = (reading, np.zeros_like(doubt)) if begin == 1 else run.step(reading, 0.0, hour - 1, begin)
            taken = ~np.isnan(reading)
            met = met | taken
            metal, doubt = np.where(taken, measured[0], metal), np.where(taken, measured[1], doubt)
        temperatures[hour], doubts[hour] = metal, doubt
    return temperatures, doubts


def _readings(count: int, pieces: int, start: ArrayLike | None, pinned: Mapping[float, ArrayLike]) -> Readings:
    """Measured surfaces by the instant that follows them, each with where in that hour it was taken (1: its end)."""
    first = {} if start is None else {0.0: start}
    found: Readings = {}
    for position, reading in sorted({**first, **pinned}.items()):
        within("hour of a measured surface", position, 0, count - 1, "h", OUR_JUDGEMENT)
        within("temperature of the metal", reading, COLDEST, HOTTEST, "°C", OUR_JUDGEMENT)
        instant = math.ceil(position)
        values = np.broadcast_to(np.asarray(reading, float), pieces)
        found.setdefault(instant, []).append((1 - (instant - position), values))
    return found


def _place(shelter: str) -> Shelter:
    if shelter not in SHELTERS:
        raise ValueError(f"no shelter is called {shelter!r}; there are {', '.join(SHELTERS)}")
    return SHELTERS[shelter]


def _check(lengths: Floats, place: Shelter, material: Material, **shares: float) -> None:
    within("volume by area", 1000 * lengths, THINNEST, THICKEST, "mm", OUR_JUDGEMENT)
    # Judged in still air: in a gale the rule is broken for hours, when metal and air are closest anyway.
    biot = biot_number.__wrapped__(place.still, lengths, material.conductivity)
    within("Biot number", biot, 0.0, HIGHEST_BIOT, "", "INCROPERA")
    for name, share in shares.items():
        within(name.replace("_", " "), share, 0.0, 1.0, "", OUR_JUDGEMENT)
