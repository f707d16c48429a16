"""How much a part weighs and how much skin it has: measures as typed → science's area, mass and their working."""

from dataclasses import dataclass

from finishing.science import surface
from finishing.science.film import loss_of
from finishing.science.mesh import Mesh, Unpainted
from finishing.science.surface import SHAPES, Range
from finishing.science.units import Quantity
from finishing.science.working import Working

TYPED = "typed"
PAINT_USED = "paint used"


@dataclass(frozen=True)
class Size:
    """A part's painted area with where it comes from; its mass where the shape tells it."""

    area: Quantity | None = None
    basis: str = ""
    mass: Quantity | None = None
    workings: tuple[Working, ...] = ()


def measures_of(way: str) -> dict[str, str]:
    """What must be measured for this way to an area, and the unit each is usually given in."""
    if way == PAINT_USED:
        return {"paint": "L", "wet_film_low": "µm", "wet_film_high": "µm"}
    return SHAPES[way].measures if way in SHAPES else {}


def size_by_shape(shape: str, measures: dict[str, Quantity], material: str, texture: str, ribbing: str) -> Size:
    """Area of one of science's SHAPES, with foundry skin and ribs; raises OutsideValidity for an impossible measure."""
    density = surface.density_of(material)
    given = {**measures, "density": density} if "density" in SHAPES[shape].measures else measures
    drawn, volume = SHAPES[shape].function(**given)
    shares = Quantity(surface.TEXTURES[texture], "percent"), Quantity(surface.RIBBING[ribbing], "percent")
    workings = [surface.shape_working(shape, **given)]
    if any(share.magnitude for share in shares):
        workings.append(surface.painted_area_working(drawn, *shares))
    return Size(
        area=surface.painted_area(drawn, *shares),
        basis="; ".join([f"{shape}: {_told(measures)}", *_added(texture, shares[0]), *_added(ribbing, shares[1])]),
        mass=measures.get("mass") or _weight(volume, density),
        workings=tuple(workings),
    )


def size_by_mesh(mesh: Mesh, left_out: Unpainted, words: str, file: str, material: str, texture: str) -> Size:
    """A drawn or scanned part, without the faces left out, with foundry skin; its mass where the mesh is closed."""
    drawn, density = Quantity(mesh.painted(left_out), "m**2"), surface.density_of(material)
    share = Quantity(surface.TEXTURES[texture], "percent")
    closed = mesh.closed
    inputs = [
        ("faces", f"{len(mesh.faces)}"),
        ("area of all of them", f"{mesh.area:.4g} m²"),
        ("left out", words or "nothing"),
        ("volume V", f"{mesh.volume * 1000:.4g} L" if closed else "not known: the mesh is open"),
        ("mean wall 2·V/A", f"{mesh.mean_wall * 1000:.4g} mm" if closed else "not known"),
    ]
    workings = [
        Working("painted area, from the mesh", "A = Σ |a × b| / 2", tuple(inputs), f"{drawn:.4g~P}", "GEOMETRY")
    ]
    if share.magnitude:
        workings.append(surface.painted_area_working(drawn, share, Quantity(0, "percent")))
    return Size(
        area=surface.painted_area(drawn, share, Quantity(0, "percent")),
        basis="; ".join([f"mesh {file[:80]}", *([f"without {words}"] if words else []), *_added(texture, share)]),
        mass=_weight(Quantity(mesh.volume, "m**3"), density),
        workings=tuple(workings),
    )


def size_by_paint(paint: Quantity, wet_film_low: Quantity, wet_film_high: Quantity) -> Size:
    """The workshop's own way: brushed paint that went on at a film read between two teeth of the comb."""
    film = Range(wet_film_low, (wet_film_low + wet_film_high) / 2, wet_film_high)
    area = surface.area_from_paint(paint, film, loss_of("brush"))
    basis = f"paint used: {paint:.4g~P} brushed at {wet_film_low:.3g~P} to {wet_film_high:.3g~P} wet"
    spread = f"; {area.low:.3g~P} to {area.high:.3g~P}"
    return Size(area.likely, basis + spread, None, (surface.covered_area_working(paint, film, loss_of("brush")),))


def _told(measures: dict[str, Quantity]) -> str:
    return ", ".join(f"{name.replace('_', ' ')} {value:.4g~P}" for name, value in measures.items())


def _added(word: str, share: Quantity) -> list[str]:
    return [f"{word} +{share.magnitude:g} %"] if share.magnitude else []


def _weight(volume: Quantity, density: Quantity) -> Quantity | None:
    return surface.mass(volume, density) if volume == volume else None  # a volume not known is NaN
