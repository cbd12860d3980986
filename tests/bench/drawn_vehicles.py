"""Vehicles drawn from seeds, odd ones among them, for the benchmarks: profiles of two axles, and lists of candidates.

Suspensions and parts are drawn by the generators of the tests (`reference/mesh.py`, `reference/points_solver.py`,
`test_against_mesh.py`, `test_hidden_contacts.py`), whatever part comes out near whatever wheel. A *trait* is what a
vehicle is odd in, by which it is named.
"""

from __future__ import annotations

import copy
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from reference import mesh
from reference.points_solver import FIVE_LINK, STRUT, WISHBONES, Layout
from test_against_mesh import MAKERS, points
from test_hidden_contacts import hub_place, narrow_part

LAYOUTS = {"wishbones": WISHBONES, "strut": STRUT, "five links": FIVE_LINK}
WIDER = {"15": "17x9 ET20", "16": "18x9 ET10", "14": "16x7.5 ET20", "17": "18x9.5 ET15", "18": "19x9.5 ET15",
         "20": "20x11 ET5"}  # fmt: skip
TIRES = {"14": "205/55R16", "15": "245/45R17", "16": "265/60R18", "17": "255/40R18", "18": "265/35R19",
         "20": "295/35R20"}  # fmt: skip
TOUCHES, CLEAR = -90.0, 400.0  # [mm] how much farther out parts are placed than by the tests, to meet all or none
Rng = np.random.Generator
Axle = dict[str, Any]


# ---------------------------------------------------------------- suspensions


def linkage(rng: Rng, car: mesh.Vehicle, layout: Layout) -> mesh.Vehicle:
    """The same vehicle on rods: a corner of the tests, every point up to 3 mm elsewhere."""
    moved = {name: tuple(np.round(np.array(at) + rng.uniform(-3, 3, 3), 1)) for name, at in layout.points.items()}
    corner = replace(layout, points={name: tuple(map(float, at)) for name, at in moved.items()})
    front = corner.profile()["axles"]["front"]
    keys = ("suspension", "hub_face_width", "travel")
    return on(car, corner.hub_y, {key: front[key] for key in keys}, front["steering"])


def solid_axle(rng: Rng, car: mesh.Vehicle) -> mesh.Vehicle:
    """The same vehicle on a solid axle: steered about two ball joints, or with a panhard bar."""
    y = car.hub_y
    if "steering" in car.axle:
        joints = {"lower_ball": [round(float(rng.uniform(-8, 8)), 1), y - 90, -110],
                  "upper_ball": [round(float(rng.uniform(-25, 0)), 1), y - 120, 120]}  # fmt: skip
    else:
        joints = {"panhard_body": [-180, round(float(rng.uniform(400, 440)), 1), 40], "panhard_axle": [-180, -470, 5]}
    return on(car, y, {"suspension": {"kind": "solid_axle", "points": joints}}, {"lock_left": 30, "lock_right": 27})


def on(car: mesh.Vehicle, hub_y: float, keys: Axle, steering: Axle) -> mesh.Vehicle:
    """The same vehicle with keys of its axle replaced and its hub face elsewhere."""
    profile = copy.deepcopy(car.profile)
    axle = profile["axles"]["front"]
    axle |= copy.deepcopy(keys)
    if "steering" in axle:
        axle["steering"] = dict(steering)
    if "steer_limit" in axle:  # its travels were those of the tape
        travel = axle["travel"]
        axle["steer_limit"] = [[travel["droop"], 1.0], [round(0.4 * travel["bump"]), 1.0], [travel["bump"], 0.7]]
    return replace(car, profile=profile, hub_y=hub_y, centre=car.centre - car.hub_y + hub_y)


def suspended(rng: Rng, kind: str, steered: bool) -> mesh.Vehicle:
    """A vehicle without obstacles: tape, solid axle, or one of LAYOUTS."""
    car = mesh.vehicle(rng, steered=steered)
    if kind == "solid axle":
        return solid_axle(rng, car)
    return linkage(rng, car, LAYOUTS[kind]) if kind in LAYOUTS else car


# ---------------------------------------------------------------- parts


def farther(car: mesh.Vehicle, by: float) -> mesh.Vehicle:
    """As if the tire were larger by so much [mm], so that parts are placed that much farther out."""
    return replace(car, radius=car.radius + by, half=max(car.half + by, 20), rim=car.rim - max(0, min(by, 70)))


