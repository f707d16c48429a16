"""Area and mass of a part: from shapes and sections, from what it weighs, from the paint that went on.

A casting that nobody can unroll is still weighed, and a painter who reads a wet-film comb knows how far a litre went.
Every shape answers with (area, volume), volume NaN where the measures do not tell it. What is not known to a point
is a `Range`. Shapes take single values; areas by mass and the factors take arrays as well.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot, nan, pi, sqrt
from typing import Any

from . import constants
from .sources import COMMON_PRACTICE, OUR_JUDGEMENT
from .units import Quantity, units
from .validity import within
from .working import Working

SMALLEST, LARGEST = 1e-4, 100.0  # m: thinner is foil, longer is not a part
LIGHTEST, HEAVIEST = 1e-3, 1e5  # kg
LEAST_DENSITY, MOST_DENSITY = 500.0, 20_000.0  # kg/m³: from paint to lead and beyond
LEAST_AREA, MOST_AREA = 1e-6, 1e4  # m²

DENSITIES = {
    "grey iron": constants.GREY_IRON_DENSITY,
    "ductile iron": constants.DUCTILE_IRON_DENSITY,
    "steel": constants.STEEL_DENSITY,
    "brass": constants.BRASS_DENSITY,
    "bronze": constants.BRONZE_DENSITY,
    "aluminium": constants.ALUMINIUM_DENSITY,
}


@dataclass(frozen=True)
class Range:
    """A value not known to a point: low, likely, high, all in one unit."""

    low: Any
    likely: Any
    high: Any

    def __post_init__(self) -> None:
        if self.low > self.likely or self.likely > self.high:
            raise ValueError(f"a range runs low, likely, high; not {self.low}, {self.likely}, {self.high}")

    @classmethod
    def of(cls, value: Any) -> "Range":
        """A value known to a point is a range of itself."""
        return value if isinstance(value, Range) else cls(value, value, value)

    def __add__(self, other: "Range") -> "Range":
        return Range(self.low + other.low, self.likely + other.likely, self.high + other.high)


def _sizes(**sizes: Any) -> None:
    for name, size in sizes.items():
        within(name.replace("_", " "), size, SMALLEST, LARGEST, "m", OUR_JUDGEMENT)


def _weighed(mass: Any, density: Any) -> None:
    within("mass", mass, LIGHTEST, HEAVIEST, "kg", OUR_JUDGEMENT)
    within("density", density, LEAST_DENSITY, MOST_DENSITY, "kg/m³", OUR_JUDGEMENT)


@units.wraps(("m**2", "m**3"), ("m", "m", "m"))
def box(length: Any, width: Any, height: Any) -> tuple[Any, Any]:
    """All six faces.   A = 2·(l·w + w·h + l·h),  V = l·w·h      Source: [GEOMETRY].

    >>> area, volume = box(Quantity(400, "mm"), Quantity(300, "mm"), Quantity(200, "mm"))
    >>> f"{area:.3f~P}, {volume.to('L'):.0f~P}"
    '0.520 m², 24 L'
    """
    _sizes(length=length, width=width, height=height)
    return 2 * (length * width + width * height + length * height), length * width * height


@units.wraps(("m**2", "m**3"), ("m", "m"))
def cylinder(diameter: Any, length: Any) -> tuple[Any, Any]:
    """Side and both ends.   A = π·d·l + π·d²/2,  V = π·d²·l/4      Source: [GEOMETRY].

    >>> f"{cylinder(Quantity(100, 'mm'), Quantity(1, 'm'))[0]:.4f~P}"
    '0.3299 m²'
    """
    _sizes(diameter=diameter, length=length)
    return pi * diameter * length + pi * diameter**2 / 2, pi * diameter**2 * length / 4


@units.wraps(("m**2", "m**3"), ("m", "m"))
def round_side(diameter: Any, length: Any) -> tuple[Any, Any]:
    """Outside of a round bar or pipe, without its ends; what is inside is not told.   A = π·d·l

    Source: [GEOMETRY].

    >>> f"{round_side(Quantity(114.3, 'mm'), Quantity(1200, 'mm'))[0]:.4f~P}"
    '0.4309 m²'
    """
    _sizes(diameter=diameter, length=length)
    return pi * diameter * length, nan


@units.wraps(("m**2", "m**3"), ("m", "m", "m"))
def tube(outer_diameter: Any, wall: Any, length: Any) -> tuple[Any, Any]:
    """Outside, inside and both end rings.      Source: [GEOMETRY].

    A = π·(D + d)·l + (π/2)·(D² − d²),  V = (π/4)·(D² − d²)·l,  d = D − 2·wall

    >>> f"{tube(Quantity(114.3, 'mm'), Quantity(6, 'mm'), Quantity(1200, 'mm'))[0]:.4f~P}"
    '0.8206 m²'
    """
    _sizes(outer_diameter=outer_diameter, wall=wall, length=length)
    within("wall", wall, SMALLEST, outer_diameter / 2, "m", "GEOMETRY")
    bore = outer_diameter - 2 * wall
    end_ring = pi / 4 * (outer_diameter**2 - bore**2)
    return pi * (outer_diameter + bore) * length + 2 * end_ring, end_ring * length


@units.wraps(("m**2", "m**3"), ("m", "m", "m"))
def rim(outer_diameter: Any, width: Any, thickness: Any) -> tuple[Any, Any]:
    """A wheel's rim or any ring, all round: a short tube of radial thickness t.      Source: [GEOMETRY].

    A = π·(D + D − 2t)·w + (π/2)·(D² − (D − 2t)²),  V = π·(D − t)·t·w

    >>> f"{rim(Quantity(600, 'mm'), Quantity(50, 'mm'), Quantity(20, 'mm'))[0]:.4f~P}"
    '0.2551 m²'
    """
    _sizes(outer_diameter=outer_diameter, width=width, thickness=thickness)
    within("thickness", thickness, SMALLEST, outer_diameter / 2, "m", "GEOMETRY")
    area, volume = tube.__wrapped__(outer_diameter, thickness, width)
    return area, volume


@units.wraps(("m**2", "m**3"), ("m", "m", "m"))
def frustum(wide_diameter: Any, narrow_diameter: Any, height: Any) -> tuple[Any, Any]:
    """Side of a cone cut short, without its ends; narrow 0 is a whole cone.      Source: [GEOMETRY].

    A = π·(R + r)·√((R − r)² + h²),  V = π·h·(R² + R·r + r²)/3

    >>> f"{frustum(Quantity(400, 'mm'), Quantity(200, 'mm'), Quantity(300, 'mm'))[0]:.4f~P}"
    '0.2980 m²'
    """
    _sizes(wide_diameter=wide_diameter, height=height)
    within("narrow diameter", narrow_diameter, 0, wide_diameter, "m", "GEOMETRY")
    wide, narrow = wide_diameter / 2, narrow_diameter / 2
    side = pi * (wide + narrow) * hypot(wide - narrow, height)
    return side, pi * height * (wide**2 + wide * narrow + narrow**2) / 3


@units.wraps(("m**2", "m**3"), ("m",))
def sphere(diameter: Any) -> tuple[Any, Any]:
    """A = π·d²,  V = π·d³/6      Source: [GEOMETRY].

    >>> f"{sphere(Quantity(100, 'mm'))[0]:.4f~P}"
    '0.0314 m²'
    """
    _sizes(diameter=diameter)
    return pi * diameter**2, pi * diameter**3 / 6


@units.wraps(("m**2", "m**3"), ("m", "m"))
def torus(middle_diameter: Any, bar_diameter: Any) -> tuple[Any, Any]:
    """A handwheel's rim of round bar; D is measured to the middle of the bar.      Source: [GEOMETRY].

    A = 4π²·R·a = π²·D·d,  V = 2π²·R·a² = π²·D·d²/4

    >>> f"{torus(Quantity(300, 'mm'), Quantity(25, 'mm'))[0]:.4f~P}"
    '0.0740 m²'
    """
    _sizes(middle_diameter=middle_diameter, bar_diameter=bar_diameter)
    within("bar diameter", bar_diameter, SMALLEST, middle_diameter, "m", "GEOMETRY")
    area = pi**2 * middle_diameter * bar_diameter
    return area, area * bar_diameter / 4


@units.wraps(("m**2", "m**3"), ("m", "m"))
def hexagon(across_flats: Any, length: Any) -> tuple[Any, Any]:
    """Six flats of a hexagon bar, without its ends.   A = 2√3·s·l,  V = (√3/2)·s²·l      Source: [GEOMETRY].

    >>> f"{hexagon(Quantity(30, 'mm'), Quantity(200, 'mm'))[0]:.4f~P}"
    '0.0208 m²'
    """
    _sizes(across_flats=across_flats, length=length)
    return 2 * sqrt(3) * across_flats * length, sqrt(3) / 2 * across_flats**2 * length


@units.wraps(("m**2", "m**3"), ("m", "m"))
def section(perimeter: Any, length: Any) -> tuple[Any, Any]:
    """Any rolled or cast section by its perimeter, without its ends.   A = P·l      Source: [GEOMETRY].

    >>> f"{section(Quantity(200, 'mm'), Quantity(2.5, 'm'))[0]:.2f~P}"
    '0.50 m²'
    """
    _sizes(perimeter=perimeter, length=length)
    return perimeter * length, nan


@units.wraps(("m**2", "m**3"), ("kg", "m", "m**2", "kg/m**3"))
def weighed_section(mass: Any, perimeter: Any, cross_section: Any, density: Any) -> tuple[Any, Any]:
    """Bars by weight, from the section's perimeter and area.   A = m·P/(ρ·A_sec),  V = m/ρ

    Source: [GEOMETRY].

    >>> round_inch = Quantity(79.8, "mm"), Quantity(506.7, "mm**2")
    >>> f"{weighed_section(Quantity(10, 'kg'), *round_inch, density_of('steel'))[0]:.4f~P}"
    '0.2006 m²'
    """
    _weighed(mass, density)
    _sizes(perimeter=perimeter)
    within("cross section", cross_section, SMALLEST**2, MOST_AREA, "m²", OUR_JUDGEMENT)
    return mass * perimeter / (density * cross_section), mass / density


@units.wraps(("m**2", "m**3"), ("kg", "m", "kg/m**3"))
def casting(mass: Any, wall: Any, density: Any) -> tuple[Any, Any]:
    """Both faces of a casting that is weighed and whose mean wall is known.   A = 2·m/(ρ·t),  V = m/ρ

    The edges are left out, so it holds while the wall is thin against the part.      Source: [GEOMETRY].

    >>> f"{casting(Quantity(60, 'kg'), Quantity(12, 'mm'), density_of('grey iron'))[0]:.3f~P}"
    '1.389 m²'
    """
    _weighed(mass, density)
    _sizes(wall=wall)
    return 2 * mass / (density * wall), mass / density


@units.wraps(("m**2", "m**3"), ("kg", "m", "m", "kg/m**3"))
def weighed_bar(mass: Any, width: Any, thickness: Any, density: Any) -> tuple[Any, Any]:
    """A compact flat bar by weight: its two edges count too.   A = 2·m/(ρ·t)·(1 + t/w),  V = m/ρ

    Source: [GEOMETRY].

    >>> f"{weighed_bar(Quantity(3.14, 'kg'), Quantity(40, 'mm'), Quantity(10, 'mm'), density_of('steel'))[0]:.3f~P}"
    '0.100 m²'
    """
    _sizes(width=width, thickness=thickness)
    faces, volume = casting.__wrapped__(mass, thickness, density)
    return faces * (1 + thickness / width), volume


@dataclass(frozen=True)
class Shape:
    """A shape as a page can offer it: the function, the unit each measure is usually given in, what is painted."""

    function: Callable[..., tuple[Any, Any]]
    measures: dict[str, str]  # parameter → usual unit
    formula: str


SHAPES = {
    "casting by weight and wall": Shape(casting, {"mass": "kg", "wall": "mm", "density": "kg/m**3"}, "A = 2·m/(ρ·t)"),
    "flat bar by weight": Shape(
        weighed_bar,
        {"mass": "kg", "width": "mm", "thickness": "mm", "density": "kg/m**3"},
        "A = 2·m/(ρ·t)·(1 + t/w)",
    ),
    "section by weight": Shape(
        weighed_section,
        {"mass": "kg", "perimeter": "mm", "cross_section": "mm**2", "density": "kg/m**3"},
        "A = m·P/(ρ·A_sec)",
    ),
    "section by length": Shape(section, {"perimeter": "mm", "length": "mm"}, "A = P·l, ends left out"),
    "box": Shape(box, {"length": "mm", "width": "mm", "height": "mm"}, "A = 2·(l·w + w·h + l·h)"),
    "cylinder": Shape(cylinder, {"diameter": "mm", "length": "mm"}, "A = π·d·l + π·d²/2"),
    "round bar or pipe, outside": Shape(round_side, {"diameter": "mm", "length": "mm"}, "A = π·d·l, ends left out"),
    "tube, inside and out": Shape(
        tube, {"outer_diameter": "mm", "wall": "mm", "length": "mm"}, "A = π·(D + d)·l + (π/2)·(D² − d²)"
    ),
    "rim or ring": Shape(
        rim,
        {"outer_diameter": "mm", "width": "mm", "thickness": "mm"},
        "A = π·(2D − 2t)·w + (π/2)·(D² − (D − 2t)²)",
    ),
    "cone or frustum, side": Shape(
        frustum,
        {"wide_diameter": "mm", "narrow_diameter": "mm", "height": "mm"},
        "A = π·(R + r)·√((R − r)² + h²)",
    ),
    "sphere": Shape(sphere, {"diameter": "mm"}, "A = π·d²"),
    "handwheel rim of round bar": Shape(torus, {"middle_diameter": "mm", "bar_diameter": "mm"}, "A = π²·D·d"),
    "hexagon bar": Shape(hexagon, {"across_flats": "mm", "length": "mm"}, "A = 2√3·s·l, ends left out"),
}


def shape_working(name: str, **measures: Any) -> Working:
    """How the area of one of the SHAPES was made.      Source: [GEOMETRY].

    >>> shape_working("sphere", diameter=Quantity(100, "mm")).result
    '0.03142 m²'
    """
    shape = SHAPES[name]
    area, _ = shape.function(**measures)
    inputs = tuple((measure.replace("_", " "), f"{value:.4g~P}") for measure, value in measures.items())
    return Working(f"painted area, {name}", shape.formula, inputs, f"{area:.4g~P}", "GEOMETRY")


def density_of(material: str) -> Any:
    """Density of a metal of DENSITIES, as a quantity.      Source: [METAL-DENSITIES].

    >>> f"{density_of('grey iron'):.0f~P}"
    '7200 kg/m³'
    """
    return Quantity(DENSITIES[material].value, DENSITIES[material].unit)


@units.wraps("kg", ("m**3", "kg/m**3"))
def mass(volume: Any, density: Any) -> Any:
    """m = ρ·V, of iron and of paint alike; a volume not known (NaN) is a mass not known.      Source: [GEOMETRY].

    >>> f"{mass(Quantity(5, 'L'), Quantity(1.35, 'kg/L')):.2f~P}"
    '6.75 kg'
    """
    within("volume", volume, 0, MOST_AREA, "m³", OUR_JUDGEMENT)
    within("density", density, LEAST_DENSITY, MOST_DENSITY, "kg/m³", OUR_JUDGEMENT)
    return volume * density


@units.wraps("m", ("kg", "kg/m**3", "m**2"))
def characteristic_length(mass: Any, density: Any, area: Any) -> Any:
    """Volume behind each square metre of skin, which tells how slowly a part follows the air.   L = m/(ρ·A)

    Takes arrays, one value a piece.      Source: [GEOMETRY].

    >>> L = characteristic_length(Quantity(60, "kg"), density_of("grey iron"), Quantity(1.389, "m**2"))
    >>> f"{L.to('mm'):.1f~P}"
    '6.0 mm'
    """
    _weighed(mass, density)
    within("area", area, LEAST_AREA, MOST_AREA, "m²", OUR_JUDGEMENT)
    return mass / (density * area)


TEXTURES = {"machined or rolled": 0.0, "foundry skin": 5.0}  # % more area than drawn   Source: COMMON_PRACTICE
RIBBING = {"plain": 0.0, "some ribs and bosses": 10.0, "ribbed": 17.5, "ribbed all over": 25.0}  # %


@units.wraps("m**2", ("m**2", "percent", "percent"))
def painted_area(area: Any, texture: Any, ribbing: Any) -> Any:
    """What the brush meets, from what the drawing says.   A' = A·(1 + texture)·(1 + ribbing)

    The shares are those of TEXTURES and RIBBING or the workshop's own, to 50 %.      Source: [common practice].

    >>> f"{painted_area(Quantity(1.389, 'm**2'), Quantity(5, 'percent'), Quantity(10, 'percent')):.3f~P}"
    '1.604 m²'
    """
    within("area", area, LEAST_AREA, MOST_AREA, "m²", OUR_JUDGEMENT)
    within("texture", texture, 0, 50, "%", COMMON_PRACTICE)
    within("ribbing", ribbing, 0, 50, "%", COMMON_PRACTICE)
    return area * (1 + texture / 100) * (1 + ribbing / 100)


def painted_area_working(area: Any, texture: Any, ribbing: Any) -> Working:
    """How `painted_area` came about."""
    inputs = (("area", f"{area:.4g~P}"), ("texture", f"{texture:.3g~P}"), ("ribbing", f"{ribbing:.3g~P}"))
    result = f"{painted_area(area, texture, ribbing):.4g~P}"
    return Working("area with texture and ribs", "A' = A·(1 + texture)·(1 + ribbing)", inputs, result, COMMON_PRACTICE)


@units.wraps("m**2", ("L", "µm", "percent"))
def covered_area(paint: Any, wet_film: Any, loss: Any) -> Any:
    """How far paint went, as it was thinned, at a wet film.   A = V·(1 − loss)/w      Source: [SPREADING-RATE].

    >>> f"{covered_area(Quantity(0.5, 'L'), Quantity(100, 'µm'), Quantity(10, 'percent')):.2f~P}"
    '4.50 m²'
    """
    within("paint used", paint, 1e-3, 1e4, "L", OUR_JUDGEMENT)
    within("wet film", wet_film, 5, 3000, "µm", OUR_JUDGEMENT)
    within("loss", loss, 0, 95, "%", OUR_JUDGEMENT)
    return 1000 * paint * (1 - loss / 100) / wet_film  # 1 L is 1000 m²·µm


def area_from_paint(paint: Any, wet_film: Any, loss: Any) -> Range:
    """The workshop's own way to an area: what was used, what the comb read, what was lost; each may be a `Range`.

    A comb says between which two teeth the film lies: give both as low and high. Much lost on a thick film means
    little area, so the range turns round.      Source: [SPREADING-RATE].

    >>> comb = Range(Quantity(75, "µm"), Quantity(87.5, "µm"), Quantity(100, "µm"))
    >>> brush = Range(Quantity(5, "percent"), Quantity(10, "percent"), Quantity(15, "percent"))
    >>> area = area_from_paint(Quantity(0.45, "L"), comb, brush)
    >>> f"{area.low:.2f~P} to {area.high:.2f~P}, likely {area.likely:.2f~P}"
    '3.83 m² to 5.70 m², likely 4.63 m²'
    """
    used, film, lost = Range.of(paint), Range.of(wet_film), Range.of(loss)
    return Range(
        covered_area(used.low, film.high, lost.high),
        covered_area(used.likely, film.likely, lost.likely),
        covered_area(used.high, film.low, lost.low),
    )


def covered_area_working(paint: Any, wet_film: Range, loss: Range) -> Working:
    """How `area_from_paint` came about."""
    area = area_from_paint(paint, wet_film, loss)
    told = {"wet film": wet_film, "loss": loss}
    films = tuple((name, f"{spread.low:.3g~P} to {spread.high:.3g~P}") for name, spread in told.items())
    inputs = (("paint used", f"{paint:.3g~P}"), *films)
    result = f"{area.likely:.4g~P} ({area.low:.4g~P} to {area.high:.4g~P})"
    return Working("area from the paint that went on", "A = V·(1 − loss)/w", inputs, result, "SPREADING-RATE")
