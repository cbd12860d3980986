"""How near sections come to the points of a keep-out, by the definitions alone: exact distances, a tree of the points.

Slow and plain. It shares with the list engine only the swept points themselves and the outlines of tire and wheel.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from shapely import Polygon, STRtree


def nearest(part: Any, section: Polygon) -> float:
    """Signed distance [mm] of a section to the points (q, 2) of a swept part: inside, the depth of the deepest."""
    tree, outline = STRtree(points := shapely.points(part.plane)), section.exterior
    inside = points[tree.query(section, predicate="intersects")]
    if len(inside):
        return -float(shapely.distance(outline, inside).max())
    return float(tree.query_nearest(section, return_distance=True)[1][0])


def worst(part: Any, section: Polygon, offset_tolerance: float) -> float:
    """The least that is left at any point [mm] when every reading moves it against the section, to first order.

    A reading counts by its motion along the line from the outline to the point, the wheel's offset by that along y'.
    """
    points, moved = shapely.points(part.plane), part.moved
    most = np.linalg.norm(moved, axis=2).sum(axis=1).max() + offset_tolerance
    near = STRtree(points).query(section, predicate="dwithin", distance=max(nearest(part, section), 0.0) + most)
    lines = shapely.get_coordinates(shapely.shortest_line(section.exterior, points[near])).reshape(-1, 2, 2)
    way = lines[:, 1] - lines[:, 0]
    size = np.linalg.norm(way, axis=1)
    distance = np.where(shapely.intersects(section, points[near]), -size, size)
    along = np.abs(np.einsum("qvx,qx->qv", moved[near], way / size[:, None])).sum(axis=1)
    loss = along + offset_tolerance * np.abs(way[:, 0]) / size
    return float((distance - loss).min()) - part.obstacle.tolerance - part.thicker


def left(
    swept: Sequence[Any], nominal: dict[str, Polygon], largest: dict[str, Polygon], tolerance: float
) -> list[float]:
    """Smallest clearance, margin and worst case [mm] of a wheel with its tire, given as sections in the hub's frame."""
    each = []
    for part in (part for part in swept if len(part.plane)):
        for which in part.obstacle.meets:
            free = nearest(part, nominal[which]) - part.obstacle.radius
            beyond = worst(part, largest[which], tolerance) - part.obstacle.radius
            each.append((free, free - part.obstacle.allowance_to(which), beyond))
    return np.min(each, axis=0).tolist()
