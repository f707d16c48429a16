"""Meshes that are sent: how far off, how much memory, and what is refused.  pytest tests/benchmarks -s -k mesh"""

import subprocess
import sys
import time

import numpy as np

from finishing.science.mesh import MOST_FACES, Mesh, NoMesh
from projects.proving.imports.meshes import read_mesh
from tests import meshes

READ = """
import re, sys
from projects.proving.imports.meshes import read_mesh
def megabytes():
    return int(re.search(r"VmHWM:\\s+(\\d+)", open("/proc/self/status").read())[1]) / 1024
before = megabytes()
mesh = read_mesh(open(sys.argv[1], "rb").read(), sys.argv[1], 0.001)
print(mesh.closed, mesh.area, megabytes() - before)
"""


def test_a_mesh_as_large_as_it_may_be(tmp_path):
    """About 250,000 faces of a torus, in a process of its own; memory is what reading and measuring add to it."""
    points, faces = meshes.torus(300.0, 25.0, 249)
    exact = np.pi**2 * 0.3 * 0.025
    for name, content in (("a.stl", meshes.as_stl(points, faces)), ("a.obj", meshes.as_obj(points, faces))):
        (tmp_path / name).write_bytes(content)
        began = time.process_time()
        mesh = read_mesh(content, name, 0.001)
        assert mesh.closed
        taken = time.process_time() - began
        told = subprocess.run(
            [sys.executable, "-c", READ, str(tmp_path / name)], capture_output=True, text=True, check=True
        )
        closed, area, megabytes = told.stdout.split()
        print(f"figure mesh.faces {len(faces)} faces")
        print(f"figure mesh.{name[2:]}_seconds {taken:.2f} s")
        print(f"figure mesh.{name[2:]}_peak_mb {float(megabytes):.0f} MB")
        print(f"figure mesh.{name[2:]}_area_off {abs(float(area) / exact - 1):.1e} 1")
        assert closed == "True"
        assert float(megabytes) <= 300


def test_what_is_no_mesh_is_refused():
    random = np.random.default_rng(4)
    points, faces = meshes.box(400.0, 300.0, 200.0)
    whole = meshes.as_stl(points, faces)
    broken = points.copy()
    broken[3] = np.nan
    hostile = {
        "ten-million.stl": meshes.ten_million("stl"),
        "ten-million.ply": meshes.ten_million("ply"),
        "vertices.ply": meshes.ten_million("ply").replace(b"vertex 3", b"vertex 99999999999999999999"),
        "nan.stl": meshes.as_stl(broken, faces),
        "nan.obj": meshes.as_obj(broken, faces),
        "half.stl": whole[: len(whole) // 2],
        "noise.stl": random.bytes(5000),
        "noise.obj": random.bytes(5000),
        "noise.ply": b"ply\n" + random.bytes(5000),
        "archive.stl": b"PK\x03\x04" + random.bytes(5000),
        "script.obj": b"<script>alert(1)</script>",
        "far.obj": b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 99999999999\n",
        "huge.obj": b"v 1e308 0 0\nv -1e308 1e308 0\nv 0 1 1e308\nf 1 2 3\n",
        "large.stl": bytes(26 * 2**20),
        "many.obj": b"v 0 0 0\n" + b"f 1 1 1\n" * (MOST_FACES + 1),
    }
    refused = 0
    for name, content in hostile.items():
        try:
            mesh = read_mesh(content, name, 0.001)
        except NoMesh as why:
            refused += bool(str(why))
        else:
            print(name, "was read as", len(mesh.faces), "faces")
    print(f"figure mesh.hostile_refused {refused} of {len(hostile)}")
    assert refused == len(hostile)


def test_areas_against_exact_solids():
    for name, (points, faces), exact in (
        ("sphere", meshes.sphere(0.1, 128), np.pi * 0.1**2),
        ("torus", meshes.torus(0.3, 0.025, 128), np.pi**2 * 0.3 * 0.025),
        ("box", meshes.box(0.4, 0.3, 0.2), 0.52),
        ("ring", meshes.ring(0.6, 0.05, 0.02, 256), np.pi * (0.6 + 0.56) * 0.05 + np.pi / 2 * (0.6**2 - 0.56**2)),
    ):
        off = abs(Mesh(points, faces).area / exact - 1)
        print(f"figure mesh.{name}_off {off:.1e} 1")
        assert off < 1e-3
