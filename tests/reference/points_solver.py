"""Linkages as clouds of points: what a suspension is, and where its points go, from distances alone.

There is no rotation matrix here. A knuckle is the set of its points with all their mutual distances kept (and its
handedness: a mirrored cloud keeps every distance too); a link is one more distance; a strut is three points in line.
The unknowns are the coordinates of the knuckle's points, and the rack's displacement if a steer angle is asked for.
`scipy.optimize.least_squares` (Levenberg-Marquardt) drives the equations to zero, in small steps from the reference
pose. Steering geometry follows from the solved points by the definitions of ISO 8855 as the project states them.

Axes: x forward, y left = outboard, z up; millimetres, degrees. The rack moves the tie rod's inner end along +y.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations
from typing import Any

import numpy as np
from scipy.optimize import least_squares

Point = tuple[float, float, float]
OFFSET, RADIUS = 35.0, 305.0  # [mm] of the wheel that the profiles carry; of its tire, loaded
SPIN_ARM = 200.0  # [mm] outboard of the hub face, the second point of the spin axis

_RODS = {  # (end fixed to the body, end fixed to the knuckle); the last one is moved by the rack
    "double_wishbone": [
        ("lower_inner_front", "lower_ball"),
        ("lower_inner_rear", "lower_ball"),
        ("upper_inner_front", "upper_ball"),
        ("upper_inner_rear", "upper_ball"),
        ("tie_inner", "tie_outer"),
    ],
    "strut": [
        ("lower_inner_front", "lower_ball"),
        ("lower_inner_rear", "lower_ball"),
        ("tie_inner", "tie_outer"),
    ],
    "five_link": [
        (f"{rod}_body", f"{rod}_knuckle") for rod in ("upper_front", "upper_rear", "lower_front", "lower_rear", "toe")
    ],
}


@dataclass(frozen=True)
class Layout:
    """One corner's hardpoints at the reference pose, as a profile states them."""

    kind: str
    points: dict[str, Point]
    hub_y: float
    camber: float = 0.0
    toe_in: float = 0.0

    def moved(self, **points: Point) -> Layout:
        """With some points elsewhere."""
        return replace(self, points={**self.points, **points})

    def profile(self, **front: Any) -> dict[str, Any]:
        """A vehicle with this corner in front, steered; keys of its axle replaced, None removes one."""
        axle: dict[str, Any] = {
            "axle_load": 900,
            "hub_face_width": 2 * self.hub_y,
            "hub_height": 310,
            "suspension": self.suspension,
            "steering": {"lock_left": 16, "lock_right": 14},
            "travel": {"droop": -80, "bump": 95},
            "hub": {"bolt_circle": "5x114.3", "stud": "M12x1.5", "stud_length": 40},
        } | front
        setup = {"wheel": f"17x8 ET{OFFSET:g} 5x114.3 CB67.1", "tire": "225/45R17"}
        return {
            "format": 1,
            "name": "Corner under test (invented)",
            "axles": {"front": {key: value for key, value in axle.items() if value is not None}},
            "builds": {"measured": {"front": setup}},
            "baseline": "measured",
        }

    @property
    def suspension(self) -> dict[str, Any]:
        """As written in a profile."""
        points = {name: list(at) for name, at in self.points.items()}
        return {"kind": self.kind, "camber": self.camber, "toe_in": self.toe_in, "points": points}

    @property
    def rods(self) -> list[tuple[str, str]]:
        """Links by their ends: on the body, on the knuckle; the last is the one the rack moves."""
        return _RODS[self.kind]

    def at(self, name: str) -> np.ndarray:
        """A hardpoint at the reference pose."""
        return np.array(self.points[name], dtype=float)

    @property
    def hub_face(self) -> np.ndarray:
        """Centre of the hub face at the reference pose."""
        return np.array([0.0, self.hub_y, 0.0])

    @property
    def spin(self) -> np.ndarray:
        """Outboard spin axis: steer = atan2(-s_x, s_y) = -toe_in, camber = -asin(s_z)."""
        steer, camber = np.radians(-self.toe_in), np.radians(self.camber)
        return np.array([-np.sin(steer) * np.cos(camber), np.cos(steer) * np.cos(camber), -np.sin(camber)])

    @cached_property
    def knuckle(self) -> dict[str, np.ndarray]:
        """Points fixed to the knuckle, at the reference pose."""
        found = {"hub": self.hub_face, "spin": self.hub_face + SPIN_ARM * self.spin}
        for _, outer in self.rods:
            found[outer] = self.at(outer)
        if self.kind == "strut":
            found |= {"strut_axis_point": self.at("strut_axis_point"), "strut_top_mark": self.at("strut_top")}
        return found


