"""Every clearance of many random vehicles against two independent references (see reference/mesh.py).

The program is asked on its command line only; the references know nothing but the poses, sections and
placed parts that its answer carries, and the definition of a clearance. Together they are a check from
both sides: the mesh has facets but no idea of the half plane, the cells have no facets and know depth.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from reference import mesh

CLEARANCE = 0.05  # [mm] the contract, positive clearances
DEPTH, DEEP, ROUGH = 0.5, 20.0, 0.1  # [mm], [mm], [-] the contract, overlaps: beyond DEEP a share of the depth
GAP, OVERLAP_GAP = 0.01, 0.1  # [mm] what the cells' least may be too large by
TIGHTEST = 2  # poses of an obstacle and part that the cells measure beside its overlaps; the mesh measures all
SCENES = range(16)  # every kind of part in more than half of them, two axles that do not steer
Rng = np.random.Generator
Part = dict[str, Any]


def points(at: np.ndarray) -> Any:
    return np.round(at, 3).tolist()


def fender(rng: Rng, car: mesh.Vehicle) -> Part:
    """An arch over the tire, outboard: a line of straight pieces or a smooth curve."""
    away = car.radius + rng.uniform(20, 110)
    angle = np.radians(np.sort(rng.uniform(25, 155, rng.integers(3, 7))))[::-1]
    y = car.centre + car.half * rng.uniform(0.5, 1.3) + rng.uniform(-15, 15, len(angle))
    at = np.stack([away * np.cos(angle), y, away * np.sin(angle)], -1)
    return {
        "shape": "edge",
        "smooth": bool(rng.random() < 0.6),
        "radius": float(rng.choice([0, 3, 6])),
        "points": points(at),
    }


def liner(rng: Rng, car: mesh.Vehicle) -> Part:
    """A coarse sheet over the tread: its corners and edges are far, its middle is near."""
    x, y = np.meshgrid(np.linspace(-1, 1, rng.integers(2, 4)) * rng.uniform(200, 450), [-1.0, 1.0], indexing="ij")
    y = car.centre + y * rng.uniform(90, 220)
    z = car.radius + rng.uniform(15, 120) + rng.uniform(-20, 20, x.shape)
    return {"shape": "panel", "radius": float(rng.choice([0, 2])), "rows": points(np.stack([x, y, z], -1))}


def inner_panel(rng: Rng, car: mesh.Vehicle) -> Part:
    """A sheet beside the inboard sidewall, coarse or fine, warped."""
    shape = rng.integers(2, 5, 2)
    x, z = np.meshgrid(np.linspace(-420, 420, shape[0]), np.linspace(-100, 480, shape[1]), indexing="ij")
    y = car.centre - car.half - rng.uniform(5, 200) + rng.uniform(-15, 15, x.shape)
    return {"shape": "panel", "radius": float(rng.choice([0, 0, 1.5])), "rows": points(np.stack([x, y, z], -1))}


def far_panel(rng: Rng, car: mesh.Vehicle) -> Part:
    """One tilted cell in front of or behind the tread, clear in most poses."""
    side = rng.choice([-1, 1])
    u, v = np.meshgrid([-1.0, 1.0], [-1.0, 1.0], indexing="ij")
    at = np.array(
        [side * (car.radius + rng.uniform(60, 220)), car.centre - rng.uniform(-60, 200), rng.uniform(-80, 200)]
    )
    first, second = rng.normal(size=(2, 3)) * [40, 150, 150]
    rows = at + u[..., None] * first + v[..., None] * second + rng.uniform(-15, 15, (2, 2, 3))
    return {"shape": "panel", "rows": points(rows)}


def valance(rng: Rng, car: mesh.Vehicle) -> Part:
    """A straight line across the tread, in front or behind."""
    x = rng.choice([-1, 1]) * (car.radius + rng.uniform(30, 160))
    ends = [[x, car.centre - rng.uniform(50, 300), 0], [x, car.centre + rng.uniform(50, 300), 0]]
    at = np.array(ends) + rng.uniform(-60, 60, (2, 3))
    return {"shape": "edge", "radius": float(rng.choice([0, 4])), "points": points(at)}


def damper(rng: Rng, car: mesh.Vehicle) -> Part:
    """A thick rod from the body to the knuckle, inboard of the tire."""
    y = car.centre - car.half - rng.uniform(40, 140)
    top, foot = np.array([rng.uniform(-60, 60), y - 60, 450]), np.array([rng.uniform(-60, 60), y, -80])
    return {
        "shape": "rod", "radius": round(float(rng.uniform(10, 45)), 1),
        "from": {"fixed_to": "body", "at": points(top)}, "to": {"fixed_to": "knuckle", "at": points(foot)},
    }  # fmt: skip


def half_shaft(rng: Rng, car: mesh.Vehicle) -> Part:
    """A rod that passes close to the spin axis, out to the back of the wheel: its trace has a kink."""
    near = np.array([rng.uniform(-25, 25), car.hub_y - rng.uniform(40, 90), rng.uniform(-25, 25)])
    far = np.array([rng.uniform(-60, 60), car.hub_y - rng.uniform(250, 500), rng.uniform(-60, 60)])
    return {
        "shape": "rod", "radius": round(float(rng.uniform(0, 14)), 1),
        "from": {"fixed_to": "body", "at": points(far)}, "to": {"fixed_to": "knuckle", "at": points(near)},
    }  # fmt: skip


def ball(rng: Rng, car: mesh.Vehicle) -> Part:
    """A ball on the knuckle or the body, in the barrel, behind it, or over the tire."""
    where = rng.integers(3)
    angle = rng.uniform(0, 2 * np.pi)
    r = (car.rim - rng.uniform(30, 90), car.radius * rng.uniform(0.3, 1), car.radius + rng.uniform(10, 90))[where]
    y = (
        car.hub_y - rng.uniform(20, 90),
        car.centre - car.half - rng.uniform(30, 120),
        car.centre + rng.uniform(-90, 90),
    )[where]
    at = np.array([r * np.cos(angle), y, r * np.sin(angle)])
    return {
        "shape": "ball", "fixed_to": "body" if where == 1 and rng.random() < 0.5 else "knuckle",
        "radius": round(float(rng.uniform(0, 26)), 1), "at": points(at),
    }  # fmt: skip


def in_barrel(rng: Rng, car: mesh.Vehicle) -> Part:
    """A bracket on the knuckle inside the barrel: an edge, or a small panel."""
    r = car.rim - rng.uniform(25, 70)
    angle = rng.uniform(0, 2 * np.pi) + np.sort(rng.uniform(0, 0.9, 3))
    y = car.hub_y - rng.uniform(15, 110, 3)
    at = np.stack([r * np.cos(angle), y, r * np.sin(angle)], -1)
    if rng.random() < 0.5:
        return {"shape": "edge", "fixed_to": "knuckle", "radius": float(rng.choice([0, 5])), "points": points(at)}
    rows = np.stack([at, at * [0.8, 1, 0.8] + [0, 10, 0]], 1)
    return {"shape": "panel", "fixed_to": "knuckle", "rows": points(rows)}


def stray_edge(rng: Rng, car: mesh.Vehicle) -> Part:
    """A long skew line somewhere near the wheel, sampled in a box round it."""
    box = np.array([car.radius * 1.3, 150, car.radius * 1.3])
    away = np.array([0, car.centre + rng.choice([-1, 1]) * (car.half + 170), 0])
    return {
        "shape": "edge",
        "radius": float(rng.choice([0, 2])),
        "points": points(away + rng.uniform(-1, 1, (3, 3)) * box),
    }


MAKERS = (fender, liner, inner_panel, far_panel, valance, damper, half_shaft, ball, in_barrel, stray_edge)


def scene(seed: int) -> dict[str, Any]:
    """A profile of six parts; every kind of part is met in turn. One in eight axles does not steer."""
    rng = np.random.default_rng([2024, seed])
    car = mesh.vehicle(rng, steered=seed % 8 != 7)
    makers = [MAKERS[(seed + i) % len(MAKERS)] for i in (0, 1, 3, 4, 6, 8)]
    parts = []
    for number, make in enumerate(makers):
        part = make(rng, car)
        if part["shape"] != "rod":
            part = {"fixed_to": "body", **part}
        parts.append({"name": f"{make.__name__} {number}", **part})
    car.axle["obstacles"] = parts
    return car.profile


DISC = [[-40, 100], [60, 100], [60, 300], [-40, 300], [-40, 100]]  # a thick-walled tube
STILL = {"rotation": np.eye(3).tolist(), "origin_mm": [0, 0, 0]}


@pytest.mark.parametrize(
    ("shape", "placed", "expected"),
    [
        ("ball", [0, 10, 340], 40),
        ("ball", [160, 100, 240], 40),  # beside the flat side
        ("ball", [30, 0, 40], 50),  # in the bore
        ("ball", [0, 130, 0], np.hypot(70, 100)),  # on the axis
        ("edge", [[-500, 0, 333], [500, 0, 333]], 33),  # nearest between its ends
        ("edge", [[-500, 90, -400], [500, 90, 400]], 30),  # its trace runs down the flat side and back
        ("rod", [[0, -200, 0], [0, 200, 0]], 100),  # the axis itself
        ("edge", [[0, 200, 260], [0, 60, 400], [0, 60, 900]], 100 / np.sqrt(2)),  # y + z = 460 to the corner (60, 300)
        ("panel", [[[-400, -300, 325], [-400, 300, 325]], [[400, -300, 325], [400, 300, 325]]], 25),
        # the plane z = 450 + y / 2, above the corner (-40, 300) by 130
        ("panel", [[[-900, -900, 0], [-900, 900, 900]], [[900, -900, 0], [900, 900, 900]]], 130 / np.hypot(1, 0.5)),
    ],
)
def test_both_references_give_distances_known_in_closed_form(shape: str, placed: Any, expected: float) -> None:
    core = mesh.pieces(shape, placed)
    by_mesh = mesh.mesh_distances(mesh.Solid.of(DISC), [STILL], [mesh.tree_of_pieces(core)])
    by_cells = mesh.least(mesh.Section(DISC), core, np.zeros(len(core), dtype=int), GAP)
    assert by_mesh[0] == pytest.approx(expected, abs=mesh.FACET + 1e-6)
    assert expected - 1e-9 <= by_cells[0] <= expected + GAP + 1e-9


@pytest.mark.slow
@pytest.mark.parametrize("seed", SCENES)
def test_clearances_agree_with_a_mesh_and_with_exact_cells(seed: int, tmp_path: Path) -> None:
    answer = mesh.check(tmp_path, scene(seed))
    poses = answer["poses"]
    solids = {part: mesh.Solid.of(section) for part, section in answer["sections"].items()}
    exact = {part: mesh.Section(section) for part, section in answer["sections"].items()}
    wrong = []
    for entry in mesh.entries(answer):
        label, core = f"{entry.obstacle['name']} / {entry.part}", entry.core
        outside = np.flatnonzero(core > 0.1)  # where a mesh can tell: the core is out of the solid
        by_mesh = mesh.mesh_distances(solids[entry.part], poses, mesh.trees_of(entry.obstacle))
        wrong += _misses(f"{label}, mesh", core, outside, by_mesh[outside], CLEARANCE)
        assert np.all(entry.clearance[by_mesh <= 0] <= 0), f"{label}: the mesh meets the part, the program says clear"

        tightest = np.argsort(np.abs(entry.clearance))[:TIGHTEST]
        over = np.flatnonzero(entry.clearance <= 0)
        near = np.setdiff1d(tightest, over)
        by_cells = mesh.least_by_pose(exact[entry.part], entry.obstacle, poses, near, GAP)
        wrong += _misses(f"{label}, cells", core, near, by_cells, CLEARANCE)
        by_cells = mesh.least_by_pose(exact[entry.part], entry.obstacle, poses, over, OVERLAP_GAP)
        depth = entry.obstacle["radius_mm"] - by_cells
        wrong += _misses(f"{label}, cells", core, over, by_cells, np.where(depth > DEEP, ROUGH * depth, DEPTH))
    assert not wrong, "\n".join(wrong)


def _misses(label: str, ours: np.ndarray, chosen: np.ndarray, theirs: np.ndarray, allowed: Any) -> list[str]:
    """allowed : [mm] of all, or of each of those chosen."""
    far = np.abs(ours[chosen] - theirs) > allowed
    return [
        f"{label}, pose {k}: {mine:.4f} mm, reference {other:.4f} mm"
        for k, mine, other in zip(chosen[far], ours[chosen][far], theirs[far], strict=True)
    ]
