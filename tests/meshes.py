"""Meshes of solids whose area and volume are known exactly, as points and faces, and as files."""

import struct

import numpy as np


def grid(around, along, closed_along, place):
    """Faces over a grid of points, closed around; place: angles and shares of the length → points."""
    angles = np.arange(around) * 2 * np.pi / around
    steps = np.arange(along) / along if closed_along else np.arange(along + 1) / along
    points = np.array([place(angle, step) for step in steps for angle in angles])
    faces = []
    for row in range(along):
        below, above = row * around, ((row + 1) % len(steps)) * around
        for at in range(around):
            beside = (at + 1) % around
            faces += [(below + at, below + beside, above + beside), (below + at, above + beside, above + at)]
    return points, np.array(faces)


def torus(middle_diameter, bar_diameter, fine):
    def place(angle, step):
        turn, radius = 2 * np.pi * step, middle_diameter / 2 + bar_diameter / 2 * np.cos(angle)
        return radius * np.cos(turn), radius * np.sin(turn), bar_diameter / 2 * np.sin(angle)

    points, faces = grid(fine, 2 * fine, True, place)
    return points, faces[:, ::-1]


def sphere(diameter, fine):
    def place(angle, step):
        polar = np.pi * step
        return np.array([np.sin(polar) * np.cos(angle), np.sin(polar) * np.sin(angle), np.cos(polar)]) * diameter / 2

    points, faces = grid(2 * fine, fine, False, place)
    return points, faces[:, ::-1]


def ring(outer_diameter, width, thickness, fine):
    """A rim: its section, a rectangle, carried around."""
    outer, inner = outer_diameter / 2, outer_diameter / 2 - thickness
    section = [(outer, 0), (outer, width), (inner, width), (inner, 0)]
    points = np.array(
        [
            (radius * np.cos(angle), radius * np.sin(angle), height)
            for angle in np.arange(fine) * 2 * np.pi / fine
            for radius, height in section
        ]
    )
    faces = []
    for at in range(fine):
        here, there = 4 * at, 4 * ((at + 1) % fine)
        for corner in range(4):
            beside = (corner + 1) % 4
            faces += [
                (here + corner, there + corner, there + beside),
                (here + corner, there + beside, here + beside),
            ]
    return points, np.array(faces)


def box(length, width, height):
    points = np.array([(x, y, z) for x in (0, length) for y in (0, width) for z in (0, height)], dtype=float)
    faces = [
        (0, 1, 3), (0, 3, 2), (4, 6, 7), (4, 7, 5), (0, 4, 5), (0, 5, 1),
        (2, 3, 7), (2, 7, 6), (0, 2, 6), (0, 6, 4), (1, 5, 7), (1, 7, 3),
    ]  # fmt: skip
    return points, np.array(faces)


def as_stl(points, faces):
    facets = np.zeros(len(faces), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
    facets["corners"] = points[faces]
    return bytes(80) + struct.pack("<I", len(faces)) + facets.tobytes()


def as_obj(points, faces):
    lines = [f"v {x} {y} {z}" for x, y, z in points] + [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in faces]
    return "\n".join(lines).encode()


def as_ply(points, faces):
    head = (
        f"ply\nformat ascii 1.0\nelement vertex {len(points)}\nproperty float x\nproperty float y\nproperty float z\n"
    )
    head += f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    lines = [f"{x} {y} {z}" for x, y, z in points] + [f"3 {a} {b} {c}" for a, b, c in faces]
    return (head + "\n".join(lines) + "\n").encode()


def ten_million(kind):
    """Files that say they have ten million faces, and have none or a few."""
    if kind == "stl":
        return bytes(80) + struct.pack("<I", 10_000_000) + bytes(50)
    head = "ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty float x\nelement face 10000000\n"
    return (head + "property list uchar int vertex_indices\nend_header\n").encode() + bytes(64)
