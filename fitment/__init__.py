"""Tells whether wheel and tire bolt on, clear and work on a modified vehicle.

    import fitment
    fitment.check("wagon", "front", "wanted")

What stands here is all that a program needs; `import fitment` loads nothing else before it is used.
"""

from __future__ import annotations

from importlib import import_module
from time import time
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fitment.api import align, check, compare, envelope, next_readings, order, poses, screen, window
    from fitment.errors import FitmentError
    from fitment.parts.tire_code import parse_tire
    from fitment.parts.wheel import parse_wheel
    from fitment.profile import load_profile

__all__ = [
    "FitmentError",
    "align",
    "check",
    "compare",
    "envelope",
    "load_profile",
    "next_readings",
    "order",
    "parse_tire",
    "parse_wheel",
    "poses",
    "screen",
    "window",
]
LOADED = time()  # [s] when; a file of the program that changed since is not what runs
_HOMES = {
    "FitmentError": "errors", "load_profile": "profile", "parse_tire": "parts.tire_code", "parse_wheel": "parts.wheel",
}  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_HOMES.get(name, 'api')}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
