"""Air and bare iron: may I paint now, how long may it stay bare, when is a cold casting fit to paint."""

from typing import Any

import numpy as np
from django import forms

from finishing.science import air, rust, windows
from finishing.science import metal as metals
from finishing.science.hours import Hours
from finishing.science.units import Quantity
from finishing.science.validity import within
from finishing.site.fields import QuantityFormField

from .choices import ChosenPaint, PaintField
from .question import Answer, Question, one_of

GROUP = "Air and bare iron"
SOME_DAY = np.datetime64("2001-01-01T00")  # steady air has no date
WATCHED = 96  # h of it, more than the hard cap


def degrees(label: str, example: float | None = None, **kwargs: Any) -> QuantityFormField:
    initial = None if example is None else Quantity(example, "degC")
    return QuantityFormField(label=label, unit="°C", minimum=-30, maximum=50, initial=initial, **kwargs)


def humidity(example: float) -> QuantityFormField:
    return QuantityFormField(
        label="Humidity of the air", unit="%", minimum=1, maximum=100, initial=Quantity(example, "percent")
    )


def steady(temperature: Quantity, damp: Quantity, count: int = WATCHED) -> Hours:
    """Dry hours of unchanging air."""
    return Hours.from_arrays(
        SOME_DAY, temperature=[temperature.magnitude] * count, humidity=damp.to("percent").magnitude, rain=0
    )


class MayIPaint(Question):
    name = "dew-point"
    title = "May I paint now?"
    about = "Dew point, and how far the metal is from sweating, against the limits of the paint."
    group = GROUP

    temperature = degrees("Air", 18)
    humidity = humidity(70)
    metal = degrees("Metal, at its coldest spot", 14, required=False)
    paint = PaintField(none="any paint: the usual limits", required=False)

    def work_out(
        self, temperature: Quantity, humidity: Quantity, metal: Quantity | None, paint: ChosenPaint | None
    ) -> Answer:
        gates = paint.coating.gates() if paint else windows.Gates()
        dew = air.dew_point(temperature, humidity)
        answer = {
            "dew_point": dew,
            "lowest_metal": dew + Quantity(gates.margin, "delta_degC"),
            "gates": gates,
            "paint": paint,
            "workings": [air.dew_point_working(temperature, humidity)],
        }
        return answer if metal is None else answer | self._at_the_metal(temperature, humidity, metal, gates, dew)

    def _at_the_metal(
        self, temperature: Quantity, humidity: Quantity, metal: Quantity, gates: windows.Gates, dew: Quantity
    ) -> Answer:
        hour = steady(temperature, humidity, count=1)
        refused = int(windows.weather_reasons(hour, [metal.magnitude], gates)[0])
        margin = air.margin(metal, dew)
        return {
            "refused": refused,
            "may": not refused,
            "wet": bool(margin.magnitude <= 0),
            "margin": margin,
            "at_the_metal": air.humidity_at_surface(metal, dew).to("percent"),
            "workings": [air.dew_point_working(temperature, humidity), air.margin_working(metal, dew)],
        }


class BareIron(Question):
    name = "bare-iron"
    begins_with = frozenset({"tightening"})
    title = "How long may blasted iron stay bare?"
    about = "A budget for flash rust in steady air: dampness at the metal and salts in it spend it."
    group = GROUP

    temperature = degrees("Air", 20)
    humidity = humidity(55)
    metal = degrees("Metal", 16, required=False, help_text="Empty: as warm as the air. Castings are often colder.")
    salt = forms.ChoiceField(
        label="Salts in the iron",
        choices=[(level.name, f"{level.name}: {level.example}") for level in rust.SALT_LEVELS.values()],
        initial=rust.UNKNOWN.name,
    )
    tightening = QuantityFormField(
        label="Share of the hours you allow yourself",
        unit="%",
        minimum=5,
        maximum=100,
        initial=Quantity(100, "percent"),
        help_text="100 % keeps the table; 50 % halves every time.",
    )
    wet_work = forms.BooleanField(label="Blasted wet, or washed", required=False)

    def work_out(
        self,
        temperature: Quantity,
        humidity: Quantity,
        metal: Quantity | None,
        salt: str,
        tightening: Quantity,
        wet_work: bool,
    ) -> Answer:
        surface = temperature if metal is None else metal
        level, share = rust.SALT_LEVELS[salt], float(tightening.to("").magnitude)
        dew = air.dew_point(temperature, humidity)
        exposure = rust.Exposure(salt_shift=level.shift, tightening=share, wet_work=wet_work)
        window = rust.coat_before(steady(temperature, humidity), np.full(WATCHED, surface.magnitude, float), exposure)
        # iron this warm would keep for a day: the band below half, after the salts' shift
        damp = rust.BANDS[1].below - level.shift
        warm_to = rust.warm_iron_to(dew, Quantity(damp, "percent")) if np.isfinite(damp) else None
        return {
            "hours": float(window.coat_before),
            "because": rust.Because(int(window.because)).name,
            "amber_from": float(window.amber_from),
            "look_every": rust.LOOK_EVERY.value,
            "wet_work": wet_work,
            "measured": _as_typed(temperature, humidity, metal),
            "at_the_metal": air.humidity_at_surface(surface, dew).to("percent"),
            "dew_point": dew,
            "warm_to": warm_to,
            "cautions": rust.CAUTIONS,
            "workings": [
                air.dew_point_working(temperature, humidity),
                rust.hours_allowed_working(surface, dew, level, share),
            ],
        }


