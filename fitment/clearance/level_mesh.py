"""A closed mesh of all places that are at one distance from what is swept.

The field is looked at at the corners of cubes beside the surface; each cube is six tetrahedra, in which the surface is
one or two triangles, so that every edge of the mesh is one of exactly two triangles. Corners are then moved onto the
surface by their exact distance, and edges that leave it are divided, both of their triangles with them. Beside creases
the middles of edges and triangles are measured; what lies too deep is divided at a place that is climbed to from there.
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
SIDE, LARGE = 4, 8  # cubes along a block, and blocks along the first ones
SLACK = 2.0  # [mm] by which the field may rise faster than the way
KEPT_OFF = 0.15  # [-] of an edge between two corners: no corner of the mesh lies nearer to an end
FURTHER = 3  # times such an edge is made longer outward, until it leaves what is swept
HALVINGS = 10  # of an edge that a corner of the mesh is sought on
MOVES = 3  # of a corner towards the surface
STILL = 0.02  # [mm] off the surface at which a corner is moved no more
SHORT = 0.5  # [mm] an edge that is not divided
DIVISIONS = 5  # of an edge at most
MENDINGS = 2  # rounds in which what lies too deep is divided; more gain little and take long
LIFTS, CLIMBS = 8, 12  # steps out of what is swept: along the mesh's normal, and along the way the distance grows
LONGEST = 6.0  # [mm] of a climb along a shorter edge
Keys = NDArray[np.int64]


class Field(Protocol):
    """Distances to what is swept [mm]."""

    @property
    def box(self) -> tuple[Array, Array]:
        """Corners (3,) [mm] of a box that holds what is swept. Source: of who has the field."""

    def roughly(self, points: Array) -> Array:
        """Distances (n,) [mm] of points (n, 3) [mm], a little too large; points : (n, 3) [mm]. Source: as `box`."""

    def nearest(self, points: Array, *, quick: bool = False) -> tuple[Array, Array]:
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

    level : that distance [mm]; size : edge of a cube [mm]; within : how far an edge may be off it between its ends [mm]
    Source: derived here; six tetrahedra to a cube (Kuhn), marched through.
    """
    with doing("looking for the surface"):
        (inner, outer), vertices, triangles = _marched(field, level, size)
    with doing("moving onto the surface"):
        vertices, distance, away = _onto(field, level, vertices, size)
        off = np.flatnonzero(np.abs(distance - level) > STILL)
        if len(off):
            vertices[off], distance[off], away[off] = _halved(field, level, inner[off], outer[off])
    mesh = LevelMesh(vertices, triangles, distance, away)
    for _ in range(DIVISIONS):
        edges, back = _edges(mesh.triangles)
        long = np.flatnonzero(_sag(mesh, edges) > within)
        if not len(long):
            break
        with doing("dividing edges"):
            mesh = _divided(field, level, mesh, edges, back, long)
    with doing("measuring creases"):
        return _mended(field, level, mesh, within)


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
    triangles; then those beside each new corner. New corners lie on the level or a little outside.
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
        normals = np.zeros((len(edges), 3))
        a, b, c = np.moveaxis(mesh.vertices[mesh.triangles], 1, 0)
        normal = np.cross(b - a, c - a)
        normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
        np.add.at(normals, back, normal[:, None])
        ways = normals[some] / np.maximum(np.linalg.norm(normals[some], axis=1), 1e-9)[:, None]
        placed = _climbed(field, level, mesh.vertices[edges[some]].mean(axis=1), ways, length[some], within)
        good = (placed[1] >= level - STILL) & (placed[1] <= level + within)
        if not good.any():
            break
        seen = len(mesh.vertices)
        middles, distance, away = (one[good] for one in placed)
        mesh = _with_middles(mesh, edges, back, some[good], (middles, distance, away))
    return mesh


def _climbed(
    field: Field, level: float, places: Array, ways: Array, length: Array, within: float
) -> tuple[Array, Array, Array]:
    """Places moved onto the level along ways, or where these do not lead out, as the distance grows; as `_onto`.

    The distance of a place that came too far from where it was is endless.
    """
    most, by = np.maximum(length, LONGEST / 2), np.zeros(len(places))
    distance, away = field.nearest(places)
    for _ in range(LIFTS):
        off = np.flatnonzero(np.abs(distance - level) > STILL)
        rise = np.clip(np.einsum("ni,ni->n", away[off], ways[off]), 0.3, 1.0)
        by[off] = np.clip(by[off] + (level - distance[off]) / rise, -most[off], most[off])
        distance[off], away[off] = field.nearest(places[off] + by[off, None] * ways[off])
    found = places + by[:, None] * ways
    lost = np.flatnonzero((distance < level - STILL) | (distance > level + within))
    found[lost] = places[lost]
    distance[lost], away[lost] = field.nearest(places[lost])
    off = lost
    for _ in range(CLIMBS):  # in a valley from wall to wall
        off = off[np.abs(distance[off] - level) > STILL]
        step = level - distance[off]
        found[off] += np.where(step > 0, np.minimum(1.3 * step + STILL, 2.0), step)[:, None] * away[off]
        distance[off], away[off] = field.nearest(found[off])
    far = np.linalg.norm(found[lost] - places[lost], axis=1) > np.maximum(most[lost], LONGEST)
    distance[lost[far]] = np.inf
    return found, distance, away


