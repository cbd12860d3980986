"""A closed mesh of all places that are at one distance from what is swept.

The field is measured at the corners of cubes beside a surface that lies somewhat further out; each cube is six
tetrahedra, in which that surface is one or two triangles, so that every edge of the mesh is one of exactly two
triangles. Each corner then goes straight towards what is nearest to it, down to the distance that is asked for: to an
edge that is sharp from all around it. Edges that leave the surface are divided from outside in the same way, both of
their triangles with them. Beside creases the middles of edges and triangles are measured; what lies too deep is divided
too.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache, reduce
from itertools import permutations, product
from typing import Any, Protocol

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from fitment.frames import Array
from fitment.progress import doing

Index = NDArray[np.intp]
LEAST_AREA = 1.0  # [mm^2] of a part of a slice
LARGE = 32  # cubes along the first blocks that are looked at
KEPT_OFF = 0.15  # [-] of an edge between two corners: no corner of the mesh lies nearer to an end
WIDER = 1 / 3  # [-] of a cube: as much further out the mesh is made, so that thin walls and edges are not missed
STEPS_OUT = 4  # of a place that is not outside
OUTWARD = 0.6  # [-] of an edge that its middle goes outward at most
STILL = 0.02  # [mm] off the surface at which a corner is moved no more
SHARP = 0.6  # [-] sine of the bend along an edge that is taken for a crease
APART = 0.01  # [mm] between vertices that would stand in the same place
SHORT = 0.5  # [mm] an edge that is not divided
DIVISIONS = 5  # of an edge at most
MENDINGS = 2  # rounds in which what lies too deep is divided; more gain little and take long
Keys = NDArray[np.int64]


class Field(Protocol):
    """Distances to what is swept [mm]."""

    @property
    def box(self) -> tuple[Array, Array]:
        """Corners (3,) [mm] of a box that holds what is swept. Source: of who has the field."""

    @property
    def early(self) -> float:
        """By how much `roughly` is too small at most [mm]. Source: as `box`."""

    @property
    def late(self) -> float:
        """By how much `roughly` is too large at most [mm]. Source: as `box`."""

    def roughly(self, points: Array) -> Array:
        """Distances (n,) [mm] of points (n, 3) [mm], not exact; points : (n, 3) [mm]. Source: as `box`."""

    def nearest(self, points: Array) -> tuple[Array, Array]:
        """Distances (n,) [mm] and the way they grow (n, 3) [-]; points : (n, 3) [mm]. Source: as `box`."""


@dataclass(frozen=True, eq=False)
class LevelMesh:
    """A closed mesh, its triangles turned outward.

    vertices : (n, 3) [mm]; triangles : their numbers (m, 3)
    distance : of each vertex from what is swept, exact (n,) [mm]; away : the way it grows (n, 3) [-]
    """

    vertices: Array
    triangles: Index
    distance: Array
    away: Array

    @property
    def volume(self) -> float:
        """What it holds [mm]^3, in cubic [mm]. Source: divergence theorem, tetrahedra from the middle."""
        a, b, c = np.moveaxis((self.vertices - self.vertices.mean(axis=0))[self.triangles], 1, 0)
        return float(np.einsum("ni,ni->", np.cross(a, b), c) / 6)


def mesh_at(field: Field, level: float, size: float, within: float) -> LevelMesh:
    """The mesh of all places at a distance from what is swept.

    level : that distance, above 0 [mm]; size : edge of a cube [mm]
    within : how far an edge may be off it between its ends [mm]
    Source: derived here; six tetrahedra to a cube (Kuhn), marched through.
    """
    with doing("looking for the surface"):
        out, vertices, triangles = _marched(field, level + size * WIDER, size)
    with doing("moving onto the surface"):
        mesh = LevelMesh(vertices, triangles, *_onto(field, level, vertices, out - vertices))
    for _ in range(DIVISIONS):
        edges, back = _edges(mesh.triangles)
        some = np.flatnonzero((_sag(mesh, edges) > within) & (_lengths(mesh, edges) > SHORT))
        if not len(some):
            break
        with doing("dividing edges"):
            mesh = _divided(field, level, mesh, edges, back, some)
    with doing("measuring creases"):
        return _apart(_mended(field, level, mesh, within))


def _apart(mesh: LevelMesh) -> LevelMesh:
    """With vertices that came to the same place a little apart, outward, or a reader of the mesh would join them."""
    _, group, count = np.unique(np.round(mesh.vertices, 3), axis=0, return_inverse=True, return_counts=True)
    some = np.flatnonzero(count[group.ravel()] > 1)
    some = some[np.argsort(group.ravel()[some], kind="stable")]
    of = group.ravel()[some]
    out = np.zeros(len(mesh.vertices))
    out[some] = APART * (np.arange(len(some)) - np.searchsorted(of, of))
    return LevelMesh(mesh.vertices + out[:, None] * mesh.away, mesh.triangles, mesh.distance + out, mesh.away)


def places_on(mesh: LevelMesh, count: int) -> Array:
    """Places (n, 3) [mm] on the triangles of a mesh, evenly by area and the same each time.

    count : n

    Source: derived here, uniform in each triangle that is drawn by its area.
    """
    a, b, c = np.moveaxis(mesh.vertices[mesh.triangles], 1, 0)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    drawn = np.random.default_rng(0)
    k = drawn.choice(len(area), count, p=area / area.sum())
    s, t = np.sqrt(drawn.random(count))[:, None], drawn.random(count)[:, None]
    return np.asarray((1 - s) * a[k] + s * ((1 - t) * b[k] + t * c[k]))


def mirrored(mesh: LevelMesh) -> LevelMesh:
    """The mesh on the other side of the vehicle, y turned round and triangles turned outward again."""
    other = np.array([1.0, -1.0, 1.0])
    return LevelMesh(mesh.vertices * other, mesh.triangles[:, ::-1], mesh.distance, mesh.away * other)


def cut_at(mesh: LevelMesh, way: int, at: float) -> Polygon | MultiPolygon:
    """What a plane cuts out of the mesh, in the two other ways in their order [mm]; empty where it misses.

    way : 0, 1 or 2 for a plane of one x, y or z; at : that [mm]
    Source: derived here; each edge that crosses is left by one triangle and entered by one, so that rings close.
    """
    off = mesh.vertices[:, way] - at
    above = off >= 0
    ahead = np.roll(mesh.triangles, -1, axis=1)
    goes_in, goes_out = above[mesh.triangles] & ~above[ahead], ~above[mesh.triangles] & above[ahead]
    some = np.flatnonzero(goes_in.any(axis=1))
    if not len(some):
        return Polygon()
    pairs = []
    for goes in (goes_in[some], goes_out[some]):
        first = np.argmax(goes, axis=1)
        pairs.append(np.stack([mesh.triangles[some, first], ahead[some, first]], -1))
    ends = np.sort(np.concatenate(pairs), axis=1)
    keys, back = np.unique(ends[:, 0] * len(off) + ends[:, 1], return_inverse=True)
    a, b = np.divmod(keys, len(off))
    share = (off[a] / (off[a] - off[b]))[:, None]
    places = np.delete(mesh.vertices[a] * (1 - share) + mesh.vertices[b] * share, way, axis=1)
    after = np.empty(len(keys), dtype=np.intp)
    after[back[: len(some)]] = back[len(some) :]
    rings = [Polygon(places[ring]) for ring in _rings(after.tolist()) if len(ring) > 2]
    found: Any = reduce(shapely.symmetric_difference, map(shapely.make_valid, rings), Polygon())
    parts = [p for p in getattr(found, "geoms", [found]) if isinstance(p, Polygon) and p.area > LEAST_AREA]
    return MultiPolygon(parts) if len(parts) != 1 else parts[0]


def _rings(after: list[int]) -> list[list[int]]:
    """Rings of numbers, each followed by the one that comes after it."""
    seen, rings = [False] * len(after), []
    for first in range(len(after)):
        ring, k = [], first
        while not seen[k]:
            seen[k] = True
            ring.append(k)
            k = after[k]
        rings.append(ring)
    return rings


def _mended(field: Field, level: float, mesh: LevelMesh, within: float) -> LevelMesh:
    """With edges divided until nothing that is measured lies deeper than twice `within` under the level.

    Measured are the middles of edges that are not square to the way the distance grows at both ends, and of their
    triangles; then those beside each new corner.
    """
    seen = 0
    for turn in range(MENDINGS):
        edges, back = _edges(mesh.triangles)
        if turn == 0:
            look = np.max(_slants(mesh, edges), axis=0) > within
            flat = np.flatnonzero(look[back].any(axis=1))
        else:
            flat = np.flatnonzero((mesh.triangles >= seen).any(axis=1))
            look = np.isin(np.arange(len(edges)), back[flat])
        looked, length = np.flatnonzero(look), _lengths(mesh, edges)
        corners = mesh.vertices[mesh.triangles[flat]]
        places = np.concatenate([mesh.vertices[edges[looked]].mean(axis=1), corners.mean(axis=1)])
        deep = field.nearest(places)[0] < level - 2 * within
        longest = back[flat, np.argmax(length[back[flat]], axis=1)]
        some = np.unique(np.concatenate([looked, longest])[deep])
        some = some[length[some] > SHORT]
        if not len(some):
            break
        seen = len(mesh.vertices)
        mesh = _divided(field, level, mesh, edges, back, some)
    return mesh


def _slants(mesh: LevelMesh, edges: Index) -> Array:
    """How far the surface would lie off the middle of edges [mm], told by the way at either end (2, e)."""
    a, b = edges.T
    along = mesh.vertices[b] - mesh.vertices[a]
    return np.stack([np.abs(np.einsum("ni,ni->n", along, mesh.away[end])) for end in (a, b)]) / 4


def _sag(mesh: LevelMesh, edges: Index) -> Array:
    """How far the surface lies off edges [mm]: where planes square to `away` at their ends meet; of an arc, half of it.

    Of an edge that ends in a crease the other end alone tells, since the way there may be that of either side.
    """
    length = np.maximum(_lengths(mesh, edges), 1e-9)  # corners that end in one place of a sharp edge
    first, second = 4 * _slants(mesh, edges) / length
    turned = np.sin(np.minimum(np.arcsin(first.clip(0, 1)) + np.arcsin(second.clip(0, 1)), np.pi / 2))
    sharp = np.where(turned > SHARP, 1.0, 0.5)
    return np.asarray(length * first * second / np.maximum(turned, 1e-9) * sharp)


# ---------------------------------------------------------------- cubes


def _marched(field: Field, level: float, size: float) -> tuple[Array, Array, Index]:
    """Of each corner a place beyond it that is outside, the corners, and the triangles between them."""
    low, high = field.box
    start = low - level - 2 * size
    counts = np.ceil((high - low + 2 * level + 4 * size) / size).astype(np.int64) + 1
    cubes = _cubes(field, level, size, start, counts)
    wide = counts + 2 * LARGE
    steps = np.array([(k & 1) * wide[1] * wide[2] + (k >> 1 & 1) * wide[2] + (k >> 2) for k in range(8)])
    corner = ((cubes[:, 0] * wide[1] + cubes[:, 1]) * wide[2] + cubes[:, 2])[:, None] + steps
    known, back = np.unique(corner, return_inverse=True)
    rest, z = np.divmod(known, wide[2])
    places = start + np.stack([*np.divmod(rest, wide[1]), z], -1) * size
    value = field.nearest(places)[0] - level
    value[value == 0.0] = 1e-9
    place = back.reshape(-1, 8)
    inside = value[place] < 0
    mixed = inside.any(axis=1) & ~inside.all(axis=1)
    ends = _triangle_ends(place[mixed], inside[mixed])
    pairs = np.sort(ends.reshape(-1, 2), axis=1)
    keys, back = np.unique(pairs[:, 0] * len(known) + pairs[:, 1], return_inverse=True)
    a, b = np.divmod(keys, len(known))
    share = np.clip(value[a] / (value[a] - value[b]), KEPT_OFF, 1 - KEPT_OFF)[:, None]
    out = np.where((value[a] >= 0)[:, None], places[a], places[b])
    return out, places[a] * (1 - share) + places[b] * share, back.reshape(-1, 3)


def _cubes(field: Field, level: float, size: float, start: Array, counts: Keys) -> Keys:
    """Cubes (n, 3) that the surface can run through, halved from large ones."""
    edge = LARGE
    cubes = np.array(list(product(*(range(int(np.ceil(n / edge))) for n in counts))), dtype=np.int64)
    while True:
        side = edge * size
        off = field.roughly(start + (cubes + 0.5) * side) - level
        half = side * np.sqrt(3) / 2
        cubes = cubes[(off >= -half - field.early) & (off <= half + field.late)]
        if edge == 1:
            return cubes
        edge //= 2
        cubes = (cubes[:, None] * 2 + np.array(list(product((0, 1), repeat=3)))).reshape(-1, 3)


def _triangle_ends(place: Index, inside: NDArray[np.bool_]) -> Index:
    """The triangles in cubes, each corner told by the two ends of the edge that it lies on (t, 3, 2).

    place : of the cubes' corners (n, 8); inside : which lie within (n, 8)
    """
    found = []
    for corners in _tetrahedra():
        mask = inside[:, corners] @ np.array([1, 2, 4, 8])
        for pattern in range(1, 15):
            cubes = np.flatnonzero(mask == pattern)
            for triangle in _cut(pattern) if len(cubes) else ():
                found.append(place[cubes][:, np.array(corners)[np.array(triangle)]])
    return np.concatenate(found)


@lru_cache(maxsize=1)
def _tetrahedra() -> tuple[tuple[int, ...], ...]:
    """Corners of the six tetrahedra of a cube, each to the right hand; a corner's bits are its x, y, z."""
    found = []
    for order in permutations((1, 2, 4)):
        corners = [0, order[0], order[0] + order[1], 7]
        at = np.array([[c & 1, c >> 1 & 1, c >> 2] for c in corners])
        if np.linalg.det(at[1:] - at[0]) < 0:
            corners[1:3] = corners[2:0:-1]
        found.append(tuple(corners))
    return tuple(found)


