"""Scans from files: what a mesh library wrote or bytes laid by hand, and files that are not what they say."""

from __future__ import annotations

import os
import struct
import sys
import tracemalloc
from pathlib import Path
from time import process_time
from typing import Any

import numpy as np
import pytest
import trimesh
from click.testing import CliRunner
from scanned import A_BOX

from fitment.cli import cli
from fitment.errors import ProfileError, ScanError
from fitment.profile import axle, load_profile, loads_profile
from fitment.scans import reading
from fitment.scans.borders import borders_of
from fitment.scans.reading import file_beside, in_mm, read_scan

PROFILE = A_BOX.replace("PARTS", "      - {name: well, shape: scan, file: FILE, axes: body}")


def profile(folder: Path, file: str, more: str = "") -> Path:
    """A profile whose one part is this scan."""
    path = folder / "profile.yaml"
    path.write_text(PROFILE.replace("file: FILE", f"file: {file}{more}"))
    return path


def mesh() -> Any:
    """A box of 600 x 400 x 300 mm beside the hub, of many triangles."""
    made = trimesh.creation.box((600.0, 400.0, 300.0)).subdivide().subdivide()
    return made.apply_translation((0.0, 780.0, 250.0))


def same_triangles(a: np.ndarray, b: np.ndarray, within: float) -> bool:
    """Whether two sets of triangles (m, 3, 3) are the same, in whatever order."""
    a, b = (np.sort(x.reshape(len(x), -1).round(3), axis=0) for x in (a, b))
    return len(a) == len(b) and np.abs(a - b).max() <= within


FORMS: dict[str, tuple[str, dict[str, Any]]] = {
    "binary ply": ("ply", {"encoding": "binary"}),
    "text ply": ("ply", {"encoding": "ascii"}),
    "binary stl": ("stl", {}),
    "text stl": ("stl_ascii", {}),
    "obj": ("obj", {}),
}


@pytest.mark.parametrize("form", FORMS)
def test_a_file_that_a_mesh_library_wrote_comes_back(form: str, tmp_path: Path) -> None:
    kind, how = FORMS[form]
    path = tmp_path / f"well.{kind.partition('_')[0]}"
    raw = mesh().export(file_type=kind, **how)
    path.write_bytes(raw.encode() if isinstance(raw, str) else raw)
    read = read_scan(path)
    assert same_triangles(read.vertices[read.faces], mesh().triangles, 1e-3)
    assert len(read.vertices) == len(mesh().vertices)  # an STL file has each place six times


def test_a_file_laid_by_hand_with_the_other_byte_order_and_more_properties(tmp_path: Path) -> None:
    head = (
        "ply\nformat binary_big_endian 1.0\nelement vertex 4\nproperty double x\nproperty double y\nproperty double z\n"
        "property uchar red\nelement face 2\nproperty list uchar uint vertex_index\nend_header\n"
    )
    places = [(0, 0, 0), (500, 0, 0), (500, 300, 0), (0, 300, 40)]
    body = b"".join(struct.pack(">dddB", *place, 9) for place in places)
    body += struct.pack(">BIII", 3, 0, 1, 2) + struct.pack(">BIII", 3, 0, 2, 3)
    (tmp_path / "a.ply").write_bytes(head.encode() + body)
    read = read_scan(tmp_path / "a.ply")
    expected = np.array([[places[0], places[1], places[2]], [places[0], places[2], places[3]]], dtype=float)
    assert same_triangles(read.vertices[read.faces], expected, 0.0)


def test_squares_of_an_obj_file_are_two_triangles_each(tmp_path: Path) -> None:
    (tmp_path / "a.obj").write_text("mtllib ../../etc/passwd\nv 0 0 0\nv 400 0 0\nv 400 300 0\nv 0 300 0\nf 1 2 3 4\n")
    read = read_scan(tmp_path / "a.obj")
    assert len(read.faces) == 2
    triangles = read.vertices[read.faces]
    cross = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    assert np.linalg.norm(cross, axis=1).sum() / 2 == pytest.approx(400 * 300)


# ---------------------------------------------------------------- files that are not what they say


def ply(points: int, faces: int, body: bytes = b"", form: str = "binary_little_endian") -> bytes:
    return (
        f"ply\nformat {form} 1.0\nelement vertex {points}\nproperty float x\nproperty float y\nproperty float z\n"
        f"element face {faces}\nproperty list uchar int vertex_indices\nend_header\n"
    ).encode() + body


