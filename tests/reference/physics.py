"""The same linkages as mechanisms in a general-purpose physics engine (MuJoCo).

Arms are bodies on hinges about their inner pivots, ball joints carry the knuckle, a strut is a rod on a ball joint
that slides along the knuckle's axis, links are bodies with a ball joint at the inner end; loops are closed by the
engine's `connect` constraints. A rack on a slide carries the tie rod. A carriage on three slides is connected to the
centre of the hub face, and its height is held: that is the travel. No gravity, no contact, all joints damped.

`relax` lets time run until the mechanism rests. `project` takes the last steps: Newton's method on the engine's own
constraint errors and Jacobian (`efc_pos`, `efc_J`), integrated by the engine. The project's mathematics is nowhere
in here; of the layout only its hardpoints are used. The engine works in metres, the results are in mm.
"""

from __future__ import annotations

from xml.etree import ElementTree as Xml

import mujoco
import numpy as np
from reference.points_solver import Corner, Layout, axis_of

MM = 1e-3  # [m]
TIGHT = 1e-11  # [m] residual asked of the projection; the contract with the issue is 1e-8 m


class Mechanism:
    """A corner in the engine."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.model = mujoco.MjModel.from_xml_string(describe(layout))
        self.data = mujoco.MjData(self.model)
        self.hold = {name: self.model.equality(f"hold {name}").id for name in ("travel", "rack")}

    def ask(self, travel: float, rack: float) -> None:
        """Set where travel and rack [mm] are held."""
        for name, value in (("travel", travel), ("rack", rack)):
            self.model.eq_data[self.hold[name], 0] = value * MM

    def residual(self) -> float:
        """Largest constraint error [m] of the engine."""
        mujoco.mj_fwdPosition(self.model, self.data)
        return float(np.abs(self.data.efc_pos).max())

    def project(self) -> float:
        """Newton's method on the constraint errors, shortest step; the residual [m] that is left."""
        model, data = self.model, self.data
        for _ in range(40):
            left = self.residual()
            if left < TIGHT:
                break
            slopes = data.efc_J.reshape(data.nefc, model.nv)
            step = -np.linalg.lstsq(slopes, data.efc_pos, rcond=1e-10)[0]
            mujoco.mj_integratePos(model, data.qpos, step, 1.0)
        return self.residual()

    def relax(self, seconds: float = 0.6) -> float:
        """Let time run; the largest joint speed [m/s, rad/s] at the end."""
        for _ in range(round(seconds / self.model.opt.timestep)):
            mujoco.mj_step(self.model, self.data)
        return float(np.abs(self.data.qvel).max())

    def drive(self, travel: float, rack: float, step: float = 10.0) -> float:
        """Go from the reference pose to a pose in small steps, each projected; the largest residual [m] on the way.

        On the way, not at its end: past a dead point a mechanism may close again in another assembly.
        """
        mujoco.mj_resetData(self.model, self.data)
        steps = max(1, int(np.ceil(max(abs(travel), abs(rack)) / step)))
        worst = 0.0
        for share in np.arange(1, steps + 1) / steps:
            self.ask(share * travel, share * rack)
            worst = max(worst, self.project())
        return worst

    def site(self, name: str) -> np.ndarray:
        """Where a marked point is [mm]."""
        return self.data.site(name).xpos / MM

    def corner(self) -> Corner:
        """The present pose."""
        left = self.residual() / MM
        names = ("hub", "spin")
        lower, upper = self.steering_axis()
        travel, rack = (float(self.data.joint(name).qpos[0]) / MM for name in ("travel", "rack"))
        return Corner(travel, rack, {name: self.site(name) for name in names}, lower, upper, left)

    def steering_axis(self) -> tuple[np.ndarray, np.ndarray]:
        """Two points [mm]: the joints, or the screw axis of the knuckle while the rack alone moves."""
        if self.layout.kind == "double_wishbone":
            return self.site("knuckle lower_ball"), self.site("knuckle upper_ball")
        if self.layout.kind == "strut":
            return self.site("knuckle lower_ball"), self.layout.at("strut_top")
        model, data = self.model, self.data
        asked = np.zeros(data.nefc)
        asked[np.flatnonzero(data.efc_id == self.hold["rack"])] = 1.0  # the rack at unit speed, all else held
        speeds = np.linalg.lstsq(data.efc_J.reshape(data.nefc, model.nv), asked, rcond=1e-10)[0]
        move, turn = np.zeros((3, model.nv)), np.zeros((3, model.nv))
        mujoco.mj_jacSite(model, data, move, turn, model.site("hub").id)
        return axis_of(self.site("hub"), move @ speeds / MM, turn @ speeds)