@lru_cache(maxsize=16)
def _cut(pattern: int) -> tuple[tuple[tuple[int, int], ...], ...]:
    """The triangles of a tetrahedron to the right hand, some of its corners within (a bit each), turned outward."""
    within = [k for k in range(4) if pattern >> k & 1]
    out = [k for k in range(4) if not pattern >> k & 1]
    if len(within) == 2:
        (a, b), (c, d) = within, out
        if _odd([a, b, c, d]):
            c, d = d, c
        q = ((a, c), (a, d), (b, d), (b, c))
        return (q[0], q[1], q[2]), (q[0], q[2], q[3])
    (alone,), others = (within, out) if len(within) == 1 else (out, within)
    b, c, d = others
    if _odd([alone, b, c, d]) != (len(within) == 3):
        c, d = d, c
    return (((alone, b), (alone, c), (alone, d)),)


def _odd(order: list[int]) -> bool:
    return sum(order[i] > order[j] for i in range(4) for j in range(i + 1, 4)) % 2 == 1


# ---------------------------------------------------------------- onto the surface


def _onto(field: Field, level: float, places: Array, out: Array) -> tuple[Array, Array]:
    """Moves places onto the surface, and gives their distances and the way these grow.

    Along the way to what is nearest the distance falls by as much as a place moves, so that one step from outside leads
    onto the surface exactly; what is not outside goes `out` first, in so many steps.
    places : (n, 3) [mm], changed; out : to where it is outside (n, 3) [mm]
    """
    distance, away = field.nearest(places)
    for _ in range(STEPS_OUT):
        deep = np.flatnonzero(distance < level)
        if not len(deep):
            break
        places[deep] += out[deep] / STEPS_OUT
        distance[deep], away[deep] = field.nearest(places[deep])
    off = np.maximum(distance - level, 0.0)
    places -= off[:, None] * away
    return distance - off, away