def _as_typed(temperature: Quantity, humidity: Quantity, metal: Quantity | None) -> dict[str, str]:
    """What was measured, by the names and in the words of an entry into the log."""
    celsius = {"air_temperature": temperature, "surface_temperature": metal}
    typed = {name: f"{value.to('degC').magnitude:.2f} °C" for name, value in celsius.items() if value is not None}
    return {**typed, "humidity": f"{humidity.to('percent').magnitude:.2f} %"}


class WarmingUp(Question):
    name = "cold-casting"
    begins_with = frozenset({"margin"})
    title = "When is a cold casting fit to paint?"
    about = "How long iron carried into a warm shop stays wet, and when it is clear of its dew point."
    group = GROUP
    boxes = {"volume by area": "wall", "Biot number": "wall"}

    metal = degrees("Casting, when brought in", 5)
    temperature = degrees("Air of the shop", 18)
    humidity = humidity(50)
    wall = QuantityFormField(
        label="Wall of its heaviest part",
        unit="mm",
        minimum=1,
        maximum=1000,
        initial=Quantity(40, "mm"),
        help_text="Air on both faces. For a solid round bar give half its diameter.",
    )
    material = one_of("Metal", metals.MATERIALS)
    shelter = forms.ChoiceField(
        label="Air in the shop",
        choices=[("still indoor", "still"), ("indoor fan", "moved by a fan or open doors")],
        initial="still indoor",
    )
    margin = QuantityFormField(
        label="Margin wanted above the dew point",
        unit="delta°C",
        minimum=0,
        maximum=20,
        initial=Quantity(windows.Gates().margin, "delta_degC"),
    )

    def work_out(
        self,
        metal: Quantity,
        temperature: Quantity,
        humidity: Quantity,
        wall: Quantity,
        material: str,
        shelter: str,
        margin: Quantity,
    ) -> Answer:
        iron, length = metals.MATERIALS[material], wall / 2  # air on both faces
        lag = _lag(iron, length, shelter)
        dew = air.dew_point(temperature, humidity)
        ready = _until(metal, temperature, dew + margin, lag)
        return {
            "dew_point": dew,
            "wanted": dew + margin,
            "wet_for": _until(metal, temperature, dew, lag),
            "ready_after": ready,
            "never": ready == float("inf"),
            "lag": lag,
            "course": [_moment(hours, metal, temperature, dew, lag) for hours in (0, 1, 2, 4, 8, 12, 24)],
            "workings": [
                air.dew_point_working(temperature, humidity),
                metals.time_constant_working(length, shelter, iron),
            ],
        }


def _lag(material: metals.Material, length: Quantity, shelter: str) -> Quantity:
    exchange = Quantity(metals.SHELTERS[shelter].still, "W/m**2/K")
    biot = metals.biot_number(exchange, length, Quantity(material.conductivity, "W/m/K")).magnitude
    within("Biot number", biot, 0, metals.HIGHEST_BIOT, "", "INCROPERA")
    density, capacity = Quantity(material.density, "kg/m**3"), Quantity(material.heat_capacity, "J/kg/K")
    return metals.time_constant(length, exchange, density, capacity).to("hour")


def _until(metal: Quantity, temperature: Quantity, target: Quantity, lag: Quantity) -> float:
    """Hours until the metal is as warm as that: 0 where it is already, inf where this air never warms it so far."""
    if metal >= target:
        return 0.0
    if temperature <= target:
        return float("inf")
    return float(metals.time_to_reach(metal, temperature, target, lag).to("hour").magnitude)


def _moment(hours: float, metal: Quantity, temperature: Quantity, dew: Quantity, lag: Quantity) -> Answer:
    then = metals.temperature_after(metal, temperature, Quantity(hours, "hour"), lag)
    return {"hours": hours, "metal": then, "margin": air.margin(then, dew)}
