"""Round faces as a phone scans them, by closed forms: a hub with what stands on and behind it, a rim with its tire."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scanned import sheet_faces

Array = np.ndarray
# (y', r) from the axis outward [mm]: register, face, flange's side, backing plate; a rim's disc, its lip, the tire
HUB = [(8, 5), (8, 34), (0, 35), (0, 75), (-14, 75), (-14, 55), (-42, 55), (-42, 150)]
RIM = [(60, 20), (30, 120), (20, 190), (66, 200), (69, 203), (69, 211), (66, 214), (58, 216), (62, 240), (50, 290)]


def revolved(outline: list[tuple[float, float]], step: float) -> tuple[Array, Array]:
    """A line (y', r) turned about y', in triangles of about so many mm: places (n, 3), faces (m, 3)."""
    line = [np.array(outline[0], dtype=float)[None]]
    for a, b in pairwise(outline):
        pieces = max(1, int(np.ceil(np.hypot(b[0] - a[0], b[1] - a[1]) / step)))
        line.append(np.linspace(a, b, pieces + 1)[1:])
    y, r = np.concatenate(line).T
    turns = int(np.ceil(2 * np.pi * 75 / step)) + 1
    angle = np.linspace(0, 2 * np.pi, turns)
    places = np.stack([np.outer(np.cos(angle), r), np.broadcast_to(y, (turns, len(y))), np.outer(np.sin(angle), r)], -1)
    return places.reshape(-1, 3), sheet_faces(turns, len(y))


def with_noise(
    mesh: tuple[Array, Array], noise: float, clutter: float, seed: int, reach: float = 70.0
) -> tuple[Array, Array]:
    """With noise [mm], and with so many triangles more, a share, that lie anywhere near the plane within the reach."""
    places, faces = mesh
    draw = np.random.default_rng(seed)
    count = int(clutter * np.sum((np.abs(places[:, 1]) < 8) & (np.hypot(*places[:, [0, 2]].T) < reach)) / 3)
    angle, r = draw.uniform(0, 2 * np.pi, count), reach * np.sqrt(draw.uniform(0, 1, count))
    middle = np.stack([r * np.cos(angle), draw.uniform(-8, 8, count), r * np.sin(angle)], -1)
    loose = (middle[:, None] + draw.normal(0, 3, (count, 3, 3))).reshape(-1, 3)
    more = np.arange(3 * count).reshape(-1, 3) + len(places)
    every = np.concatenate([places, loose])
    return every + draw.normal(0, noise, every.shape), np.concatenate([faces, more])