def _lengths(mesh: LevelMesh, edges: Index) -> Array:
    return np.asarray(np.linalg.norm(mesh.vertices[edges[:, 1]] - mesh.vertices[edges[:, 0]], axis=1))


def _edges(triangles: Index) -> tuple[Index, Index]:
    """Edges (e, 2), and of each triangle those from its first, second and third corner onward (m, 3)."""
    pairs = np.sort(np.stack([triangles, np.roll(triangles, -1, axis=1)], -1).reshape(-1, 2), axis=1)
    count = int(triangles.max()) + 1
    keys, back = np.unique(pairs[:, 0] * count + pairs[:, 1], return_inverse=True)
    return np.stack(np.divmod(keys, count), -1), back.reshape(-1, 3)


def _divided(field: Field, level: float, mesh: LevelMesh, edges: Index, back: Index, some: Index) -> LevelMesh:
    """With some edges divided in their middle, which is moved onto the surface; both triangles of each follow."""
    length, plain = _lengths(mesh, edges[some])[:, None], mesh.vertices[edges[some]].mean(axis=1)
    ways = mesh.away[edges[some]].sum(axis=1)
    ways /= np.maximum(np.linalg.norm(ways, axis=1), 1e-9)[:, None]
    middles = plain.copy()
    distance, away = _onto(field, level, middles, ways * length * OUTWARD)
    good = (distance >= level - STILL) & (np.linalg.norm(middles - plain, axis=1) < 0.6 * length[:, 0])
    return _with_middles(mesh, edges, back, some[good], (middles[good], distance[good], away[good]))


