"""A file of triangles (STL, OBJ, PLY) → a mesh in metres. Its size is asked before it is read.

The library that reads them is an extra: `pip install 'fettlebook[mesh]'`.
"""

import re
from io import BytesIO

import numpy as np

from finishing.science.mesh import MOST_FACES, Faces, Floats, Mesh, NoMesh
from finishing.science.validity import OutsideValidity

try:
    from trimesh import load_mesh
except ImportError:  # an extra
    load_mesh = None  # type: ignore[assignment]

KINDS = ("stl", "obj", "ply")
MOST_BYTES = 25 * 2**20
HEAD, FACET = 84, 50  # bytes of a binary STL: before its first facet, and of each
ELEMENT = re.compile(rb"^element\s+\w+\s+(\d+)", re.MULTILINE)
NOT_THERE = "Meshes are read by an extra that is not installed here: pip install 'fettlebook[mesh]'."
NOT_READ = "This is not a mesh that is read here. STL, OBJ and PLY of triangles are."


def read_mesh(sent: bytes, name: str, metres: float) -> Mesh:
    """metres: the unit of the file's numbers. Raises NoMesh, with words for whoever sent it."""
    kind = name.rpartition(".")[2].lower()
    if kind not in KINDS:
        raise NoMesh("The file's name ends with none of .stl, .obj and .ply.")
    if not sent:
        raise NoMesh("The file is empty.")
    if len(sent) > MOST_BYTES:
        raise NoMesh(f"The mesh has {len(sent) / 2**20:.0f} MB; {MOST_BYTES / 2**20:.0f} MB is the most.")
    if (many := _faces_told(sent, kind)) > MOST_FACES:
        raise NoMesh(f"The mesh has {many:,} faces or points; {MOST_FACES:,} is the most. Make it coarser.")
    if load_mesh is None:
        raise NoMesh(NOT_THERE)
    points, faces = _triangles(sent, kind)
    try:
        return Mesh(points * metres, faces)
    except OutsideValidity:
        raise NoMesh(f"The mesh has {len(faces):,} faces; {MOST_FACES:,} is the most. Make it coarser.") from None


def _faces_told(sent: bytes, kind: str) -> int:
    """How many faces, or points where they are more than twice as many, the file says or would make."""
    if kind == "obj":
        return max(len(re.findall(rb"^f\s", sent, re.MULTILINE)), len(re.findall(rb"^v\s", sent, re.MULTILINE)) // 3)
    if kind == "ply":
        head = sent[:4096].partition(b"end_header")[0]
        return max((int(number[:18]) for number in ELEMENT.findall(head)), default=0)
    if sent[:5].lower() == b"solid" and b"facet" in sent[:1024]:
        return sent.count(b"endfacet")
    told = int.from_bytes(sent[HEAD - 4 : HEAD], "little")
    if len(sent) < HEAD or told * FACET > len(sent) - HEAD:
        raise NoMesh(NOT_READ if told * FACET > MOST_BYTES else "The mesh is cut short. Send it again.")
    return told


def _triangles(sent: bytes, kind: str) -> tuple[Floats, Faces]:
    try:
        read = load_mesh(BytesIO(sent), file_type=kind, process=False, skip_materials=True)
        points, faces = np.asarray(read.vertices, dtype=np.float64), np.asarray(read.faces, dtype=np.int64)
    except Exception:  # readers meet any bytes, and raise what they like
        raise NoMesh(NOT_READ) from None
    if points.ndim != 2 or points.shape[1] != 3 or faces.ndim != 2 or faces.shape[1] != 3:
        raise NoMesh(NOT_READ)
    return points, faces
