"""What the page's script needs to try wheels by hand: the room of an axle and the outlines of sizes, as plain numbers.

Lengths are whole hundredths of a millimetre. A line is a list of numbers, each the step from the one before, so that
most have one digit or two. Room and outlines are those of a check: `screening.keep_out` and `parts.sections`.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from fitment.answers.other_wheels import OtherWheels, Row
from fitment.corners import axle_of
from fitment.errors import CodeError, FitmentError
from fitment.frames import Array
from fitment.parts.axle import Setup
from fitment.parts.obstacles import Obstacle, fixed_to_hub
from fitment.parts.sections import (
    BARREL_THICKNESS,
    DISC_THICKNESS,
    barrel_section,
    hub_pad,
    rim_contour,
    tire_section,
    wheel_section,
)
from fitment.parts.tables import specified_rim_diameter
from fitment.parts.tire import Tire
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import OFFSET, Wheel, overall_width, parse_wheel
from fitment.screening.keep_out import Chain, bare
from fitment.units import length_text

HUNDREDTHS = 100
STRAIGHT = 0.02  # [mm] that a tire's outline may lie off its chords: a fifth of what the page tells
UNMOVED = 0.002  # [mm] a reading that moves no point of a part by more is added to what its radius may be off by


# ---------------------------------------------------------------- as data


class Sizes:
    """The rims and tires of a page, each once."""

    def __init__(self) -> None:
        self._rims: dict[Wheel, int] = {}
        self._tires: dict[Tire, int] = {}
        self._pairs: dict[tuple[int, int], list[list[int]]] = {}

    def add(self, wheel: Wheel, tire: Tire) -> tuple[int, int]:
        """Numbers of a rim and a tire; their outlines are kept once. Raises CodeError where none can be drawn."""
        rim = bare(wheel)
        outlines = [_half(tire, rim, largest=largest) for largest in (False, True)]
        barrel_section(rim)
        pair = self._rims.setdefault(rim, len(self._rims)), self._tires.setdefault(tire, len(self._tires))
        self._pairs.setdefault(pair, outlines)
        return pair

    def data(self) -> dict[str, Any]:
        """Rims, tires and mounted tires as the script reads them."""
        return {
            "rims": [_rim_json(rim) for rim in self._rims],
            "tires": [{"code": tire.code, "rim": tire.rim_code} for tire in self._tires],
            "pairs": [[*pair, *outlines] for pair, outlines in self._pairs.items()],
        }


def _rim_json(rim: Wheel) -> dict[str, Any]:
    seat = specified_rim_diameter(rim.rim_diameter) / 2
    return {
        "diameter": rim.rim_diameter, "width": rim.rim_width, "seat": _whole(seat),
        "half": _whole(rim.rim_width * 25.4 / 2), "overall": _whole(overall_width(rim) / 2),
        "contour": _line(rim_contour(rim)), "barrel": _line(np.array(barrel_section(rim).exterior.coords)[:-1]),
    }  # fmt: skip


def _half(tire: Tire, rim: Wheel, *, largest: bool) -> list[int]:
    """The outboard half of a mounted tire outside the rim, from the flange to the crown; the script mirrors it."""
    ring = np.array(tire_section(tire, rim, largest=largest).exterior.coords)[:-1]
    crown = int(np.argmax(np.where(ring[:, 0] == 0, ring[:, 1], 0.0)))  # a tread may stand higher beside the middle
    half = shapely.LineString(ring[2 * crown - len(ring) + 1 : crown + 1])
    return _line(shapely.get_coordinates(half.simplify(STRAIGHT)))


def try_json(tried: Sequence[OtherWheels], profile: str, units: str) -> dict[str, Any]:
    """All that the script needs for every axle; profile : as a command names it. Raises FitmentError."""
    sizes = Sizes()
    axles = [_axle_json(each, sizes, profile) for each in tried]
    return {"units": units, "offset": list(OFFSET), "barrel": _whole(BARREL_THICKNESS), "disc": _whole(DISC_THICKNESS),
            "axles": axles, **sizes.data()}  # fmt: skip


def _axle_json(wheels: OtherWheels, sizes: Sizes, profile: str) -> dict[str, Any]:
    setup = wheels.case.fit.setup
    wheel, tire = setup.wheel, setup.tire
    measured = _plain(wheel) != replace(wheel, spec="", from_backspacing=False)
    own_pair = _pair(sizes, wheel if measured else _plain(wheel), tire)
    pairs = {pair: None for pair in (_pair(sizes, rim, t) for rim, t in wheels.beside) if pair is not None}
    for pair in (own_pair, _pair(sizes, _plain(wheel), tire) if measured else None):
        if pair is not None:
            pairs.setdefault(pair)
    rows = [_row_json(row, sizes, wheels, pairs) for row in wheels.rows]
    command = ["fitment", "check", profile, "--build", wheels.case.ready.build, "--axle"]
    command.append(axle_of(wheels.case.fit.axle.name))
    served = () if wheels.case.fit.axle.service is None else ("what happens in service",)
    return {
        "name": wheels.case.fit.axle.name,
        "command": " ".join(map(shlex.quote, command)),
        "parts": [_part_json(*part) for part in wheels.parts],
        "assumed": wheels.assumed,
        "own": _setup_json(own_pair, setup) | {"metal": _metal(setup) if measured else None,
                                               "tolerance": _whole(wheel.offset_tolerance),
                                               "tire": _plain_tire(tire)},
        "pairs": [list(pair) for pair in pairs],
        "rows": rows,
        "left": [*(f"{name}: {reason}" for name, reason in wheels.case.fit.not_checked), *served],
    }  # fmt: skip


def _pair(sizes: Sizes, wheel: Wheel, tire: Tire) -> tuple[int, int] | None:
    try:
        return sizes.add(wheel, tire)
    except CodeError:
        return None


def _plain(wheel: Wheel) -> Wheel:
    """The wheel as its spec alone has it."""
    return replace(parse_wheel(wheel.spec), spec="", from_backspacing=False)


def _plain_tire(tire: Tire) -> bool:
    """Whether the code tells all of a tire."""
    return replace(parse_tire(tire.code), market=tire.market) == tire


def _setup_json(pair: tuple[int, int] | None, setup: Setup) -> dict[str, Any]:
    wheel = setup.wheel
    pad = hub_pad(replace(wheel, pad_diameter=None, pad_thickness=None)).bounds
    return {
        "pair": pair, "size": wheel.spec.split()[0], "offset": wheel.offset, "spacer": setup.spacer.thickness,
        "tail": "".join([f" {wheel.bolt_circle}" if wheel.bolt_circle else "",
                         f" CB{wheel.centre_bore:g}" if wheel.centre_bore else ""]),
        "pad": [_whole(value) for value in pad[1:]],
    }  # fmt: skip


def _metal(setup: Setup) -> list[int]:
    """The metal of a measured wheel about its mounting face."""
    return _line(np.array(wheel_section(setup.wheel).exterior.coords)[:-1])


def _row_json(row: Row, sizes: Sizes, wheels: OtherWheels, pairs: dict[tuple[int, int], None]) -> dict[str, Any]:
    if row.setup is None:
        return {"name": row.name, "why": row.reason}
    try:
        pair = sizes.add(row.setup.wheel, row.setup.tire)
    except FitmentError as error:
        return {"name": row.name, "why": str(error)}
    pairs.setdefault(pair)
    other = row.setup.ride != wheels.case.fit.setup.ride
    why = f"its ride height, {length_text(row.setup.ride, 'mm')}, is not the build's: here the build's counts"
    return {"name": row.name, **_setup_json(pair, row.setup)} | ({"aside": why} if other else {})


def _part_json(obstacle: Obstacle, lines: Sequence[Chain], thicker: float) -> dict[str, Any]:
    moves = [chain.moved for chain in lines]
    counts = moves[0].shape[1] if moves else 0
    most = [max(float(np.linalg.norm(m[:, i], axis=1).max(initial=0.0)) for m in moves) for i in range(counts)]
    kept = [i for i, size in enumerate(most) if size > UNMOVED]
    small = sum(size for size in most if size <= UNMOVED)
    return {
        "name": obstacle.name,
        "radius": _whole(obstacle.radius),
        "against": _whole(obstacle.tolerance + thicker + small),
        "asked": {part: obstacle.allowance_to(part) for part in obstacle.meets},
        "still": fixed_to_hub(obstacle),
        "readings": len(kept),
        "lines": [
            [_line(chain.plane), *(_line(chain.moved[:, i]) for i in kept), np.flatnonzero(chain.notch).tolist()]
            for chain in lines
        ],
    }


def _whole(length: float) -> int:
    return round(length * HUNDREDTHS)


def _line(points: Array) -> list[int]:
    """Points (n, 2) [mm] as steps in hundredths: y', r, y', r, ..."""
    whole = np.rint(np.asarray(points) * HUNDREDTHS).astype(int)
    return np.diff(whole, axis=0, prepend=np.zeros((1, 2), dtype=int)).ravel().tolist()