def _slants(mesh: LevelMesh, edges: Index) -> Array:
    """How far the surface would lie off the middle of edges [mm], told by the way at either end (2, e)."""
    a, b = edges.T
    along = mesh.vertices[b] - mesh.vertices[a]
    return np.stack([np.abs(np.einsum("ni,ni->n", along, mesh.away[end])) for end in (a, b)]) / 4


def _sag(mesh: LevelMesh, edges: Index) -> Array:
    """How far the surface lies off the middle of edges [mm]: that of an arc which is square to `away` at its ends.

    Of an edge that ends in a crease the other end alone tells, since the way there may be that of either side.
    """
    return np.asarray(np.min(_slants(mesh, edges), axis=0))


def _between(mesh: LevelMesh, edges: Index) -> Array:
    """Where the planes of the surface at both ends of edges meet, next to the edge's middle (n, 3) [mm]."""
    a, b = mesh.vertices[edges[:, 0]], mesh.vertices[edges[:, 1]]
    middle, planes = (a + b) / 2, mesh.away[edges]
    beyond = np.einsum("nki,nki->nk", planes, np.stack([a, b], 1) - middle[:, None])
    square = planes @ np.swapaxes(planes, 1, 2) + 1e-3 * np.eye(2)
    step = np.einsum("nki,nk->ni", planes, np.linalg.solve(square, beyond[..., None])[..., 0])
    length = np.linalg.norm(step, axis=1, keepdims=True)
    most = np.linalg.norm(b - a, axis=1, keepdims=True) / 2
    return np.asarray(middle + step * np.minimum(1.0, most / np.maximum(length, 1e-9)))


# ---------------------------------------------------------------- cubes


def _marched(field: Field, level: float, size: float) -> tuple[tuple[Array, Array], Array, Index]:
    """Corners and triangles of the surface as it runs between corners of cubes, and these: within, and out of it."""
    low, high = field.box
    start = low - level - 2 * size
    counts = np.ceil((high - low + 2 * level + 4 * size) / size).astype(np.int64) + 1
    blocks = _blocks(field, level, size, start, counts)
    near = np.array(list(product(range(SIDE + 1), repeat=3)))
    at = (blocks[:, None] * SIDE + near).reshape(-1, 3)
    wide = counts + SIDE * LARGE + 1
    number = (at[:, 0] * wide[1] + at[:, 1]) * wide[2] + at[:, 2]
    known, first = np.unique(number, return_index=True)
    value = field.roughly(start + at[first] * size) - level
    value[value == 0.0] = 1e-9
    cubes = np.array(list(product(range(SIDE), repeat=3)))
    base = (blocks[:, None] * SIDE + cubes).reshape(-1, 3)
    steps = np.array([(k & 1) * wide[1] * wide[2] + (k >> 1 & 1) * wide[2] + (k >> 2) for k in range(8)])
    corner = ((base[:, 0] * wide[1] + base[:, 1]) * wide[2] + base[:, 2])[:, None] + steps
    place = np.searchsorted(known, corner)
    inside = value[place] < 0
    mixed = inside.any(axis=1) & ~inside.all(axis=1)
    ends = _triangle_ends(place[mixed], inside[mixed])
    pairs = np.sort(ends.reshape(-1, 2), axis=1)
    keys, back = np.unique(pairs[:, 0] * len(known) + pairs[:, 1], return_inverse=True)
    a, b = np.divmod(keys, len(known))
    share = np.clip(value[a] / (value[a] - value[b]), KEPT_OFF, 1 - KEPT_OFF)[:, None]
    places = start + at[first] * size
    swap = (value[a] >= 0)[:, None]
    inner_outer = np.where(swap, places[b], places[a]), np.where(swap, places[a], places[b])
    return inner_outer, places[a] * (1 - share) + places[b] * share, back.reshape(-1, 3)


def _blocks(field: Field, level: float, size: float, start: Array, counts: Keys) -> Keys:
    """Blocks of cubes (n, 3) that the surface can run through, halved from large ones."""
    edge = LARGE
    blocks = np.array(list(product(*(range(int(np.ceil(n / (SIDE * edge)))) for n in counts))), dtype=np.int64)
    while True:
        side = SIDE * edge * size
        value = field.roughly(start + (blocks + 0.5) * side)
        blocks = blocks[np.abs(value - level) <= side * np.sqrt(3) / 2 + SLACK]
        if edge == 1:
            return blocks
        edge //= 2
        blocks = (blocks[:, None] * 2 + np.array(list(product((0, 1), repeat=3)))).reshape(-1, 3)


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


