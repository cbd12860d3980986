"""Scans drawn by a generator: noisy wheel wells and soups of triangles, and axles that meet them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fitment.checks.case import Ready
from fitment.parts.axle import Axle
from fitment.parts.obstacles import Obstacle
from fitment.parts.scan import ScanMesh

Array = np.ndarray
A_BOX = """
format: 1
name: a box (invented)
axles:
  front:
    hub_face_width: 1560
    hub_height: 320
    suspension: {kind: tape, camber: 0, toe_in: 0, camber_per_100mm: 0, track_per_100mm: 0}
    travel: {droop: -50, bump: 50}
    obstacles:
PARTS
builds:
  stock: {front: {wheel: 15x6 ET35, tire: 205/70R15}}
baseline: stock
"""


def sheet_faces(rows: int, columns: int) -> Array:
    """Two triangles of each cell of a grid, parted as a panel's are, (n, 3)."""
    cells = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = (part.ravel() for part in (cells[:-1, :-1], cells[1:, :-1], cells[1:, 1:], cells[:-1, 1:]))
    return np.concatenate([np.stack([a, b, c], -1), np.stack([a, c, d], -1)]).astype(np.int32)


def grid_of(count: int, ratio: float = 2.0) -> tuple[int, int]:
    """Rows and columns of points of about so many triangles."""
    columns = max(int(np.sqrt(count / 2 / ratio)) + 1, 2)
    return max(count // 2 // (columns - 1) + 1, 2), columns


def well(count: int, hub: Array, radius: float, depth: float, noise: float, seed: int = 1) -> ScanMesh:
    """A wheel well as a phone has it: an arch over the hub, its inner wall, and bodywork beside, with noise [mm].

    count : triangles, about; hub : centre of the hub's face; radius : of the arch; depth : inboard and outboard of hub
    """
    draw = np.random.default_rng(seed)
    parts = []
    rows, columns = grid_of(int(count * 0.6))
    angle, y = np.meshgrid(
        np.radians(np.linspace(-20, 200, rows)), np.linspace(-depth, depth / 3, columns), indexing="ij"
    )
    bulge = 25 * np.sin(3 * angle) * np.cos(y / 60)
    r = radius + bulge + 20 * np.cos(angle) ** 2
    parts.append((np.stack([r * np.cos(angle), y, r * np.sin(angle)], -1), rows, columns))
    rows, columns = grid_of(int(count * 0.3), 1.5)
    x, z = np.meshgrid(np.linspace(-radius, radius, rows), np.linspace(-200, radius, columns), indexing="ij")
    parts.append((np.stack([x, -depth + 15 * np.sin(x / 70) * np.cos(z / 50), z], -1), rows, columns))
    rows, columns = grid_of(int(count * 0.1), 3)
    x, z = np.meshgrid(
        np.linspace(-2 * radius, 2 * radius, rows), np.linspace(-300, 2 * radius, columns), indexing="ij"
    )
    parts.append((np.stack([x, np.full_like(x, depth * 1.6), z], -1), rows, columns))
    vertices, faces, start = [], [], 0
    for at, rows, columns in parts:
        vertices.append(at.reshape(-1, 3) + draw.normal(0, noise, (rows * columns, 3)) + hub)
        faces.append(sheet_faces(rows, columns) + np.int32(start))
        start += rows * columns
    return ScanMesh(np.concatenate(vertices), np.concatenate(faces).astype(np.int32))


def scan_part(mesh: ScanMesh, tolerance: float = 0.0, name: str = "well") -> Obstacle:
    """A scan as a part of the body."""
    return Obstacle(name, "scan", fixed_to=("body",), mesh=mesh, tolerance=tolerance)


def with_parts(ready: Ready, *parts: Obstacle, alone: bool = False) -> Ready:
    """An axle with more parts, also where readings are moved; alone : with these only."""

    def more(axle: Axle) -> Axle:
        return replace(axle, obstacles=(*(() if alone else axle.obstacles), *parts))

    variants = tuple(replace(variant, axle=more(variant.axle)) for variant in ready.variants)
    return replace(ready, axle=more(ready.axle), variants=variants)
