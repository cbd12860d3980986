"""A file of triangles to arrays of triangles: what it claims is looked at before memory or time is spent on it.

Nothing but the file itself is opened: no material, no texture, wherever it says that they are. Normals are not read.
"""

from __future__ import annotations

import os
import stat
import warnings
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitment import cache
from fitment.errors import ScanError, did_you_mean, shown
from fitment.parts.scan import Array, Faces
from fitment.units import MM_PER_INCH

SUFFIXES = (".ply", ".stl", ".obj")
MOST_BYTES = 100_000_000
MOST_TRIANGLES = 1_000_000
MOST_POINTS = 3_000_000  # three for each triangle, as an STL file has them
MOST_HEADER = 64 << 10  # [bytes] of a PLY file
UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_INCH}  # [mm]
SMALLEST, LARGEST = 100.0, 15_000.0  # [mm] that a scan of a wheel well or a vehicle measures
FLAT = 1e-12  # [-] height of a triangle over its longest edge, below which it has no area
SMALLER = "reduce it to fewer triangles in the program that made it, or cut off what is no wheel well"
TO_GET_IT = "reading a scan needs a library that is not installed: pip install trimesh"
TYPES = {
    "char": 1, "int8": 1, "uchar": 1, "uint8": 1, "short": 2, "int16": 2, "ushort": 2, "uint16": 2, "int": 4,
    "int32": 4, "uint": 4, "uint32": 4, "float": 4, "float32": 4, "double": 8, "float64": 8,
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class ScanFile:
    """The triangles of a file, as they lie in it.

    vertices : (n, 3) places, each of them once, in the file's own axes and units
    faces : (m, 3) numbers of vertices; none without area
    dropped : triangles without area, which were left out
    """

    vertices: Array
    faces: Faces
    dropped: int = 0


# ---------------------------------------------------------------- where it may lie


def file_beside(folder: Path | None, name: str) -> Path:
    """The file of this name in a profile's folder.

    folder : None = the profile was read from a text
    Raises ScanError for a name that leads out of the folder, and for what is no file of triangles.
    """
    given = Path(name)
    if given.suffix.lower() not in SUFFIXES:
        raise _refused(f"{shown(name)} is no file of triangles; a scan is taken as .ply, .stl or .obj. Export it so.")
    if folder is None:
        raise _refused(
            f"{name} is looked for beside the profile, but this profile was read from a text and has no folder; save "
            "it as a file, with the scan beside it."
        )
    if given.is_absolute() or given.drive or "\\" in name or ".." in given.parts or not name.isprintable():
        raise _refused(
            f"{shown(name)} leads out of the profile's folder; put the scan beside the profile and name it alone, such "
            "as well.ply."
        )
    try:
        there, home = (folder / given).resolve(strict=True), folder.resolve(strict=True)
    except FileNotFoundError:
        raise _refused(
            f"there is no file {name} beside the profile.{_sibling(folder, given)} Put it there, or name "
            "the one that is."
        ) from None
    except (OSError, RuntimeError) as error:
        raise _refused(f"{name} cannot be read ({getattr(error, 'strerror', None) or 'links in a circle'}).") from None
    if not there.is_relative_to(home):
        raise _refused(
            f"{name} is a link that leads out of the profile's folder; put the scan itself beside the profile."
        )
    return there


def _sibling(folder: Path, given: Path) -> str:
    try:
        return did_you_mean(given.name, [each.name for each in folder.iterdir() if each.suffix.lower() in SUFFIXES])
    except OSError:
        return ""


def _refused(text: str, *at: str) -> ScanError:
    return ScanError(text, at or ("file",))


# ---------------------------------------------------------------- what it holds


def read_scan(path: Path) -> ScanFile:
    """The triangles of a file. Raises ScanError for one that is not sound, or too large."""
    try:
        there = path.stat()
    except OSError as error:
        raise _refused(f"{path.name} cannot be read ({error.strerror}).") from None
    return _read(path, there.st_size, there.st_mtime_ns)


@lru_cache(maxsize=4)
def _read(path: Path, _size: int, _changed: int) -> ScanFile:
    raw = _content(path)
    name, kind = path.name, path.suffix.lower()
    known = cache.name_of("scan file", kind, sha256(raw).hexdigest())  # what reads it takes long to load
    kept = None if known is None else cache.kept(known, 3)
    if kept is not None and (found := _as_kept(*kept)) is not None:
        return found
    {".ply": _check_ply, ".stl": _check_stl, ".obj": _check_obj}[kind](name, raw)
    read = _cleaned(name, *_loaded(name, kind, raw))
    if known is not None:
        cache.keep({known: (read.vertices, read.faces, np.array([read.dropped]))})
    return read


def _as_kept(vertices: NDArray[Any], faces: NDArray[Any], dropped: NDArray[Any]) -> ScanFile | None:
    """What was kept between runs; None where it is no such thing."""
    sound = vertices.dtype == np.float64 and faces.dtype == np.int32 and vertices.shape[1:] == faces.shape[1:] == (3,)
    if not sound or not len(faces) or dropped.shape != (1,) or faces.min() < 0 or faces.max() >= len(vertices):
        return None
    return ScanFile(vertices, faces, int(dropped[0])) if np.isfinite(vertices).all() else None


def _content(path: Path) -> bytes:
    """The file as it stands on the disk; a pipe or a device is none."""
    if not path.is_file():
        raise _refused(f"{path.name} is no file; name the scan itself.")
    try:
        number = os.open(path, cache.OPEN)
        with os.fdopen(number, "rb") as stream:
            there = os.fstat(number)
            if not stat.S_ISREG(there.st_mode):
                raise _refused(f"{path.name} is no file; name the scan itself.")
            if there.st_size > MOST_BYTES:
                raise _refused(
                    f"{path.name} has {there.st_size / 1e6:.0f} MB, at most {MOST_BYTES / 1e6:.0f} MB are taken; "
                    f"{SMALLER}."
                )
            return stream.read(MOST_BYTES)
    except OSError as error:
        raise _refused(f"{path.name} cannot be read ({error.strerror}).") from None


def _check_counts(name: str, triangles: int, points: int = 0) -> None:
    for count, most, what in ((triangles, MOST_TRIANGLES, "triangles"), (points, MOST_POINTS, "points")):
        if count > most:
            raise _refused(f"{name} says that it has {count:,} {what}, at most {most:,} are taken; {SMALLER}.")


def _truncated(name: str, claimed: str, size: int) -> ScanError:
    return _refused(
        f"{name} says that it has {claimed}, which its {size:,} bytes cannot hold; it is cut short. Copy or export it "
        "again."
    )


def _check_stl(name: str, raw: bytes) -> None:
    head = raw[:1024].lstrip().lower()
    count = int.from_bytes(raw[80:84], "little")
    if len(raw) >= 84 and len(raw) == 84 + 50 * count:
        _check_counts(name, count)
    elif head.startswith(b"solid") and (b"facet" in head or b"endsolid" in head):
        _check_counts(name, raw.lower().count(b"endfacet"))
        if b"endsolid" not in raw.lower():
            raise _refused(f"{name} does not end with `endsolid`; it is cut short. Copy or export it again.")
    elif len(raw) < 84:
        raise _refused(f"{name} is no STL file: it has {len(raw)} bytes, the header alone takes 84. Export it again.")
    elif count > (len(raw) - 84) // 50:
        raise _truncated(name, f"{count:,} triangles", len(raw))
    else:
        raise _refused(f"{name} is no STL file: it is longer than its header tells. Export it again.")


def _check_obj(name: str, raw: bytes) -> None:
    if b"\0" in raw:
        raise _refused(f"{name} is no OBJ file: it is no text. Export the scan again.")
    _check_counts(name, raw.count(b"\nf"), raw.count(b"\nv "))
    if b"\\\n" in raw or b"\\\r" in raw:
        raise _refused(f"{name} has lines that are carried on with \\, which is not read; export it as .ply.")


def _check_ply(name: str, raw: bytes) -> None:
    """Refuses a PLY file whose header does not say what its body can hold."""
    end = raw.find(b"end_header", 0, MOST_HEADER)
    if not raw.startswith(b"ply") or end < 0:
        raise _refused(f"{name} is no PLY file: its header is missing or has no end. Export the scan again.")
    body = len(raw) - end - len(b"end_header\n")
    try:
        lines = [line.split() for line in raw[:end].decode("ascii").splitlines()]
    except UnicodeDecodeError:
        raise _refused(f"{name}: the header of a PLY file is plain text, this one is not. Export it again.") from None
    is_text = any(line[:2] == ["format", "ascii"] for line in lines)
    least, elements = 0, dict[str, int]()
    for line in lines:
        if line[:1] == ["element"]:
            elements[line[1] if len(line) > 1 else ""] = count = _count(name, line)
        elif line[:1] == ["property"]:
            size = TYPES.get(line[2 if line[1:2] == ["list"] else 1]) if len(line) > 2 else None
            if size is None or not elements:
                raise _refused(f"{name}: its header says {shown(' '.join(line))}, which is not PLY. Export it again.")
            least += count * (2 if is_text else size)
    for element in ("vertex", "face"):
        if not elements.get(element):
            raise _refused(f"{name} has no {element} element. {_NO_FACES}")
    _check_counts(name, elements["face"], elements["vertex"])
    _check_counts(name, 0, max(elements.values()))
    if least > body + 1:
        claimed = f"{elements['vertex']:,} points and {elements['face']:,} triangles"
        raise _truncated(name, claimed, len(raw))


_NO_FACES = "A scan is taken as triangles, not as bare points: export it as a mesh."


def _count(name: str, line: list[str]) -> int:
    if len(line) != 3 or not line[2].isdigit() or len(line[2]) > 18:
        raise _refused(f"{name}: its header says {shown(' '.join(line))}, which is no count. Export it again.")
    return int(line[2])


def _loaded(name: str, kind: str, raw: bytes) -> tuple[NDArray[Any], NDArray[Any]]:
    """Points and triangles of a file whose head is sound."""
    try:
        import trimesh
    except ImportError:
        raise _refused(f"{name}: {TO_GET_IT}") from None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # such as numbers that end in letters, which would be passed over
            warnings.simplefilter("ignore", PendingDeprecationWarning)
            mesh: Any = trimesh.load_mesh(
                BytesIO(raw), file_type=kind[1:], process=False, skip_materials=True, fix_texture=False,
                maintain_order=True, resolver=None,
            )  # fmt: skip
    except Exception as error:  # whatever a file that is odd leads to
        why = f"{type(error).__name__}: {error}"[:120].replace("\n", " ")
        raise _refused(
            f"{name} cannot be read as {kind}: it is cut short or damaged. Export it again ({why})."
        ) from None
    faces = getattr(mesh, "faces", None)
    if faces is None or not len(faces):
        raise _refused(f"{name} holds no triangles. {_NO_FACES}")
    return np.asarray(mesh.vertices), np.asarray(faces)


def _cleaned(name: str, vertices: NDArray[Any], faces: NDArray[Any]) -> ScanFile:
    """Every place once, and no triangle without area."""
    _check_counts(name, len(faces), len(vertices))
    if faces.ndim != 2 or faces.shape[1] != 3 or vertices.ndim != 2 or vertices.shape[1] != 3:
        raise _refused(f"{name} holds no triangles. {_NO_FACES}")
    if faces.min() < 0 or faces.max() >= len(vertices):
        wrong = int(faces.min() if faces.min() < 0 else faces.max())
        raise _refused(f"{name}: a triangle names point {wrong:,}, the file has {len(vertices):,}. Export it again.")
    used = np.unique(faces)
    odd = used[~np.isfinite(vertices[used]).all(axis=1)]
    if len(odd):
        raise _refused(
            f"{name} has points that are no numbers: {len(odd):,} of {len(vertices):,}, the first is point {odd[0]:,}. "
            "Repair or export the scan again."
        )
    places, joined = _once(vertices[used].astype(np.float64) + 0.0)
    number = np.zeros(len(vertices), np.int32)
    number[used] = joined
    faces = number[faces]
    a, b, c = (places[faces[:, i]] for i in range(3))
    double = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    longest = np.sqrt(np.max([((b - a) ** 2).sum(1), ((c - b) ** 2).sum(1), ((a - c) ** 2).sum(1)], axis=0))
    whole = double > np.maximum(longest * longest * FLAT, np.finfo(float).tiny)
    if not whole.any():
        raise _refused(f"{name}: no triangle of it has any area. Export the scan again.")
    return ScanFile(places, np.ascontiguousarray(faces[whole], dtype=np.int32), int(np.sum(~whole)))


def _once(places: Array) -> tuple[Array, NDArray[np.int64]]:
    """Each place once (m, 3), and for each of the given ones which it is."""
    order = np.lexsort(places.T)
    laid = places[order]
    new = np.concatenate([[True], np.any(laid[1:] != laid[:-1], axis=1)])
    which = np.empty(len(places), np.int64)
    which[order] = np.cumsum(new) - 1
    return laid[new], which


# ---------------------------------------------------------------- its size


def in_mm(read: ScanFile, units: str, name: str) -> ScanFile:
    """The same in millimetres. Raises ScanError where no scan of a well has such a size."""
    size = float(np.ptp(read.vertices, axis=0).max())
    if not SMALLEST <= size * UNITS[units] <= LARGEST:
        likely = [unit for unit, factor in UNITS.items() if 3 * SMALLEST <= size * factor <= LARGEST / 2]
        hint = f"are they {' or '.join(likely)}? Write units: {likely[0]}." if likely else "check the file."
        raise _refused(
            f"{name} would be {size * UNITS[units]:.4g} mm large, a scan of a wheel well has {SMALLEST:g} to "
            f"{LARGEST:g} mm; {hint}",
            "units",
        )
    return ScanFile(read.vertices * UNITS[units], read.faces, read.dropped)