@dataclass(frozen=True)
class Corner:
    """A solved pose: the knuckle's points and the steering axis through two points (lower, upper)."""

    travel: float
    rack: float
    points: dict[str, np.ndarray]
    lower: np.ndarray
    upper: np.ndarray
    worst: float  # largest equation left [mm], here and on the way here

    @property
    def hub(self) -> np.ndarray:
        return self.points["hub"]

    @property
    def spin(self) -> np.ndarray:
        return (self.points["spin"] - self.points["hub"]) / SPIN_ARM

    def angles(self) -> dict[str, float]:
        """Keys and signs as in the JSON of `poses`."""
        return angles(self.spin, self.lower, self.upper)

    def on_ground(self, *, radius: float = RADIUS, offset: float = OFFSET) -> dict[str, float]:
        """Scrub radius and mechanical trail of a wheel of this offset and loaded radius."""
        return on_ground(self.hub, self.spin, self.lower, self.upper, radius=radius, offset=offset)


def angles(spin: np.ndarray, lower: np.ndarray, upper: np.ndarray) -> dict[str, float]:
    """Angles [deg] of a spin axis and a steering axis, by their definitions."""
    steer = np.degrees(np.arctan2(-spin[0], spin[1]))
    return {
        "steer_deg": steer,
        "toe_in_deg": -steer,
        "camber_deg": -np.degrees(np.arcsin(spin[2])),
        "caster_deg": np.degrees(np.arctan2(lower[0] - upper[0], upper[2] - lower[2])),
        "kingpin_inclination_deg": np.degrees(np.arctan2(lower[1] - upper[1], upper[2] - lower[2])),
    }


def on_ground(
    hub: np.ndarray, spin: np.ndarray, lower: np.ndarray, upper: np.ndarray, *, radius: float, offset: float
) -> dict[str, float]:
    """Scrub radius and mechanical trail [mm], by their definitions; no spacer."""
    up = np.array([0.0, 0.0, 1.0])
    down = up - spin[2] * spin
    contact = hub - offset * spin - radius * down / np.linalg.norm(down)
    pierced = lower + (upper - lower) * (contact[2] - lower[2]) / (upper[2] - lower[2])
    y_w = np.array([spin[0], spin[1], 0.0]) / np.hypot(spin[0], spin[1])
    return {
        "scrub_radius_mm": float((contact - pierced) @ y_w),
        "mechanical_trail_mm": float((pierced - contact) @ np.cross(y_w, up)),
    }