def describe(layout: Layout) -> str:
    """The mechanism in the engine's own language (MJCF)."""
    root = Xml.Element("mujoco")
    Xml.SubElement(
        root,
        "option",
        gravity="0 0 0",
        timestep="0.001",
        jacobian="dense",
        solver="Newton",
        iterations="100",
        tolerance="1e-14",
        integrator="implicitfast",
    )
    default = Xml.SubElement(root, "default")
    Xml.SubElement(default, "joint", damping="8")
    Xml.SubElement(default, "equality", solref="0.004 1", solimp="0.9999 0.9999 0.001 0.5 2")
    world = Xml.SubElement(root, "worldbody")
    equality = Xml.SubElement(root, "equality")
    rack = _body(world, "rack", layout.at(layout.rods[-1][0]))
    _joint(rack, "rack", "slide", axis=(0, 1, 0))
    carriage = _body(world, "carriage", layout.hub_face)
    for name, axis in (("along", (1, 0, 0)), ("across", (0, 1, 0)), ("travel", (0, 0, 1))):
        _joint(carriage, name, "slide", axis=axis)
    Xml.SubElement(carriage, "site", name="carriage")
    for name in ("travel", "rack"):
        Xml.SubElement(equality, "joint", name=f"hold {name}", joint1=name, polycoef="0 0 0 0 0")

    knuckle = _BUILD[layout.kind](layout, world, equality)
    _mark(knuckle, "hub", layout.hub_face, layout.hub_face)
    _mark(knuckle, "spin", layout.knuckle["spin"], layout.hub_face)
    _closed(equality, "carriage", "hub")
    free = layout.rods if layout.kind == "five_link" else layout.rods[-1:]
    for inner, outer in free:
        link = _link(rack if (inner, outer) == layout.rods[-1] else world, layout, inner, outer)
        _mark(link, f"link {outer}", layout.at(outer), layout.at(inner))
        _mark(knuckle, f"knuckle {outer}", layout.at(outer), layout.hub_face)
        _closed(equality, f"link {outer}", f"knuckle {outer}")
    return Xml.tostring(root, encoding="unicode")


def _text(vector: np.ndarray | tuple[float, ...]) -> str:
    return " ".join(repr(float(v)) for v in vector)


def _body(parent: Xml.Element, name: str, at: np.ndarray, origin: np.ndarray | None = None) -> Xml.Element:
    """A body whose frame is at a point [mm]; `origin` is where its parent's frame is."""
    at = (at - (np.zeros(3) if origin is None else origin)) * MM
    body = Xml.SubElement(parent, "body", name=name, pos=_text(at))
    Xml.SubElement(body, "inertial", pos="0 0 0", mass="2", diaginertia="0.05 0.05 0.05")
    return body


def _joint(
    body: Xml.Element,
    name: str,
    kind: str,
    *,
    axis: np.ndarray | tuple[float, ...] = (0, 0, 1),
    at: np.ndarray | None = None,
) -> None:
    """A joint of a body; `at` is its place [mm] in the body's frame."""
    place = np.zeros(3) if at is None else at * MM
    Xml.SubElement(body, "joint", name=name, type=kind, axis=_text(axis), pos=_text(place))


def _mark(body: Xml.Element, name: str, at: np.ndarray, origin: np.ndarray) -> None:
    """A point on a body whose frame is at `origin`."""
    Xml.SubElement(body, "site", name=name, pos=_text((at - origin) * MM))


def _closed(equality: Xml.Element, first: str, second: str) -> None:
    """Two marked points that stay together."""
    Xml.SubElement(equality, "connect", site1=first, site2=second)


def _arm(world: Xml.Element, layout: Layout, which: str) -> tuple[Xml.Element, np.ndarray]:
    """An arm on a hinge about its two inner pivots; its body and where the body's frame is."""
    front, rear = layout.at(f"{which}_inner_front"), layout.at(f"{which}_inner_rear")
    middle = (front + rear) / 2
    arm = _body(world, f"{which}_arm", middle)
    _joint(arm, f"{which}_arm", "hinge", axis=front - rear)
    _mark(arm, f"arm {which}_ball", layout.at(f"{which}_ball"), middle)
    return arm, middle


def _link(parent: Xml.Element, layout: Layout, inner: str, outer: str) -> Xml.Element:
    """A rod on a ball joint at its inner end."""
    start = layout.at(inner)
    link = _body(parent, f"link {outer}", start, start if parent.get("name") == "rack" else None)
    _joint(link, f"link {outer}", "ball")
    return link


def _double_wishbone(layout: Layout, world: Xml.Element, equality: Xml.Element) -> Xml.Element:
    """The knuckle hangs on the lower arm's ball joint; the upper one closes the loop."""
    lower, middle = _arm(world, layout, "lower")
    _arm(world, layout, "upper")
    knuckle = _body(lower, "knuckle", layout.hub_face, middle)
    _joint(knuckle, "lower ball", "ball", at=layout.at("lower_ball") - layout.hub_face)
    for which in ("lower", "upper"):
        _mark(knuckle, f"knuckle {which}_ball", layout.at(f"{which}_ball"), layout.hub_face)
    _closed(equality, "arm upper_ball", "knuckle upper_ball")
    return knuckle


def _strut(layout: Layout, world: Xml.Element, equality: Xml.Element) -> Xml.Element:
    """A rod hangs on a ball joint at the strut's top, the knuckle slides on it; the lower arm closes the loop."""
    top = layout.at("strut_top")
    rod = _body(world, "strut rod", top)
    _joint(rod, "strut top", "ball")
    knuckle = _body(rod, "knuckle", layout.hub_face, top)
    _joint(knuckle, "strut stroke", "slide", axis=layout.at("strut_axis_point") - top)
    _arm(world, layout, "lower")
    _mark(knuckle, "knuckle lower_ball", layout.at("lower_ball"), layout.hub_face)
    _closed(equality, "arm lower_ball", "knuckle lower_ball")
    return knuckle


def _five_link(layout: Layout, world: Xml.Element, equality: Xml.Element) -> Xml.Element:
    """A floating knuckle; its links are closed by the caller."""
    knuckle = _body(world, "knuckle", layout.hub_face)
    for name, axis in (("x", (1, 0, 0)), ("y", (0, 1, 0)), ("z", (0, 0, 1))):
        _joint(knuckle, f"knuckle {name}", "slide", axis=axis)
    _joint(knuckle, "knuckle turn", "ball")
    return knuckle


_BUILD = {"double_wishbone": _double_wishbone, "strut": _strut, "five_link": _five_link}