def parts(rng: Rng, car: mesh.Vehicle, count: int, first: int = 0, by: float = 0.0) -> list[Axle]:
    """`count` parts as the tests draw them, every kind in turn, placed `by` [mm] farther out."""
    car = farther(car, by)
    drawn = []
    for number in range(count):
        make = MAKERS[(first + number) % len(MAKERS)]
        part = make(rng, car)
        if part["shape"] != "rod":
            part = {"fixed_to": "body", **part}
        drawn.append({"name": f"{make.__name__.replace('_', ' ')} {number}", "tolerance": 2, **part})
    return drawn


def narrow(rng: Rng, car: mesh.Vehicle, number: int) -> Axle:
    """A narrow part just off the tire."""
    kind = ("shoulder", "tread", "sidewall", "any")[number % 4]
    at, out = hub_place(rng, car, kind)
    part = narrow_part(rng, at + np.array([0, car.hub_y, 0]), out)
    return {"name": f"{kind} part {number}", "fixed_to": "body", "tolerance": 2, **part}


def fine_panel(rng: Rng, car: mesh.Vehicle, side: int, solid: bool = False, out: float = 45.0) -> Axle:
    """A wavy sheet of `side` x `side` points inboard of the tire, `out` [mm] from its sidewall straight ahead."""
    x, z = np.meshgrid(np.linspace(-420, 420, side), np.linspace(-100, 480, side), indexing="ij")
    wave = 6 * np.sin(x / rng.uniform(40, 90)) * np.cos(z / rng.uniform(40, 90))
    rows = np.stack([x, car.centre - car.half - out + wave, z], -1)
    more = {"solid": "behind"} if solid else {}
    return {"name": f"sheet of {side} x {side}", "shape": "panel", "fixed_to": "body", "tolerance": 2,
            "rows": points(rows), **more}  # fmt: skip


def fine_edge(rng: Rng, car: mesh.Vehicle, count: int, away: float = 60.0) -> Axle:
    """A fender lip of `count` points over the tire, as a scan gives it."""
    angle = np.linspace(np.radians(170), np.radians(10), count)
    radius = car.radius + away + 40 * np.cos(angle) ** 2 + rng.uniform(-0.3, 0.3, count)
    y = car.centre + 0.9 * car.half + 8 * np.sin(3 * angle)
    at = np.stack([radius * np.cos(angle), y, radius * np.sin(angle)], -1)
    return {"name": f"lip of {count} points", "shape": "edge", "fixed_to": "body", "radius": 3, "tolerance": 2,
            "points": points(at)}  # fmt: skip


def steep_limits(axle: Axle) -> list[list[float]]:
    """A share of the lock that jumps up and down over the travel."""
    at = np.linspace(axle["travel"]["droop"], axle["travel"]["bump"], 9)
    return [[round(float(t), 1), (1.0, 0.4)[number % 2]] for number, t in enumerate(at)]


# ---------------------------------------------------------------- the vehicles


@dataclass(frozen=True)
class Drawn:
    """A vehicle of two axles with the builds `own` (the baseline) and `wanted`; its lists suit the front axle."""

    name: str
    profile: dict[str, Any]
    diameter: float  # [mm] of its own tire, about


Trait = Callable[[Rng, mesh.Vehicle], list[Axle]]
VEHICLES: dict[str, tuple[str, bool, str, Trait]] = {  # name: front suspension, steered, rear suspension, front parts
    "wishbones, all rows touch": ("wishbones", True, "five links", lambda r, c: parts(r, c, 10, by=TOUCHES)),
    "strut, no row touches": ("strut", True, "tape", lambda r, c: parts(r, c, 10, by=CLEAR)),
    "five links": ("five links", True, "five links", lambda r, c: parts(r, c, 10, 2)),
    "tape, sheets of 20 x 20": (
        "tape", True, "solid axle", lambda r, c: [*parts(r, c, 4, 4), fine_panel(r, c, 20),
                                                  fine_panel(r, c, 21, solid=True, out=150)]),
    "solid axle, steered": ("solid axle", True, "solid axle", lambda r, c: parts(r, c, 10, 3)),
    "solid axle": ("solid axle", False, "solid axle", lambda r, c: parts(r, c, 10, 5)),
    "wishbones, 40 obstacles": (
        "wishbones", True, "tape", lambda r, c: parts(r, c, 24, by=25) + [narrow(r, c, k) for k in range(16)]),
    "strut, lip of 500 points": (
        "strut", True, "solid axle", lambda r, c: [*parts(r, c, 6, 5), fine_edge(r, c, 500)]),
    "tape, steep limits": ("tape", True, "tape", lambda r, c: parts(r, c, 8, 1, by=10)),
    "wishbones, all of it": (
        "wishbones", True, "five links", lambda r, c: [*parts(r, c, 12, 7), *(narrow(r, c, k) for k in range(6)),
                                                       fine_panel(r, c, 20), fine_edge(r, c, 500)]),
}  # fmt: skip
STEEP = ("tape, steep limits", "wishbones, all of it")


