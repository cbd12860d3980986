"""Where a scan ends: its outer edge and its holes, behind which nothing is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitment.frames import Array
from fitment.parts.scan import Faces


@dataclass(frozen=True)
class Borders:
    """The lines along which triangles have no neighbour.

    holes : how many there are beside the longest, which is taken for the outer edge
    widest : of the widest hole, the greatest distance between two places of its border [mm]; 0 where there is none
    at : middle of that hole, body frame [mm]
    outer : how long the longest is [mm]; 0 = the scan is closed
    """

    holes: int
    widest: float
    at: tuple[float, float, float]
    outer: float


def borders_of(vertices: Array, faces: Faces) -> Borders:
    """The borders of a mesh; vertices (n, 3) [mm], faces (m, 3), each place once.

    Source: derived here: an edge of one triangle alone is a border, and borders that share a place are one.
    """
    edges = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1).astype(np.int64)
    key = edges[:, 0] * len(vertices) + edges[:, 1]
    key, count = np.unique(key, return_counts=True)
    key = key[count == 1]
    if not len(key):
        return Borders(0, 0.0, (0.0, 0.0, 0.0), 0.0)
    places, ends = np.unique(np.stack([key // len(vertices), key % len(vertices)], axis=1), return_inverse=True)
    ends = ends.reshape(-1, 2)
    group = _joined(ends, len(places))
    length = np.linalg.norm(np.diff(vertices[places][ends], axis=1)[:, 0], axis=1)
    long = np.bincount(group[ends[:, 0]], length)
    low, high = np.full((2, len(long), 3), np.inf)
    np.minimum.at(low, group, vertices[places])
    np.minimum.at(high, group, -vertices[places])
    size = np.linalg.norm(-high - low, axis=1)  # of the box round each
    outer = int(np.argmax(size))
    if len(size) == 1:
        return Borders(0, 0.0, (0.0, 0.0, 0.0), float(long[outer]))
    size[outer] = 0.0
    widest = int(np.argmax(size))
    x, y, z = ((low[widest] - high[widest]) / 2).tolist()
    own = vertices[places][group == widest]
    across = max(float(np.linalg.norm(own - place, axis=1).max()) for place in own)
    return Borders(len(long) - 1, across, (x, y, z), float(long[outer]))


def _joined(ends: NDArray[np.int64], many: int) -> NDArray[np.int64]:
    """For each of many places the number of the group it belongs to by edges (n, 2)."""
    lead = np.arange(many)
    while True:
        low = np.minimum(lead[ends[:, 0]], lead[ends[:, 1]])
        then = lead.copy()
        np.minimum.at(then, ends[:, 0], low)
        np.minimum.at(then, ends[:, 1], low)
        np.minimum.at(then, lead, then)  # who leads a group follows whoever its members follow now
        then = then[then]
        if np.array_equal(then, lead):
            return np.unique(lead, return_inverse=True)[1]
        lead = then
