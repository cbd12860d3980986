"""A scanned part: many triangles as they lie in the body's frame, told apart by what they hold."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Faces = NDArray[np.int32]
Index = NDArray[np.intp]
APART = 25.0  # [mm] cubes of which a scan is looked at in one place each, where that is enough


@dataclass(frozen=True, eq=False)
class ScanMesh:
    """The triangles of a scan, which nobody changes; two are the same if they hold the same.

    vertices : (n, 3) places in the body frame at the reference pose [mm]
    faces : (m, 3) numbers of vertices; which way round says nothing, since normals of a scan are not trusted
    """

    vertices: Array
    faces: Faces

    def __post_init__(self) -> None:
        for array in (self.vertices, self.faces):
            array.setflags(write=False)

    @cached_property
    def digest(self) -> str:
        """What the scan holds, as 64 hexadecimal digits."""
        content = hashlib.sha256(repr((self.vertices.shape, self.faces.shape)).encode())
        for array in (self.vertices, self.faces):
            content.update(np.ascontiguousarray(array).tobytes())
        return content.hexdigest()

    @cached_property
    def spread(self) -> Index:
        """Numbers of vertices (q,), one in every cube of APART in which there are any."""
        cubes = np.floor(self.vertices / APART).astype(np.intp)
        return np.unique(cubes, axis=0, return_index=True)[1]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, ScanMesh) and self.digest == other.digest

    def __hash__(self) -> int:
        return hash(self.digest)


def coarser(mesh: ScanMesh, most: int) -> ScanMesh:
    """A mesh of at most so many triangles that looks like it, to be drawn only: no clearance is taken to it.

    Source: derived here: places that share a cell of a grid become their middle, in ever larger cells.
    """
    cell = 10.0
    while len(mesh.faces) > most:
        _, which = np.unique(np.floor(mesh.vertices / cell).astype(np.int64), axis=0, return_inverse=True)
        which = which.reshape(-1)
        many = np.bincount(which)
        middle = np.stack([np.bincount(which, axis) for axis in mesh.vertices.T], axis=1) / many[:, None]
        faces = np.unique(np.sort(which[mesh.faces], axis=1), axis=0)
        faces = faces[(faces[:, 0] < faces[:, 1]) & (faces[:, 1] < faces[:, 2])]
        mesh, cell = ScanMesh(middle, faces.astype(np.int32)), 1.3 * cell
    return mesh