def _onto(field: Field, level: float, vertices: Array, size: float | Array) -> tuple[Array, Array, Array]:
    """Vertices moved onto the surface, at most `size` from where they were, their distances and the way these grow."""
    start, vertices = vertices, vertices.copy()
    most = np.broadcast_to(np.asarray(size, dtype=float) / 2, len(vertices))
    for quick in (True, False):
        distance, away = field.nearest(vertices, quick=quick)
        step = np.clip(level - distance, -most, most)
        vertices += step[:, None] * away
    distance += step
    off = np.flatnonzero(np.abs(step) > STILL)
    for _ in range(MOVES):
        distance[off], away[off] = field.nearest(vertices[off])
        step = np.clip(level - distance[off], -most[off], most[off])
        off, step = off[np.abs(step) > STILL], step[np.abs(step) > STILL]
        vertices[off] += step[:, None] * away[off]
    distance[off], away[off] = field.nearest(vertices[off])
    distance[np.linalg.norm(vertices - start, axis=1) > 2 * most] = np.inf
    return vertices, distance, away


def _halved(field: Field, level: float, within: Array, out: Array) -> tuple[Array, Array, Array]:
    """Places of the surface between places within it and out of it, and what `_onto` gives with them."""
    distance, away = field.nearest(out)
    start = out.copy()
    for _ in range(FURTHER):  # the field was only looked at roughly there
        short = np.flatnonzero(distance < level)
        if len(short):
            out[short] += 0.5 * (out - within)[short]
            distance[short], away[short] = field.nearest(out[short])
    lost = distance < level
    for k in np.flatnonzero(lost).tolist():
        out[k], distance[k], away[k] = _outside(field, level, start[k])
    for _ in range(HALVINGS):
        middle = (within + out) / 2
        there, grows = field.nearest(middle)
        outside = there >= level
        out, within = np.where(outside[:, None], middle, out), np.where(outside[:, None], within, middle)
        distance, away = np.where(outside, there, distance), np.where(outside[:, None], grows, away)
    far = np.flatnonzero(distance > level + STILL)  # what was taken for within is not: one step leads back
    back = out[far] + (level - distance[far])[:, None] * away[far]
    there, grows = field.nearest(back)
    good = there >= level - STILL  # across a narrow gap it leads into the other side
    out[far[good]], distance[far[good]], away[far[good]] = back[good], there[good], grows[good]
    return out, distance, away


def _outside(field: Field, level: float, place: Array) -> tuple[Array, float, Array]:
    """A place next to one that lies within, at the distance or a little beyond; of a narrow gap the widest place."""
    ways = np.array([way for way in product((-1.0, 0.0, 1.0), repeat=3) if any(way)])
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    for reach in range(1, 13):
        tried = place + ways * reach
        distance, away = field.nearest(tried)
        best = int(np.argmin(np.where(distance >= level, distance, np.inf)))
        if distance[best] >= level:
            return tried[best], float(distance[best]), away[best]
    best = int(np.argmax(distance))
    return tried[best], float(distance[best]), away[best]


def _lengths(mesh: LevelMesh, edges: Index) -> Array:
    return np.asarray(np.linalg.norm(mesh.vertices[edges[:, 1]] - mesh.vertices[edges[:, 0]], axis=1))


def _edges(triangles: Index) -> tuple[Index, Index]:
    """Edges (e, 2), and of each triangle those from its first, second and third corner onward (m, 3)."""
    pairs = np.sort(np.stack([triangles, np.roll(triangles, -1, axis=1)], -1).reshape(-1, 2), axis=1)
    count = int(triangles.max()) + 1
    keys, back = np.unique(pairs[:, 0] * count + pairs[:, 1], return_inverse=True)
    return np.stack(np.divmod(keys, count), -1), back.reshape(-1, 3)


def _divided(field: Field, level: float, mesh: LevelMesh, edges: Index, back: Index, long: Index) -> LevelMesh:
    """With some edges divided in their middle, which is moved onto the surface; both triangles of each follow."""
    length, plain = _lengths(mesh, edges[long]), mesh.vertices[edges[long]].mean(axis=1)
    middles, distance, away = _onto(field, level, _between(mesh, edges[long]), length / 2)

    def is_good() -> NDArray[np.bool_]:
        return (np.abs(distance - level) <= STILL) & (np.linalg.norm(middles - plain, axis=1) < 0.6 * length)

    again = np.flatnonzero(~is_good())
    middles[again], distance[again], away[again] = _onto(field, level, plain[again], length[again] / 2)
    good = is_good() & (length > SHORT)
    return _with_middles(mesh, edges, back, long[good], (middles[good], distance[good], away[good]))


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
