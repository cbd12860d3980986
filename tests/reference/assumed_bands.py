"""The smallest gap that any vehicle within assumed bands has: plain trial of very many, none of the program's motion.

A vehicle is a set of readings; each is drawn from its band, its ends first. It is moved by `tape_motion`, which knows
only the definition of a tape-measured suspension; parts are points, and their distance to the tire's outline is that of
a point to a polygon, from shapely. Around the smallest gaps the search goes on in narrower bands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
import shapely
from reference.tape_motion import Tape

SPACING = 6.0  # [mm] of the points of a part
TRAVELS, SHARES = np.linspace(-1, 1, 7), np.linspace(-1, 1, 9)
ENDS = 64  # vehicles with every reading at an end of its band
INSIDE = 16  # vehicles with readings anywhere in it
WIDTHS = (1.0, 0.25)  # of the bands in which the search goes on


@dataclass(frozen=True)
class Part:
    """A straight part: its ends (2, 3) and its radius [mm]."""

    ends: np.ndarray
    radius: float

    @property
    def points(self) -> np.ndarray:
        """Points of its core (n, 3)."""
        n = int(np.ceil(np.linalg.norm(self.ends[1] - self.ends[0]) / SPACING)) + 1
        return self.ends[0] + np.linspace(0, 1, n)[:, None] * (self.ends[1] - self.ends[0])


def tape_of(reading: Mapping[str, float], half_track: float) -> tuple[Tape, float, float]:
    """The suspension of a vehicle with these readings, droop and bump."""
    lean = np.tan(np.radians([reading["caster"], reading["kingpin_inclination"]])) * 200
    middle = np.array([reading["ahead"], half_track - reading["offset"], 0.0])
    up = np.array([-lean[0], -lean[1], 200.0])
    tape = Tape(
        np.array([0.0, half_track, 0.0]), reading["camber"], reading["toe_in"], reading["camber_per_100mm"],
        reading["track_per_100mm"], np.stack([middle - up, middle + up]), reading["lock_left"], reading["lock_right"],
        np.array([[0.0, 1.0]]), reading.get("camber_bend", 0.0), reading.get("out_bend", 0.0),
        reading.get("camber_read", 1.0), reading.get("out_read", 1.0),
    )  # fmt: skip
    return tape, reading["droop"], reading["bump"]


def gaps(
    reading: Mapping[str, float], half_track: float, parts: Sequence[Part], outline: np.ndarray, places: np.ndarray
) -> np.ndarray:
    """Smallest gap (parts,) over places (n, 2), shares of travel and of lock, and where: gap (n, parts)."""
    tape, droop, bump = tape_of(reading, half_track)
    travel = np.where(places[:, 0] < 0, -droop, bump) * places[:, 0]
    lock = np.where(places[:, 1] < 0, tape.lock_right, tape.lock_left) * places[:, 1]
    steer = lock - tape.toe_in * (1 - np.abs(places[:, 1]))
    hub, frame = tape.poses(travel, steer)
    columns = []
    for part in parts:
        local = np.einsum("nji,npj->npi", frame, part.points[None] - hub[:, None])
        plane = np.stack([local[..., 1], np.hypot(local[..., 0], local[..., 2])], -1)
        columns.append(to_outline(plane, outline).min(axis=1) - part.radius)
    return np.stack(columns, -1)


def to_outline(points: np.ndarray, outline: np.ndarray) -> np.ndarray:
    """Distance of points (..., 2) to a closed outline (m, 2), 0 inside."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    far = np.linalg.norm(np.maximum(np.maximum(low - points, points - high), 0), axis=-1)
    near = far <= far.min(axis=-1, keepdims=True) + 25.0  # the box is at most so far off the outline
    distance = far.copy()
    distance[near] = shapely.distance(shapely.points(points[near]), shapely.Polygon(outline))
    return distance


def smallest(
    known: Mapping[str, float], bands: Mapping[str, float], half_track: float, parts: Sequence[Part],
    outline: np.ndarray, random: np.random.Generator,
) -> np.ndarray:  # fmt: skip
    """Smallest gap (parts,) [mm] over all vehicles within the bands, in all travel and steering."""
    names = list(bands)
    size = np.array([bands[name] for name in names])
    grid = np.array(list(product(TRAVELS, SHARES)))

    def vehicle(at: np.ndarray) -> dict[str, float]:
        return {**known, **{name: known[name] + d for name, d in zip(names, at * size, strict=True)}}

    ends = random.choice([-1.0, 1.0], (ENDS, len(names)))
    if 2 ** len(names) <= ENDS:
        ends = np.array(list(product((-1.0, 1.0), repeat=len(names))))
    tried = np.concatenate([ends, random.uniform(-1, 1, (INSIDE, len(names))), np.zeros((1, len(names)))])
    every = np.array([gaps(vehicle(at), half_track, parts, outline, grid) for at in tried])
    best = np.empty(len(parts))
    for k, part in enumerate(parts):
        i, j = np.unravel_index(np.argmin(every[..., k]), every.shape[:2])
        at, place, least = tried[i], grid[j], every[i, j, k]
        for width in WIDTHS:
            for _ in range(2):
                for axis in [*range(len(names)), None]:
                    steps = (-2 * width, 2 * width) if axis is not None else [0.0]
                    for step in steps:
                        moved = at.copy()
                        if axis is not None:
                            moved[axis] = np.clip(moved[axis] + step, -1, 1)
                        around = np.clip(place + np.array(list(product((-1, 0, 1), repeat=2))) * width * 0.25, -1, 1)
                        there = gaps(vehicle(moved), half_track, [part], outline, around)[:, 0]
                        if there.min() < least:
                            at, place, least = moved, around[np.argmin(there)], there.min()
        best[k] = least
    return best
