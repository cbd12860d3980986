"""What a responsible engineer says about a build: a line for each thing to mind that the build itself causes.

Beside the measurements, against the baseline. All of it is common practice, no published source, the figures from
which on a line is told as well. No torque is told anywhere: that is the maker's figure.
"""

from __future__ import annotations

from collections.abc import Iterator

from fitment.checks.bolt_on.result import adapter_of
from fitment.checks.road_changes import CornerOnRoad, changes_on_road
from fitment.parts.axle import Axle, LinkSuspension
from fitment.parts.obstacles import Obstacle

OTHER_HEIGHT = 10.0  # [mm] change of ride height from which on it is told; common practice, no published source
OUTBOARD = 20.0  # [mm] the wheel's load further out from the hub face; common practice, no published source
OTHER_SCRUB = 10.0  # [mm] change of scrub radius; common practice, no published source
SOURCE = "common practice, no published source"
NUTS = (
    "nuts: clean, dry faces; tighten crosswise with a torque wrench to the maker's figure, and again after 50 to 100 km"
)
LOAD = "load: the load checks use half the axle load at rest. That leaves no margin for cornering, braking or towing"
ORDERING = "before ordering: ask the insurer and the inspection whether they accept this build"


def caused(old: CornerOnRoad, new: CornerOnRoad) -> tuple[str, ...]:
    """What to mind because of what the new corner has and the old one had not, a line each; lengths in mm.

    Both axles as the profile gives them: a part that is still to be slid by its measured gap is one that was not moved.
    """
    lines = (*_spacer(new), *_studs(old, new), *_brakes(old.axle, new.axle), *_hoses(old.axle, new.axle))
    return (*lines, *_height(old, new), *_moments(old, new), *_rating(old, new), *_trimmed(old.axle, new.axle))


def standing(old: CornerOnRoad, new: CornerOnRoad) -> tuple[str, ...]:
    """What holds for every wheel that is taken off and every vehicle that is changed; nothing where nothing is."""
    bolted = old.setup.wheel != new.setup.wheel or old.setup.spacer != new.setup.spacer or old.axle.hub != new.axle.hub
    carried = bolted or old.setup.tire != new.setup.tire
    lines = (
        (NUTS, bolted or old.axle.brake != new.axle.brake),
        (LOAD, carried and new.axle.axle_load is not None),
        (ORDERING, carried or bool(caused(old, new))),
    )
    return tuple(words for words, holds in lines if holds)


# ---------------------------------------------------------------- nuts, spacers


def _spacer(new: CornerOnRoad) -> Iterator[str]:
    if not new.setup.spacer.thickness:
        return
    what = "adapter" if adapter_of(new.setup) else "spacer"
    yield f"{what}: one only, never stacked; ask whether local law allows it"
    if what == "adapter":
        yield "adapter: tighten its nuts on the hub as wheel nuts, again after 50 to 100 km, with the wheel off"


def _studs(old: CornerOnRoad, new: CornerOnRoad) -> Iterator[str]:
    """Studs that may stand further into a closed nut than those that were measured."""
    adapter, hub = adapter_of(new.setup), new.axle.hub
    before, now = ((owner.stud_length if owner else None) for owner in (old.axle.hub, adapter or hub))
    if (new.setup.spacer.thickness and not adapter) or (now is not None and (before is None or now > before)):
        yield "closed nuts: on longer studs they can bottom before they clamp; compare depth and studs"


# ---------------------------------------------------------------- brakes, arms, height


def _brakes(old: Axle, new: Axle) -> Iterator[str]:
    if old.brake != new.brake:
        yield "other brakes: balance front to rear, master cylinder and parking brake may no longer match"


def _hoses(old: Axle, new: Axle) -> Iterator[str]:
    parts = [
        name
        for name, differs in (
            ("brakes", old.brake != new.brake),
            ("hub", _hub(old) != _hub(new)),
            ("arms", _arms(old) != _arms(new)),
        )
        if differs
    ]
    if parts:
        locks = " and both locks" if new.steering else ""
        yield f"other {', '.join(parts)}: brake hose and sensor wire must keep slack at full droop{locks}"


def _hub(axle: Axle) -> object:
    """The hub without its studs, which are changed on the same one."""
    return axle.hub and (axle.hub.bolt_circle, axle.hub.wheel_register, axle.hub.rotor_register)


def _arms(axle: Axle) -> object:
    """The suspension as built, however it is set."""
    suspension = axle.suspension
    return type(suspension), suspension.points if isinstance(suspension, LinkSuspension) else None


def _height(old: CornerOnRoad, new: CornerOnRoad) -> Iterator[str]:
    lower = round(new.setup.ride - old.setup.ride, 6)
    if abs(lower) >= OTHER_HEIGHT:
        shafts = "driveshaft and hose" if new.axle.driven else "hose"
        yield (
            f"{'lowered' if lower > 0 else 'raised'} {abs(lower):g} mm: check {shafts} slack, alignment, lamp aim, "
            "sensors, load-sensing valve"
        )


# ---------------------------------------------------------------- moments, load


def _moments(old: CornerOnRoad, new: CornerOnRoad) -> Iterator[str]:
    lever = round(changes_on_road(old, new).lever, 6)
    if lever >= OUTBOARD:
        yield (
            f"wheel load {lever:.1f} mm further out from the hub: more moment on bearing, ball joints and steering "
            f"(mentioned from {OUTBOARD:g} mm on: {SOURCE})"
        )
    was, now = old.stance.scrub_radius, new.stance.scrub_radius
    if new.axle.steering and was is not None and now is not None and round(abs(now - was), 6) >= OTHER_SCRUB:
        yield (
            f"scrub radius {now:.1f} mm, before {was:.1f} mm: the steering may pull under braking and on uneven grip "
            f"and carry more load (mentioned from {OTHER_SCRUB:g} mm of change on: {SOURCE})"
        )


def _rating(old: CornerOnRoad, new: CornerOnRoad) -> Iterator[str]:
    if new.setup.wheel != old.setup.wheel and new.setup.wheel.load_rating is None:
        yield "wheel: its load rating is not in the profile; fit no wheel without a marked one"


# ---------------------------------------------------------------- bodywork


def _trimmed(old: Axle, new: Axle) -> Iterator[str]:
    """Bodywork that is not as it was measured."""
    there = {part.name: part for part in new.obstacles}
    changed = [
        part.name
        for part in old.obstacles
        if part.shape in ("edge", "panel", "scan")
        and set(part.fixed_to) == {"body"}
        and _form(part) != _form(there.get(part.name))
    ]
    told = {name: part.rework.words for name, part in there.items() if part.rework and name in changed}
    others = [name for name in changed if name not in told]
    if changed:
        words = [*([f"{', '.join(others)} trimmed, moved or gone"] if others else []), *map(" ".join, told.items())]
        yield (
            f"{'; '.join(words)}: first look for lines, wiring and seam welds behind; cut nothing that carries load; "
            "keep the liner"
        )


def _form(part: Obstacle | None) -> object:
    return part and (part.shape, part.radius, part.points, part.mesh, part.measured_gap, part.rework)
