"""Tells whether wheel and tire bolt on, clear and work on a modified vehicle.

    import fitment
    fitment.check("wagon", "front", "wanted")

What stands here is all that a program needs; `import fitment` loads nothing else before it is used. Some functions have
the name of a module: `fitment.screen` is the function, and `from fitment.screen import Row` takes from the module.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fitment.api import align, check, compare, order, poses, screen, window
    from fitment.errors import FitmentError
    from fitment.profile import load_profile
    from fitment.tire import parse_tire
    from fitment.wheel import parse_wheel

__all__ = [
    "FitmentError",
    "align",
    "check",
    "compare",
    "load_profile",
    "order",
    "parse_tire",
    "parse_wheel",
    "poses",
    "screen",
    "window",
]
_HOMES = {
    "FitmentError": "errors", "load_profile": "profile", "parse_tire": "tire", "parse_wheel": "wheel",
}  # fmt: skip


class _Package(ModuleType):
    """The import system sets a module on its package when it is first loaded; a public name stays a function."""

    def __setattr__(self, name: str, value: Any) -> None:
        if not (name in __all__ and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_HOMES.get(name, 'api')}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