def wanted(own: Axle) -> Axle:
    """A wheel and tire an inch or two larger than a build's own."""
    inches = own["wheel"].split("x")[0]
    return {**own, "wheel": f"{WIDER[inches]} 5x114.3 CB70.6", "tire": TIRES[inches], "spacer": 0}


def vehicle(front: mesh.Vehicle, rear: mesh.Vehicle, name: str) -> dict[str, Any]:
    """A profile of two axles, with the builds `own` and `wanted`."""
    axles, corners = {}, {}
    for axle, car in (("front", front), ("rear", rear)):
        axles[axle] = car.axle
        corners[axle] = car.profile["builds"]["own"]["front"]
    builds = {"own": corners, "wanted": {axle: wanted(own) for axle, own in corners.items()}}
    return {"format": 1, "name": f"{name} (invented)", "wheelbase": 2750, "axles": axles, "builds": builds,
            "baseline": "own"}  # fmt: skip


def drawn(name: str, seed: int) -> Drawn:
    """The vehicle of VEHICLES by its name."""
    kind, steered, behind, trait = VEHICLES[name]
    rng = np.random.default_rng([2027, list(VEHICLES).index(name), seed])
    front, rear = suspended(rng, kind, steered), suspended(rng, behind, steered=False)
    front.axle["obstacles"] = trait(rng, front)
    rear.axle["obstacles"] = parts(rng, rear, 6, 4, by=15)
    if name in STEEP:
        front.axle["steer_limit"] = steep_limits(front.axle)
    return Drawn(name, vehicle(front, rear, name), 2 * front.radius)


# ---------------------------------------------------------------- lists

MAKES = [f"Make {letter}" for letter in "ABCDEFGH"]


def sizes(diameter: float) -> list[tuple[str, str]]:
    """Rims and the tires that suit them, within 50 mm of a diameter [mm], as (wheel without offset, tire)."""
    from fitment.parts.tire import overall_diameter, rim_range
    from fitment.parts.tire_code import parse_tire

    suitable = []
    for inches in range(15, 21):
        for width in (inches / 2 + add for add in (-1.5, -1.0, -0.5, 0.0, 0.5)):
            for nominal in range(185, 316, 10):
                for aspect in range(25, 80, 5):
                    tire = parse_tire(f"{nominal}/{aspect}R{inches}")
                    low, high = rim_range(tire)
                    if low <= width <= high and abs(overall_diameter(tire) - diameter) <= 50:
                        suitable.append((f"{inches}x{width:g}", tire.code))
    return suitable


def catalogue(rows: int, diameter: float) -> list[list[str]]:
    """As shops have it: sizes x offsets in whole millimetres x makes with a name and a price."""
    known = sizes(diameter)
    table = [["name", "wheel", "tire", "price"]]
    for number in range(rows):
        make, left = divmod(number, len(known) * 61)
        offset, size = divmod(left, len(known))
        wheel, tire = known[size]
        bore = ("70.6", "72.6", "73.1")[make % 3]
        table.append(
            [f"{MAKES[make % len(MAKES)]} {number}", f"{wheel} ET{offset} 5x114.3 CB{bore}", tire,
             str(200 + number * 37 % 900)]
        )  # fmt: skip
    return table


def distinct(rows: int, diameter: float) -> list[list[str]]:
    """No two rows alike: offsets in tenths of a millimetre, every third with a spacer."""
    known = sizes(diameter)
    table = [["wheel", "tire", "spacer"]]
    for number in range(rows):
        turn, size = divmod(number, len(known))
        wheel, tire = known[size]
        offset = -5 + 65 * (turn * 0.6180339887 % 1.0)
        table.append([f"{wheel} ET{offset:.1f} 5x114.3 CB70.6", tire, ("", "", "3")[number % 3]])
    return table


def short(rows: int, diameter: float) -> list[list[str]]:
    """A list of a buyer's length: rows spread over sizes and offsets."""
    table = catalogue(20_000, diameter)
    return [table[0], *table[1 :: 20_000 // rows][:rows]]