def _with_middles(
    mesh: LevelMesh, edges: Index, back: Index, some: Index, placed: tuple[Array, Array, Array]
) -> LevelMesh:
    """With some edges divided at places, whose distances and ways these grow are known."""
    middles, distance, away = placed
    number = np.full(len(edges), -1)
    number[some] = len(mesh.vertices) + np.arange(len(some))
    new = number[back]
    whole = np.count_nonzero(new >= 0, axis=1)
    made = [mesh.triangles[whole == 0]]
    for turn in range(3):  # so that the divided edges come first
        corner, middle = np.roll(mesh.triangles, -turn, axis=1), np.roll(new, -turn, axis=1)
        one = (whole == 1) & (middle[:, 0] >= 0)
        two = (whole == 2) & (middle[:, 2] < 0)
        a, b, c = corner[one].T
        m = middle[one, 0]
        made += [np.stack([a, m, c], -1), np.stack([m, b, c], -1)]
        a, b, c = corner[two].T
        m, n = middle[two, 0], middle[two, 1]
        made += [np.stack([m, b, n], -1), np.stack([a, m, n], -1), np.stack([a, n, c], -1)]
    a, b, c = mesh.triangles[whole == 3].T
    m, n, o = new[whole == 3].T
    made += [np.stack(t, -1) for t in ((a, m, o), (m, b, n), (o, n, c), (m, n, o))]
    return LevelMesh(
        np.concatenate([mesh.vertices, middles]), np.concatenate(made),
        np.concatenate([mesh.distance, distance]), np.concatenate([mesh.away, away]),
    )  # fmt: skip