def filled(places: list[tuple[float, float, float]], faces: list[tuple[int, int, int]]) -> bytes:
    body = b"".join(struct.pack("<fff", *place) for place in places)
    return ply(len(places), len(faces), body + b"".join(struct.pack("<Biii", 3, *face) for face in faces))


SQUARE = [(0.0, 0.0, 0.0), (500.0, 0.0, 0.0), (500.0, 300.0, 0.0), (0.0, 300.0, 0.0)]
WHOLE = filled(SQUARE, [(0, 1, 2), (0, 2, 3)])
NAN = float("nan")
HOSTILE: dict[str, tuple[str, bytes, str]] = {
    "empty ply": ("a.ply", b"", "no PLY file"),
    "no ply": ("a.ply", b"PK\x03\x04 a zip", "no PLY file"),
    "header without an end": ("a.ply", b"ply\nformat ascii 1.0\n" + b"comment x\n" * 20_000, "no PLY file"),
    "truncated ply": ("a.ply", WHOLE[:-13], "cut short"),
    "10 GB claimed": ("a.ply", ply(900_000_000, 10), "at most 3,000,000"),
    "2e9 triangles claimed": ("a.ply", ply(3, 2_000_000_000, b"\0" * 100), "at most 1,000,000"),
    "more than its bytes hold": ("a.ply", ply(3, 900_000, b"\0" * 100), "cut short"),
    "a count that is none": ("a.ply", ply(3, 1).replace(b"vertex 3", b"vertex -3"), "no count"),
    "a count of 30 digits": ("a.ply", ply(3, 1).replace(b"vertex 3", b"vertex " + b"9" * 30), "no count"),
    "a type that is none": ("a.ply", ply(3, 1).replace(b"float x", b"quad x"), "not PLY"),
    "points alone": ("a.ply", ply(4, 0, b"\0" * 48), "as triangles, not as bare points"),
    "not a number": ("a.ply", filled([*SQUARE[:3], (0.0, NAN, 0.0)], [(0, 1, 2), (0, 2, 3)]), "no numbers"),
    "infinite": ("a.ply", filled([*SQUARE[:3], (0.0, float("inf"), 0.0)], [(0, 1, 2), (0, 2, 3)]), "no numbers"),
    "a corner that is none": ("a.ply", filled(SQUARE, [(0, 1, 2), (0, 2, 4)]), "names point 4"),
    "a corner below none": ("a.ply", filled(SQUARE, [(0, 1, 2), (0, 2, -1)]), "names point -1"),
    "no area": ("a.ply", filled(SQUARE, [(0, 1, 1), (2, 2, 2)]), "no triangle of it has any area"),
    "numbers that end in letters": (
        "a.ply", ply(3, 1, b"0 0 0\n500 0 0x\n0 300 0\n3 0 1 2\n", "ascii"), "cut short or damaged"
    ),
    "text that is cut short": ("a.ply", ply(3, 1, b"0 0 0\n500 0 0\n0 300", "ascii"), "cut short or damaged"),
    "lists of lists": ("a.ply", ply(3, 1, b"\0" * 36 + b"\xff" + b"\1" * 30), "cannot be read as .ply"),
    "empty stl": ("a.stl", b"", "no STL file"),
    "truncated stl": ("a.stl", b"\0" * 80 + struct.pack("<I", 2) + b"\0" * 50, "cut short"),
    "100 GB claimed": ("a.stl", b"\0" * 80 + struct.pack("<I", 2_000_000_000) + b"\0" * 50, "cut short"),
    "longer than its triangles": ("a.stl", b"\0" * 80 + struct.pack("<I", 1) + b"\0" * 90, "longer than its header"),
    "stl without area": ("a.stl", b"\0" * 80 + struct.pack("<I", 1) + b"\0" * 50, "no triangle of it has any area"),
    "text stl without an end": ("a.stl", b"solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\n", "endsolid"),
    "text stl without triangles": ("a.stl", b"solid a\n" + b" " * 90 + b"endsolid a\n", "no triangles"),
    "obj that is no text": ("a.obj", b"v 0 0 0\0\0", "no text"),
    "empty obj": ("a.obj", b"", "no triangles"),
    "obj of points": ("a.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "no triangles"),
    "obj with a corner that is none": ("a.obj", b"v 0 0 0\nv 500 0 0\nv 0 300 0\nf 1 2 9\n", "cut short or damaged"),
    "obj not a number": ("a.obj", b"v 0 0 nan\nv 500 0 0\nv 0 300 0\nf 1 2 3\n", "no numbers"),
    "obj of words": ("a.obj", b"v a b c\nf x y z\n", "cut short or damaged"),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_a_file_that_is_not_what_it_says_gets_one_message(name: str, tmp_path: Path) -> None:
    file, raw, said = HOSTILE[name]
    (tmp_path / file).write_bytes(raw)
    tracemalloc.start()
    begun = process_time()
    result = CliRunner().invoke(cli, ["check", str(profile(tmp_path, file))])
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert result.exit_code == 2, result.output
    assert said in result.output.replace("\n  ", " ")
    assert "profile.yaml:11: axles.front.obstacles[0]" in result.output
    assert result.output.count("profile.yaml:") == 1
    assert "Traceback" not in result.output
    assert most < 200e6
    assert process_time() - begun < 20


def test_triangles_without_area_are_left_out_and_counted(tmp_path: Path) -> None:
    faces = [(0, 1, 2), (0, 2, 3), (0, 4, 1), (2, 2, 3)]
    (tmp_path / "a.ply").write_bytes(filled([*SQUARE, (250.0, 0.0, 0.0)], faces))
    read = read_scan(tmp_path / "a.ply")
    assert (len(read.faces), read.dropped) == (2, 2)


def test_a_file_larger_than_may_be_is_not_read(tmp_path: Path) -> None:
    with (tmp_path / "a.ply").open("wb") as stream:
        stream.truncate(10_000_000_000)  # on the disk it takes nothing
    with pytest.raises(ScanError, match="10000 MB, at most 100 MB"):
        read_scan(tmp_path / "a.ply")


@pytest.mark.parametrize(
    ("file", "said"),
    [
        ("../well.ply", "leads out of the profile's folder"),
        ("a/../../well.ply", "leads out of the profile's folder"),
        ("{folder}/out/well.ply", "leads out of the profile's folder"),
        ('"..\\\\well.ply"', "leads out of the profile's folder"),
        ("link.ply", "a link that leads out"),
        ("linked/well.ply", "a link that leads out"),
        ("circle.ply", "cannot be read"),
        ("well.pyl", "no file of triangles"),
        ("profile.yaml", "no file of triangles"),
        ("wel.ply", 'there is no file wel.ply beside the profile. Did you mean "well.ply"?'),
        ("folder.ply", "is no file"),
        ("pipe.ply", "is no file"),
    ],
)
def test_only_a_file_beside_the_profile_is_read(file: str, said: str, tmp_path: Path) -> None:
    home, out = tmp_path / "home", tmp_path / "out"
    home.mkdir()
    out.mkdir()
    for folder in (home, out, tmp_path):
        (folder / "well.ply").write_bytes(WHOLE)
    (home / "link.ply").symlink_to(out / "well.ply")
    (home / "linked").symlink_to(out)
    (home / "circle.ply").symlink_to(home / "circle.ply")
    (home / "folder.ply").mkdir()
    os.mkfifo(home / "pipe.ply")
    with pytest.raises(ProfileError) as caught:
        load_profile(profile(home, file.replace("{folder}", str(tmp_path))))
    assert said in caught.value.message
    assert caught.value.key == "axles.front.obstacles[0].file"


def test_a_file_in_a_folder_beside_the_profile_and_a_link_within_it_are_read(tmp_path: Path) -> None:
    (tmp_path / "scans").mkdir()
    (tmp_path / "scans" / "well.ply").write_bytes(mesh().export(file_type="ply"))
    (tmp_path / "link.ply").symlink_to(tmp_path / "scans" / "well.ply")
    for file in ("scans/well.ply", "link.ply"):
        (part,) = axle(load_profile(profile(tmp_path, file)), "front").obstacles
        assert part.mesh is not None
        assert len(part.mesh.faces) == len(mesh().faces)


def test_a_profile_from_a_text_has_no_folder() -> None:
    with pytest.raises(ProfileError, match="read from a text and has no folder"):
        loads_profile(PROFILE.replace("FILE", "well.ply"))


def test_a_profile_from_a_text_takes_a_folder(tmp_path: Path) -> None:
    (tmp_path / "well.ply").write_bytes(mesh().export(file_type="ply"))
    assert axle(loads_profile(PROFILE.replace("FILE", "well.ply"), folder=tmp_path), "front").obstacles[0].mesh


def test_without_the_library_it_says_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "well.ply").write_bytes(WHOLE)
    monkeypatch.setitem(sys.modules, "trimesh", None)
    monkeypatch.setenv("FITMENT_CACHE", "off")
    with pytest.raises(ScanError, match="pip install trimesh"):
        read_scan(tmp_path / "well.ply")


@pytest.mark.parametrize(
    ("size", "units", "likely"),
    [(0.9, "mm", "m"), (0.9, "in", "m"), (900.0, "m", "mm"), (900.0, "in", "mm"), (90.0, "mm", "cm or in")],
)
def test_a_unit_that_cannot_be_is_refused(size: float, units: str, likely: str, tmp_path: Path) -> None:
    raw = mesh().apply_scale(size / 600.0).export(file_type="ply")
    (tmp_path / "well.ply").write_bytes(raw)
    with pytest.raises(ScanError, match=f"are they {likely}\\? Write units: {likely.split(maxsplit=1)[0]}") as caught:
        in_mm(read_scan(tmp_path / "well.ply"), units, "well.ply")
    assert caught.value.at == ("units",)


# ---------------------------------------------------------------- where it ends


def test_a_closed_scan_has_no_border() -> None:
    made = mesh()
    assert borders_of(made.vertices, made.faces).outer == 0


def test_holes_are_counted_and_the_widest_measured() -> None:
    """A flat sheet of 10 mm squares with a hole of 40 x 30 mm and one of 10 x 10 mm."""
    x, y = np.meshgrid(np.arange(0, 501.0, 10), np.arange(0, 301.0, 10), indexing="ij")
    places = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=-1)
    first = (np.arange(50)[:, None] * 31 + np.arange(30)).ravel()
    faces = np.concatenate([np.stack([first, first + 31, first + 32], 1), np.stack([first, first + 32, first + 1], 1)])
    middle = places[faces].mean(axis=1)
    large = (abs(middle[:, 0] - 220) < 20) & (abs(middle[:, 1] - 115) < 15)
    small = (abs(middle[:, 0] - 405) < 5) & (abs(middle[:, 1] - 205) < 5)
    found = borders_of(places, faces[~(large | small)])
    assert found.holes == 2
    assert found.outer == pytest.approx(1600)
    assert found.widest == pytest.approx(np.hypot(40, 30))
    assert found.at == pytest.approx((220, 115, 0))


