"""Write the invented scan of `profiles/scanned.yaml` again: python gallery/scan_demo.py

No such vehicle exists. The well is a surface by formulas, seen as a phone sees it: in metres and the phone's own axes,
with noise and holes, the old wheel and the floor in it. Then what a tape finds of the same well is printed, as the
profile has it: reference points, the lip, and rows of the liner, each off by about a millimetre; and three places on
the rim's edge as they are picked in the scan.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
TARGET = Path(__file__).parent.parent / "profiles" / "scanned_well.ply"
HUB = np.array([0.0, 786.0, 0.0])  # of the hub's face, body frame [mm]
GROUND = -322.0  # [mm]
WALL = 500.0  # [mm] the inner wall from the centre plane
# (y', r) of the old tire from inside outward, then its disc [mm]
TIRE = [(-134.0, 215.0), (-137.0, 262.0), (-118.0, 322.0), (-98.0, 333.0), (28.0, 333.0), (48.0, 322.0), (67.0, 262.0),
        (46.0, 212.0), (6.0, 184.0), (14.0, 90.0), (14.0, 30.0)]  # fmt: skip
# (y', r) of its rim's edge: the flange of a 15x6 ET35, flat from 3 mm below its tip on [mm]
RIM_EDGE = [(44.0, 209.6), (50.9, 207.6), (53.9, 204.6), (53.9, 200.6), (53.9, 196.6), (50.9, 193.6), (30.0, 189.0)]
CAMBER, TOE_IN = -0.5, 0.05  # [deg] of the wheel
NOISE = 0.7  # [mm]
HOLES = [(70.0, 0.55, 30.0), (112.0, 0.3, 22.0), (140.0, 0.62, 26.0)]  # clock [deg], share across, radius [mm]
TAPE, PICKED = 1.0, 1.5  # [mm]
LINER = (0, 13, 24, 30, 52)  # places of a line that the tape reads


def roof(angle: Array) -> Array:
    """How far the liner's roof is from the hub's axis [mm]; angle [deg], 0 = forward, 90 = up."""
    return np.asarray(472.0 + 26.0 * np.cos(np.radians(angle)) ** 2)


def section(angle: float) -> Array:
    """The well at a clock angle as a line of (y [mm], distance from the hub's axis [mm]), from inside outward."""
    r = float(roof(np.array(angle)))
    bulge = 26.0 * np.exp(-(((angle - 62.0) / 9.0) ** 2))  # a bracket's cover on the inner wall
    fillet = [(WALL + 60.0 * (1 - np.cos(a)), r - 60.0 + 60.0 * np.sin(a)) for a in np.radians(np.linspace(15, 90, 6))]
    lip = [(868.0, r), (881.0, r - 6.0), (884.0, r - 20.0), (884.0, r - 46.0), (866.0, r - 48.0)]
    wall = [(WALL + bulge * np.exp(-(((s - 320.0) / 45.0) ** 2)), s) for s in np.linspace(170.0, r - 60.0, 25)]
    return np.array([*wall, *fillet, *((y, r) for y in np.linspace(WALL + 75.0, 860.0, 22)), *lip])


def swept(lines: Array, angles: Array) -> tuple[Array, NDArray[np.int64], Array]:
    """Places of lines (a, n, 2) at their angles (a,), their triangles, and (clock, share across) of each place."""
    a, n = lines.shape[:2]
    turn = np.radians(angles)[:, None]
    places = np.stack([lines[..., 1] * np.cos(turn), lines[..., 0], lines[..., 1] * np.sin(turn)], axis=-1)
    first = (np.arange(a - 1)[:, None] * n + np.arange(n - 1)).reshape(-1, 1)
    cells = np.concatenate([first + np.array(step) for step in ((0, 1, n), (1, n + 1, n))])
    where = np.stack(np.broadcast_arrays(angles[:, None], np.linspace(0, 1, n)), axis=-1).reshape(-1, 2)
    return places.reshape(-1, 3), cells, where


def body() -> tuple[Array, NDArray[np.int64]]:
    """Everything that the phone sees, in the body frame [mm]."""
    angles = np.linspace(-8.0, 188.0, 128)
    well, cells, where = swept(np.stack([section(angle) for angle in angles]), angles)
    for clock, across, radius in HOLES:
        near = np.argmin(np.abs((where - (clock, across)) / (1.0, 0.01)).sum(axis=1))
        gone = np.linalg.norm(well - well[near], axis=1) < radius
        cells = cells[~gone[cells].any(axis=1)]
    around = np.linspace(0.0, 360.0, 73)
    wheel, on_wheel = revolved(TIRE, around)
    wheel[:, 2] = np.maximum(wheel[:, 2], GROUND)  # where it stands on the floor
    x, y = np.meshgrid(np.linspace(-600.0, 600.0, 21), np.linspace(560.0, 1050.0, 10))
    floor = np.stack([x.ravel(), y.ravel(), np.full(x.size, GROUND)], axis=-1)
    first = (np.arange(9)[:, None] * 21 + np.arange(20)).reshape(-1, 1)
    on_floor = np.concatenate([first + np.array(step) for step in ((0, 1, 21), (1, 22, 21))])
    rim, on_rim = revolved(RIM_EDGE, np.linspace(0.0, 360.0, 109))
    starts = np.cumsum([0, len(well), len(wheel), len(floor)])
    faces = [own + start for own, start in zip((cells, on_wheel, on_floor, on_rim), starts, strict=True)]
    return np.concatenate([well, wheel, floor, rim]), np.concatenate(faces)


def revolved(outline: list[tuple[float, float]], angles: Array) -> tuple[Array, NDArray[np.int64]]:
    """What a line (y', r) sweeps about the old wheel's spin axis: places in the body frame [mm], and triangles."""
    places, cells, _ = swept(np.repeat(np.array(outline)[None], len(angles), axis=0), angles)
    return on_hub(places), cells


def on_hub(places: Array) -> Array:
    """Places of the old wheel from the hub's face in the body frame [mm]: it leans by camber and turns by toe."""
    lean, turn = np.radians((-CAMBER, TOE_IN))
    about_x = np.array([[1, 0, 0], [0, np.cos(lean), -np.sin(lean)], [0, np.sin(lean), np.cos(lean)]])
    about_z = np.array([[np.cos(turn), np.sin(turn), 0], [-np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    return np.asarray(places @ (about_z @ about_x).T + HUB)


def phone(places: Array) -> Array:
    """Places of the body in the phone's own axes [m]: turned about the vertical, y up, from where it began."""
    c, s = np.cos(np.radians(37.0)), np.sin(np.radians(37.0))
    x, y, z = ((places - HUB) / 1000.0).T
    return np.stack([c * x - s * y + 0.31, z + 0.94, -(s * x + c * y) - 1.12], axis=-1)


def ply(places: Array, faces: NDArray[np.int64]) -> bytes:
    """A binary PLY file."""
    head = (
        "ply\nformat binary_little_endian 1.0\ncomment invented for demonstration, no such vehicle exists\n"
        f"element vertex {len(places)}\nproperty float x\nproperty float y\nproperty float z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    rows = np.zeros(len(faces), [("count", "u1"), ("corners", "<i4", 3)])
    rows["count"], rows["corners"] = 3, faces
    return head.encode() + places.astype("<f4").tobytes() + rows.tobytes()


def at(angle: float, index: int) -> Array:
    """A place of the well: of the line at a clock angle, by its number."""
    y, r = section(angle)[index]
    return np.array([r * np.cos(np.radians(angle)), y, r * np.sin(np.radians(angle))])


def write() -> None:
    """The scan, and what a tape finds."""
    chance = np.random.default_rng(17)
    places, faces = body()
    edge = np.random.default_rng(18)
    on_rim = 109 * len(RIM_EDGE)  # last, with a noise of its own: what was drawn before it stays
    noise = [chance.normal(0.0, NOISE, (len(places) - on_rim, 3)), edge.normal(0.0, NOISE, (on_rim, 3))]
    TARGET.write_bytes(ply(phone(places + np.concatenate(noise)), faces))
    marks = {
        "hub centre": HUB + np.array([0, 12, 0]),
        "inner wall front": at(30.0, 8),
        "liner top, inboard": at(90.0, 30),
    }
    marks |= {f"lip {name}": at(angle, -2) for name, angle in (("front", 15.0), ("top", 90.0), ("rear", 165.0))}
    lines = []
    for name, place in marks.items():
        seen = phone(place[None] + chance.normal(0.0, NOISE, 3))[0]
        x, y, z = place - HUB + chance.normal(0.0, TAPE, 3)
        found = (
            f"scan: [{seen[0]:.4f}, {seen[1]:.4f}, {seen[2]:.4f}], at: {{ahead: {x:.0f}, up: {z:.0f}, out: {y:.0f}}}"
        )
        lines.append(f"- {{name: {name!r}, {found}}}")

    def taped(angle: float, index: int) -> str:
        x, y, z = at(angle, index) + chance.normal(0.0, TAPE, 3)
        return f"[{x:.0f}, {y:.0f}, {z:.0f}]"

    clock = np.linspace(0.0, 180.0, 13).tolist()
    lines.append(f"points: [{', '.join(taped(angle, -1) for angle in clock)}]")
    lines += [f"- [{', '.join(taped(angle, index) for index in LINER)}]" for angle in clock]
    angle = np.radians([40.0, 160.0, 280.0])
    picked = np.stack([204.6 * np.cos(angle), np.full(3, 53.9), 204.6 * np.sin(angle)], axis=-1)
    seen = phone(on_hub(picked + edge.normal(0.0, PICKED, picked.shape)))
    lines.append(f"rim_edge: {{edge: [{', '.join(f'[{x:.4f}, {y:.4f}, {z:.4f}]' for x, y, z in seen)}]}}")
    sys.stdout.write("\n".join([*lines, ""]))


if __name__ == "__main__":
    write()
