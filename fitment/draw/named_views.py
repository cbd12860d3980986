"""Views and layouts by name, and which goes in which; it loads nothing, so that a wrong name is told at once."""

from __future__ import annotations

from fitment.errors import FitmentError

MAP_VIEW = "map"
CUT_VIEW = "cut"  # of one part
MOTION = "motion"  # on a sheet of its own it says more
VEHICLE = "vehicle"  # of all axles in one picture
OF_AXLE = ("front", "plan", "side", "closest", MAP_VIEW, CUT_VIEW, "room", "film", MOTION)
VIEWS = (*OF_AXLE, VEHICLE)
LAYOUTS: dict[str, tuple[str | None, ...]] = {
    "single": OF_AXLE,
    "sheet": (None, MOTION, VEHICLE),
    "banner": (None, *OF_AXLE),
    "tall": (None, *OF_AXLE),
}


def chosen(view: str | None, layout: str | None) -> tuple[str | None, str]:
    """View and layout, with what is left open filled in. Raises FitmentError with the list of what there is."""
    if view is not None and view not in VIEWS:
        raise FitmentError(f"view {view}: there is none of that name; the views are {', '.join(VIEWS)}.")
    if layout is not None and layout not in LAYOUTS:
        raise FitmentError(f"layout {layout}: there is none of that name; the layouts are {', '.join(LAYOUTS)}.")
    if layout is None:
        layout = "sheet" if view in (None, MOTION, VEHICLE) else "single"
    if view not in LAYOUTS[layout]:
        raise FitmentError(f"{_refused(view, layout)}; {_allowed(layout)}.")
    return view, layout


def _refused(view: str | None, layout: str) -> str:
    if view is None:
        return f"layout {layout} shows one view; name it"
    others = ", ".join(name for name, views in LAYOUTS.items() if view in views)
    return f"view {view} is not drawn in layout {layout} but in {others}"


def _allowed(layout: str) -> str:
    """What a layout takes."""
    named = [view for view in LAYOUTS[layout] if view is not None]
    return f"layout {layout} takes {', '.join(named)}{' or no view' if None in LAYOUTS[layout] else ''}"