# ---------------------------------------------------------------- how long it takes


def many(count: int) -> Any:
    """A sheet of about so many triangles, 1 x 0.6 m."""
    n = int(np.sqrt(count / 2))
    x, y = np.meshgrid(np.linspace(0, 1000, n + 1), np.linspace(500, 1100, n + 1), indexing="ij")
    z = 400 + 30 * np.sin(x / 90) * np.cos(y / 70)
    first = (np.arange(n)[:, None] * (n + 1) + np.arange(n)).ravel()
    cells = [np.stack([first, first + n + 1, first + n + 2], 1), np.stack([first, first + n + 2, first + 1], 1)]
    return trimesh.Trimesh(np.stack([x.ravel(), y.ravel(), z.ravel()], -1), np.concatenate(cells), process=False)


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["ply", "stl"])
def test_half_a_million_triangles_are_read_in_seconds_and_kept(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FITMENT_CACHE", str(tmp_path / "kept"))
    path = tmp_path / f"well.{kind}"
    path.write_bytes(many(500_000).export(file_type=kind))
    begun = process_time()
    read = read_scan(path)
    first = process_time() - begun
    assert len(read.faces) == pytest.approx(500_000, rel=0.01)
    assert first < 8  # a few seconds on a machine that does nothing else
    reading._read.cache_clear()
    monkeypatch.setitem(sys.modules, "trimesh", None)  # what was kept needs no library
    again = read_scan(path)
    assert np.array_equal(again.vertices, read.vertices)
    assert np.array_equal(again.faces, read.faces)


def test_a_name_may_have_other_letters(tmp_path: Path) -> None:
    (tmp_path / "Radhaus vorn.PLY").write_bytes(WHOLE)
    assert file_beside(tmp_path, "Radhaus vorn.PLY") == tmp_path / "Radhaus vorn.PLY"


def test_nothing_is_turned_over_where_the_scan_lies_in_the_bodys_axes(tmp_path: Path) -> None:
    """Turned over it would swap ahead and behind, with nothing to turn it back."""
    (tmp_path / "well.ply").write_bytes(mesh().export(file_type="ply"))
    with pytest.raises(ProfileError, match="nothing is turned over"):
        load_profile(profile(tmp_path, "well.ply", ", mirrored: true"))
