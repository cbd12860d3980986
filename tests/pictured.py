"""An invented vehicle for the pictures, and what is looked up on them."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import lru_cache
from types import SimpleNamespace
from typing import Any, cast

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from fitment.checks.case import Case, Ready
from fitment.checks.fit import fit_setup
from fitment.clearance.pose_grid import sweep
from fitment.draw.style import DPI
from fitment.motion.wheel_position import position_at_rest
from fitment.parts.axle import Axle, Setup, SolidAxle, Spacer, Steering, TapeSuspension
from fitment.parts.brake import Brake, Caliper, Rotor
from fitment.parts.obstacles import Obstacle
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel

LIP = Obstacle(
    "fender lip", "edge", ((-390.0, 860.0, 50.0), (0.0, 880.0, 410.0), (390.0, 860.0, 50.0)), smooth=True, radius=3.0
)
PANEL = Obstacle(
    "inner fender",
    "panel",
    ((-400.0, 560.0, 300.0), (-400.0, 800.0, 330.0), (400.0, 560.0, 300.0), (400.0, 800.0, 330.0)),
    columns=2,
)
TUB = Obstacle(
    "tub",
    "panel",
    ((-400.0, 500.0, 0.0), (-400.0, 500.0, 400.0), (400.0, 500.0, 0.0), (400.0, 500.0, 400.0)),
    columns=2,
    solid_behind=True,
)
HORN = Obstacle("frame horn", "rod", ((-300.0, 520.0, 60.0), (300.0, 500.0, 60.0)), radius=12.0)
BALL = Obstacle("upper ball joint", "ball", ((-14.0, 640.0, 200.0),), fixed_to=("knuckle",), radius=22.0)
RING = Obstacle("caliper", "ring", outline=((-80.0, 110.0), (-80.0, 160.0), (-20.0, 160.0)), clock=(60.0, 130.0))
AXLE = Axle(
    name="front",
    suspension=TapeSuspension(
        camber=-0.5, camber_per_100mm=-2.0, axis_lower=(7.0, 700.0, -130.0), axis_upper=(-14.0, 640.0, 200.0)
    ),
    hub_face_at=(0.0, 790.0, 0.0),
    hub_height=322.0,
    droop=-60.0,
    bump=80.0,
    ride_heights=(("parked", 60.0), ("cruise", 30.0), ("raised", 0.0)),
    steering=Steering(34.0, 30.0),
    brake=Brake(Rotor(outline=((-60.0, 150.0), (-36.0, 150.0))), Caliper(outline=RING.outline, clock=RING.clock)),
    obstacles=(LIP, PANEL, HORN, BALL),
)
OLD = Setup(parse_wheel("15x6 ET35"), parse_tire("205/70R15"), ride=0.0, ride_name="raised")
NEW = Setup(parse_wheel("18x8.5 ET30 5x114.3"), parse_tire("245/45R18"), Spacer(5.0), ride=30.0, ride_name="cruise")
LEAF = Obstacle("leaf spring", "rod", ((-300.0, 545.0, -40.0), (300.0, 545.0, -30.0)), fixed_to=("axle",), radius=38.0)
TANK = Obstacle("tank", "ball", ((60.0, 560.0, 120.0),), radius=40.0, side="right")
BEAM = replace(
    AXLE,
    name="rear",
    suspension=SolidAxle(0.0, 0.0, (80.0, 480.0, 60.0), (80.0, -290.0, 20.0)),
    steering=None,
    brake=None,
    obstacles=(LIP, LEAF, TANK),
)


def made(setup: Setup, axle: Axle = AXLE, *, build: str = "new", name: str = "Invented wagon") -> Case:
    """A case as `case.run` makes it, without a profile."""
    found = fit_setup(setup, sweep(axle, setup.ride))
    stands = position_at_rest(axle, setup, 12.0)
    profile = cast(Any, SimpleNamespace(name=name, wheelbase=2700.0))
    ready = Ready(profile, build, axle, (), 12.0, stands)
    return Case(ready=ready, fit=found, stance=stands, change={}, cautions=(), assumptions=())


@lru_cache(maxsize=2)
def pair() -> tuple[Case, Case]:
    return made(OLD, build="old"), made(NEW)


def axes() -> Axes:
    figure = Figure(figsize=(5, 7), dpi=DPI)
    FigureCanvasAgg(figure)
    return figure.add_axes((0.0, 0.0, 1.0, 1.0))


def texts(figure: Figure) -> list[Text]:
    return [t for ax in figure.axes for t in ax.texts if t.get_text()]


def said(figure: Figure) -> str:
    return "\n".join(text.get_text() for text in texts(figure))


def boxes(figure: Figure) -> list[tuple[str, Any, Axes]]:
    """Every text with its bounding box [px] and its panel, each label's frame included."""
    renderer = cast(Any, figure.canvas).get_renderer()
    found = []
    for ax in figure.axes:
        for text in ax.texts:
            if text.get_text():
                box, frame = text.get_window_extent(renderer), text.get_bbox_patch()
                if frame is not None:
                    text.update_bbox_position_size(renderer)
                    box = Bbox.union([box, frame.get_window_extent(renderer)])
                found.append((text.get_text(), box, ax))
    return found


@lru_cache(maxsize=1)
def beam_pair() -> tuple[Case, Case]:
    """Old and new on a solid axle whose panhard bar moves the corners apart."""
    return made(OLD, BEAM, build="old"), made(NEW, BEAM)


def color(rgba: Any) -> str | None:
    """A colour as the theme writes it, None when it is not seen."""
    return None if rgba[3] == 0 else "#" + "".join(f"{round(c * 255):02x}" for c in rgba[:3])


def overlapping(figure: Figure) -> list[str]:
    """Pairs of texts that lie over each other."""
    found = []
    for (one, a, _), (other, b, _) in itertools.combinations(boxes(figure), 2):
        apart = a.x1 <= b.x0 + 1 or b.x1 <= a.x0 + 1 or a.y1 <= b.y0 + 1 or b.y1 <= a.y0 + 1
        if not apart:
            found.append(f"{one!r} lies over {other!r}")
    return found


def cut_off(figure: Figure) -> list[str]:
    """Texts that leave their panel."""
    return [
        text
        for text, box, ax in boxes(figure)
        if box.x0 < ax.bbox.x0 - 1 or box.x1 > ax.bbox.x1 + 1 or box.y0 < ax.bbox.y0 - 1 or box.y1 > ax.bbox.y1 + 1
    ]


def too_small(figure: Figure) -> list[str]:
    """Texts lower than 10 pixels when the picture is 700 wide."""
    scale = 700 / 72 / float(figure.get_size_inches()[0])
    return [text.get_text() for text in texts(figure) if float(text.get_fontsize()) * scale < 10.0]
