"""Area, volume and mean wall of a part from a mesh of triangles, as it was drawn or scanned.

Points in metres, an array of n × 3; faces are three indices of points each, an array of m × 3, turned so that they look
outwards. What is left out of the painted area is cut exactly, through the triangles.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .sources import OUR_JUDGEMENT
from .validity import within

Floats = NDArray[np.float64]
Faces = NDArray[np.int64]
MOST_FACES = 250_000
SAME_POINT = 1e-6  # of the mesh's size: what lies closer together is one point
LOOKS_THAT_WAY = np.cos(np.radians(45.0))  # a face looks down when it leans less than 45° from it   [our judgement]
AXES = {"x": 0, "y": 1, "z": 2}


class NoMesh(ValueError):
    """Why these triangles are no part, in words for the person who sent them."""


@dataclass(frozen=True)
class Unpainted:
    """Faces that get no paint. direction: as "-z" for the underside, "" for none; below, above: m along the axis."""

    direction: str = ""
    axis: str = "z"
    below: float | None = None
    above: float | None = None


@dataclass(frozen=True, eq=False)
class Mesh:
    """A mesh as it may be measured; NoMesh where it cannot be.

    Valid for 1 to 250,000 faces of finite points with some area. A volume is told only of a closed mesh whose faces all
    look the same way, out or in.      Source: [GEOMETRY].

    >>> corner = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    >>> tetrahedron = Mesh(corner, np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]]))
    >>> round(tetrahedron.area, 4), round(tetrahedron.volume, 4), tetrahedron.closed
    (2.366, 0.1667, True)
    """

    points: Floats
    faces: Faces

    def __post_init__(self) -> None:
        if not len(self.faces):
            raise NoMesh("The file holds no faces.")
        within("faces", len(self.faces), 1, MOST_FACES, "faces", OUR_JUDGEMENT)
        if self.faces.min() < 0 or self.faces.max() >= len(self.points):
            raise NoMesh("Its faces name points that are not in the file.")
        if not np.isfinite(self.points[self.faces]).all():
            raise NoMesh("Some of its points are not numbers.")
        if not np.isfinite(self.area) or self.area <= 0:
            raise NoMesh("Its faces have no area: all points lie on one line.")

    @cached_property
    def _crosses(self) -> Floats:
        first, second, third = (self.points[self.faces[:, corner]] for corner in range(3))
        crosses: Floats = np.cross(second - first, third - first)
        return crosses

    @cached_property
    def _areas(self) -> Floats:
        return np.asarray(np.linalg.norm(self._crosses, axis=1) / 2)

    @cached_property
    def area(self) -> float:
        """Of all faces, m²."""
        return float(self._areas.sum())

    @cached_property
    def open_edges(self) -> int:
        """Edges where the skin ends, more than two faces meet or two look opposite ways; 0 where it is closed."""
        first, second, third = self._joined.T
        whole = self._joined[(first != second) & (second != third) & (third != first)]  # the others are only lines
        edges = np.concatenate([whole[:, [0, 1]], whole[:, [1, 2]], whole[:, [2, 0]]])
        many = int(self._joined.max()) + 1
        there, back = edges[:, 0] * many + edges[:, 1], edges[:, 1] * many + edges[:, 0]
        once, counts = np.unique(there, return_counts=True)
        paired = np.isin(once, back, assume_unique=False)
        return int((~paired).sum() + (counts[paired] > 1).sum())

    @cached_property
    def _joined(self) -> Faces:
        """The faces by points of which those at one place are one, as a file of loose triangles has them thrice."""
        used = self.points[self.faces.ravel()]
        size = float(np.ptp(used, axis=0).max()) or 1.0
        grid = np.round((used - used.min(axis=0)) / (size * SAME_POINT)).astype(np.int64)
        key = (grid[:, 0] * 1_000_003 + grid[:, 1]) * 1_000_003 + grid[:, 2]
        return np.unique(key, return_inverse=True)[1].reshape(-1, 3).astype(np.int64)

    @property
    def closed(self) -> bool:
        return self.open_edges == 0

    @cached_property
    def _signed_volume(self) -> float:
        """By the divergence theorem, about the middle of the mesh; meaningless where it is open."""
        middle = self.points[self.faces].mean(axis=(0, 1))
        return float(np.einsum("ij,ij->i", self.points[self.faces[:, 0]] - middle, self._crosses).sum() / 6)

    @property
    def volume(self) -> float:
        """m³; NaN where the mesh is open."""
        return abs(self._signed_volume) if self.closed else float("nan")

    @property
    def mean_wall(self) -> float:
        """m; both faces of a plate of this thickness have the mesh's area.   t = 2·V/A"""
        return 2 * self.volume / self.area

    def painted(self, left_out: Unpainted) -> float:
        """Area without what is left out, m².

        >>> plate = np.array([[0.0, 0, 0], [2, 0, 0], [2, 0, 1], [0, 0, 1]])
        >>> standing = Mesh(plate, np.array([[0, 1, 2], [0, 2, 3]]))
        >>> standing.painted(Unpainted(below=0.25)), standing.painted(Unpainted(axis="x", above=0.5))
        (1.5, 0.5)
        """
        areas = self._areas.copy()
        if left_out.direction:
            areas[self._looking(left_out.direction)] = 0
        heights = self.points[self.faces][:, :, AXES[left_out.axis]]
        shares = np.ones(len(areas))
        if left_out.below is not None:
            shares -= 1 - _share_above(heights - left_out.below)
        if left_out.above is not None:
            shares -= _share_above(heights - left_out.above)
        return float((areas * np.clip(shares, 0, 1)).sum())

    def _looking(self, direction: str) -> NDArray[np.bool_]:
        outwards = -1.0 if self.closed and self._signed_volume < 0 else 1.0
        sign = -1.0 if direction.startswith("-") else 1.0
        component = outwards * sign * self._crosses[:, AXES[direction.lstrip("+-")]]
        return np.asarray(component > LOOKS_THAT_WAY * 2 * self._areas)


def _share_above(heights: Floats) -> Floats:
    """Share of each triangle's area above 0, by the heights of its corners, m × 3."""
    low, middle, high = np.sort(heights, axis=1).T
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = high * high / ((high - low) * (high - middle))  # where the top corner alone is above
        foot = low * low / ((low - middle) * (low - high))  # where the lowest alone is below
    return np.where(low >= 0, 1.0, np.where(high <= 0, 0.0, np.where(middle <= 0, tip, 1 - foot)))