class PointCloud:
    """The equations of one layout. Unknowns: x, y, z of every knuckle point, then the rack's displacement."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.names = list(layout.knuckle)
        self.start = np.array([layout.knuckle[name] for name in self.names])
        self.index = {name: k for k, name in enumerate(self.names)}
        self.pairs = np.array(list(combinations(range(len(self.names)), 2)))
        self.spacing = np.linalg.norm(self.start[self.pairs[:, 0]] - self.start[self.pairs[:, 1]], axis=1)
        self.outer = np.array([self.index[outer] for _, outer in layout.rods])
        self.inner = np.array([layout.at(inner) for inner, _ in layout.rods])
        self.length = np.linalg.norm(self.start[self.outer] - self.inner, axis=1)
        # handedness is read from the four points that span the largest volume
        fours = list(combinations(range(len(self.names)), 4))
        self.four = max(fours, key=lambda four: abs(_volume(self.start[list(four)])))
        self.volume = _volume(self.start[list(self.four)])

    def equations(
        self, unknowns: np.ndarray, travel: float, rack: float | None, steer: float | None
    ) -> tuple[np.ndarray, np.ndarray]:
        """Errors [mm] and their derivatives by the unknowns."""
        at, moved = unknowns[:-1].reshape(-1, 3), unknowns[-1]
        size, values, rows = len(unknowns), [], []

        def add(value: float, *parts: tuple[int, np.ndarray], by_rack: float = 0.0) -> None:
            row = np.zeros(size)
            for point, slope in parts:
                row[3 * point : 3 * point + 3] += slope
            row[-1] = by_rack
            values.append(value)
            rows.append(row)

        for (i, j), spacing in zip(self.pairs, self.spacing, strict=True):
            apart = at[i] - at[j]
            add((apart @ apart - spacing**2) / (2 * spacing), (i, apart / spacing), (j, -apart / spacing))
        for k, (outer, inner, length) in enumerate(zip(self.outer, self.inner, self.length, strict=True)):
            steers = k == len(self.outer) - 1
            apart = at[outer] - inner - np.array([0.0, moved if steers else 0.0, 0.0])
            by_rack = -apart[1] / length if steers else 0.0
            add((apart @ apart - length**2) / (2 * length), (outer, apart / length), by_rack=by_rack)
        four = at[list(self.four)]
        scale = np.abs(self.volume) ** (2 / 3)
        add((_volume(four) - self.volume) / scale, *zip(self.four, _volume_slopes(four) / scale, strict=True))
        if self.layout.kind == "strut":
            a, b, top = self.index["strut_axis_point"], self.index["strut_top_mark"], self.layout.at("strut_top")
            along, over = at[b] - at[a], top - at[a]
            stretch = np.linalg.norm(self.start[b] - self.start[a])
            for k, unit in enumerate(np.eye(3)):  # d(u x v) = du x v + u x dv, du = db - da, dv = -da
                by_b, by_v = np.cross(over, unit) / stretch, np.cross(unit, along) / stretch
                add(np.cross(along, over)[k] / stretch, (b, by_b), (a, -by_b - by_v))
        hub, spin = self.index["hub"], self.index["spin"]
        add(at[hub][2] - travel, (hub, np.array([0.0, 0.0, 1.0])))
        if rack is not None:
            add(moved - rack, by_rack=1.0)
        if steer is not None:  # s_x cos + s_y sin = 0
            across = np.array([np.cos(np.radians(steer)), np.sin(np.radians(steer)), 0.0])
            add(float(across @ (at[spin] - at[hub])), (spin, across), (hub, -across))
        return np.array(values), np.array(rows)

    def solved(
        self, unknowns: np.ndarray, travel: float, *, rack: float | None = None, steer: float | None = None
    ) -> np.ndarray:
        """The unknowns that fulfil the equations, near these."""
        found = least_squares(
            lambda x: self.equations(x, travel, rack, steer)[0],
            unknowns,
            jac=lambda x: self.equations(x, travel, rack, steer)[1],
            method="lm",
            xtol=1e-15,
            ftol=1e-15,
            gtol=1e-15,
        )
        return found.x

    def pose(self, travel: float, *, rack: float | None = None, steer: float | None = None, step: float = 25) -> Corner:
        """Walk from the reference pose to a travel and a rack displacement or a steer angle, as far as it goes."""
        unknowns, worst = np.append(self.start.ravel(), 0.0), 0.0
        straight = -self.layout.toe_in
        turn = rack if rack is not None else (steer or 0.0) - straight
        steps = max(1, int(np.ceil(max(abs(travel), abs(turn)) / step)))
        for share in np.arange(1, steps + 1) / steps:
            asked = (share * travel, share * turn if rack is not None else None)
            wanted = straight + share * turn if rack is None else None
            unknowns = self.solved(unknowns, asked[0], rack=asked[1], steer=wanted)
            worst = max(worst, float(np.abs(self.equations(unknowns, *asked, wanted)[0]).max()))
            if worst > 1e-6:  # past a dead point another assembly may close again: no way leads there
                break
        at = dict(zip(self.names, unknowns[:-1].reshape(-1, 3), strict=True))
        lower, upper = self.steering_axis(unknowns, at, travel)
        return Corner(travel, float(unknowns[-1]), at, lower, upper, worst)

    def steering_axis(
        self, unknowns: np.ndarray, at: dict[str, np.ndarray], travel: float
    ) -> tuple[np.ndarray, np.ndarray]:
        """Two points of it: ball joints, or the screw axis of the knuckle while only the rack moves."""
        if self.layout.kind == "double_wishbone":
            return at["lower_ball"], at["upper_ball"]
        if self.layout.kind == "strut":
            return at["lower_ball"], self.layout.at("strut_top")
        slopes = self.equations(unknowns, travel, None, None)[1]
        speeds = np.linalg.lstsq(slopes[:, :-1], -slopes[:, -1], rcond=None)[0].reshape(-1, 3)
        return screw_axis(np.array([at[name] for name in self.names]), speeds)


def screw_axis(points: np.ndarray, speeds: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Two points, 300 mm apart and the second above the first, of a moving body's screw axis."""
    rows, values = [], []
    for point, speed in zip(points - points[0], speeds - speeds[0], strict=True):  # speed = spin x point
        x, y, z = point
        rows += [[0, z, -y], [-z, 0, x], [y, -x, 0]]
        values += list(speed)
    spin = np.linalg.lstsq(np.array(rows), np.array(values), rcond=None)[0]
    return axis_of(points[0], speeds[0], spin)


