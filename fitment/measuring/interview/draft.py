"""What was answered so far: the profile as it grows, and its text."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any

from fitment.measuring import first_profile as first
from fitment.measuring.first_profile import FirstProfile, profile_of
from fitment.measuring.second_side import with_right
from fitment.measuring.yaml_writer import yaml_text
from fitment.profile.merge import merge_layers

At = tuple[str | int, ...]
SECOND = "second"  # key under which a second reading of the right side is kept until the profile is written
SETUP = ("wheel", "tire", "spacer", "ride")  # what a build says of an axle that is not laid over it
BARE = {"wheel": "spec", "tire": "code", "spacer": "thickness"}  # maps that may be written as this value alone
_LAST = ("axles", "builds", "baseline")  # keys of the profile that stand behind the others
_UNITS = "of text and pictures; a bare number is in mm"
HEAD = (
    "A vehicle as it was measured. Every value was typed as an answer to `fitment new`; beside it stands what it is",
    "and what the sheets read it with. Only a tolerance marked usual was filled in: what that tool gives (common",
    "practice, no published source). Lengths in mm unless a unit stands there, angles in degrees. The left side:",
    "x forward, y outboard, z up. Look at it: fitment show THIS_FILE --out points.png",
)


@dataclass
class Draft:
    """What was answered so far.

    data : the profile as plain data; remarks : what each value is, see `profile_text`
    skipped : key paths of what was not given
    facts : what later questions depend on
    kept : readings that only stand in the file as a remark, by axle
    units : of numbers typed without one; inches are kept in the profile
    look : the answers are those of a first look
    """

    data: dict[str, Any] = field(default_factory=dict)
    remarks: dict[At, str] = field(default_factory=dict)
    skipped: list[At] = field(default_factory=list)
    facts: dict[str, str] = field(default_factory=dict)
    kept: dict[str, list[str]] = field(default_factory=dict)
    units: str = "mm"
    look: bool = False

    def get(self, at: At) -> Any:
        """The value at a path, None where there is none."""
        node: Any = self.data
        for step in at:
            try:
                node = node[step]
            except (KeyError, IndexError, TypeError):
                return None
        return node

    def put(self, at: At, value: Any) -> None:
        """Set the value at a path; maps and lists on the way appear as they are needed."""
        node: Any = self.data
        for step, following in zip(at, (*at[1:], None), strict=True):
            if following is None:
                fresh: Any = value
            else:
                fresh = [] if isinstance(following, int) else {}
            if isinstance(step, int):
                if step == len(node):
                    node.append(fresh)
                elif following is None:
                    node[step] = value
            elif following is None or not isinstance(node.get(step), dict | list):
                node[step] = fresh
            node = node[step]

    def drop(self, at: At) -> None:
        """Take the value at a path out."""
        above = self.get(at[:-1])
        if isinstance(above, dict):
            above.pop(at[-1], None)

    def laid(self, build: str, axle: str) -> dict[str, Any]:
        """The axle with what the build lays over it, its obstacles by name."""
        given = self.get(("builds", build, axle)) or {}
        over = {key: value for key, value in given.items() if key not in SETUP}
        data = merge_layers(self.get(("axles", axle)) or {}, (), [(over, ())]).data
        return data | {"obstacles": {obstacle["name"]: obstacle for obstacle in data.get("obstacles", ())}}

    def donors(self, axle: str) -> tuple[str, ...]:
        """Builds that have other parts on the axle."""
        builds: dict[str, Any] = self.get(("builds",)) or {}
        return tuple(name for name, build in builds.items() if set(build.get(axle, ())) - set(SETUP))

    def take_over(self, donor: str, build: str, axle: str) -> None:
        """Give a build the other parts that a build before it has on the axle."""
        start = ("builds", donor, axle)
        parts = {key: deepcopy(value) for key, value in self.get(start).items() if key not in SETUP}
        for key, value in parts.items():
            self.put(("builds", build, axle, key), value)
        self.remarks |= {
            ("builds", build, *at[2:]): text for at, text in self.remarks.items() if at[:3] == start and at[3] in parts
        }

    def text(self) -> str:
        """The profile as a commented file."""
        if self.look:
            made = self._first_look()
            remarks = self._told(made) | ({("units",): _UNITS} if self.units != "mm" else {})
            return yaml_text(short(made.data), remarks, {}, first.HEAD)
        data = self.profile()
        remarks = {self.shortened(at, data): text for at, text in self.told().items()}
        remarks |= {("units",): _UNITS} if self.units != "mm" else {}
        remarks["baseline",] = "the build that was on the vehicle when it was measured"
        remarks |= {("axles", axle): "; ".join(lines) for axle, lines in self.kept.items()}
        return yaml_text(data, remarks, self._missing(data), HEAD)

    def profile(self) -> dict[str, Any]:
        """The profile as plain data, its keys in the order of the file."""
        units = {"units": self.units} if self.units != "mm" else {}
        data = {"format": 1, **units, **short(self.with_second()[0]), "baseline": self.facts["now"]}
        return {key: data[key] for key in sorted(data, key=lambda key: _LAST.index(key) + 1 if key in _LAST else 0)}

    def with_second(self) -> tuple[dict[str, Any], dict[At, str]]:
        """The data with what was read on the right laid into its axles, and remarks of that."""
        read: dict[str, Any] = self.data.get(SECOND) or {}
        axles, remarks = dict(self.data.get("axles") or {}), dict[At, str]()
        for axle, readings in read.items():
            axles[axle], said = with_right(axles[axle], readings)
            remarks |= {("axles", axle, *at): text for at, text in said.items()}
        data = {key: value for key, value in self.data.items() if key != SECOND}
        return (data | {"axles": axles} if read else data), remarks

    def told(self) -> dict[At, str]:
        """Remarks by the paths of what is written."""
        return {at: text for at, text in self.remarks.items() if at[0] != SECOND} | self.with_second()[1]

    def _first_look(self) -> FirstProfile:
        return profile_of(self.data, self.facts["axles"], self.units)

    def _told(self, made: FirstProfile) -> dict[At, str]:
        """Remarks of a first look, by the paths of what is written."""
        data = short(made.data)
        own = {self.shortened(at, data): text for at, text in self.remarks.items() if at[0] != "first"}
        return {at: text for at, text in own.items() if _has(data, at)} | made.remarks

    @staticmethod
    def shortened(at: At, data: Any) -> At:
        """The path of a value after a wheel that is only a spec was written as that spec."""
        is_bare = len(at) > 1 and BARE.get(str(at[-2])) == at[-1]
        return at[:-1] if is_bare and _has(data, at[:-1]) and not isinstance(_at(data, at[:-1]), dict) else at

    def _missing(self, data: Any) -> dict[At, list[str]]:
        """Names of what was skipped, at the map in which it would stand."""
        left_out: dict[At, list[str]] = {}
        for at in (at for at in self.skipped if at[0] != SECOND):
            depth = next(i for i in range(len(at), -1, -1) if _has(data, at[:i]))
            if depth < len(at) and {"obstacles", "low_points", "adjusters", "builds"}.isdisjoint(map(str, at)):
                names = left_out.setdefault(at[:depth], [])
                names += [str(at[depth])] if str(at[depth]) not in names else []
        return left_out


def _at(data: Any, at: At) -> Any:
    for step in at:
        data = data[step]
    return data


def _has(data: Any, at: At) -> bool:
    try:
        _at(data, at)
    except (KeyError, IndexError, TypeError):
        return False
    return True


def short(node: Any, key: str | int = "") -> Any:
    """Plain data with a wheel that is only a spec as that spec, and so on."""
    if isinstance(node, list):
        return [short(item) for item in node]
    if not isinstance(node, dict):
        return node
    bare = BARE.get(str(key))
    if bare and list(node) == [bare]:
        return node[bare]
    return {name: short(value, name) for name, value in node.items()}