def axis_of(point: np.ndarray, speed: np.ndarray, spin: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Two points of the screw axis of a body that turns with `spin` and whose `point` moves with `speed`."""
    on_axis = point + np.cross(spin, speed) / (spin @ spin)
    along = spin / np.linalg.norm(spin) * np.sign(spin[2])
    return on_axis, on_axis + 300 * along


def _volume(four: np.ndarray) -> float:
    return float(np.linalg.det(four[1:] - four[0]))


def _volume_slopes(four: np.ndarray) -> list[np.ndarray]:
    a, b, c = four[1:] - four[0]
    slopes = np.array([np.cross(b, c), np.cross(c, a), np.cross(a, b)])
    return np.array([-slopes.sum(0), *slopes])  # type: ignore[return-value]


# Invented corners, asymmetric in every way: no arm axis along x, no link level, camber and toe from zero.
WISHBONES = Layout(
    "double_wishbone",
    {
        "lower_inner_front": (212.0, 361.0, -96.0),
        "lower_inner_rear": (-188.0, 344.0, -113.0),
        "lower_ball": (11.0, 693.0, -141.0),
        "upper_inner_front": (104.0, 431.0, 171.0),
        "upper_inner_rear": (-151.0, 409.0, 152.0),
        "upper_ball": (-19.0, 634.0, 207.0),
        "tie_inner": (131.0, 372.0, -71.0),
        "tie_outer": (146.0, 707.0, -88.0),
    },
    hub_y=781.0,
    camber=-0.7,
    toe_in=0.12,
)
WISHBONES_RACK_BEHIND = WISHBONES.moved(tie_inner=(-142.0, 379.0, -52.0), tie_outer=(-133.0, 688.0, -74.0))
STRUT = Layout(
    "strut",
    {
        "lower_inner_front": (17.0, 378.0, -121.0),
        "lower_inner_rear": (-309.0, 351.0, -104.0),
        "lower_ball": (9.0, 711.0, -139.0),
        "strut_top": (-31.0, 574.0, 548.0),
        "strut_axis_point": (-12.0, 634.0, 161.0),
        "tie_inner": (-141.0, 389.0, -18.0),
        "tie_outer": (-128.0, 694.0, -33.0),
    },
    hub_y=763.0,
    camber=-0.9,
    toe_in=0.08,
)
FIVE_LINK = Layout(
    "five_link",
    {
        "upper_front_body": (181.0, 421.0, 141.0),
        "upper_front_knuckle": (-3.0, 661.0, 174.0),
        "upper_rear_body": (-204.0, 447.0, 129.0),
        "upper_rear_knuckle": (-81.0, 653.0, 163.0),
        "lower_front_body": (318.0, 402.0, -88.0),
        "lower_front_knuckle": (67.0, 689.0, -118.0),
        "lower_rear_body": (-87.0, 318.0, -97.0),
        "lower_rear_knuckle": (-36.0, 681.0, -127.0),
        "toe_body": (-221.0, 374.0, -21.0),
        "toe_knuckle": (-152.0, 669.0, -28.0),
    },
    hub_y=757.0,
    camber=-1.1,
    toe_in=0.15,
)
LAYOUTS = {
    "wishbones, rack in front": WISHBONES,
    "wishbones, rack behind": WISHBONES_RACK_BEHIND,
    "strut": STRUT,
    "five links": FIVE_LINK,
}
