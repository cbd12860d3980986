"""A figure as a file: the same picture gives the same bytes."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from fitment.draw.style import look
from fitment.errors import FitmentError
from fitment.write import write_whole

# what a format would otherwise stamp into the file: dates and the writer's name
SILENT: dict[str, dict[str, Any]] = {
    "png": {"Software": None},
    "svg": {"Date": None, "Creator": None},
    "pdf": {"CreationDate": None, "Producer": None, "Creator": None},
}


def picture_format(path: str | Path) -> str:
    """png, svg or pdf, by the suffix. Raises FitmentError for another one."""
    suffix = Path(path).suffix.lower().lstrip(".")
    if suffix not in SILENT:
        raise FitmentError(f"{path}: a picture is written as .png, .svg or .pdf; give the file one of these endings.")
    return suffix


def render(figure: Figure, kind: str) -> bytes:
    """The picture's bytes; kind is png, svg or pdf."""
    stream = BytesIO()
    with look():
        figure.savefig(stream, format=kind, metadata=SILENT[kind], facecolor=figure.get_facecolor())
    return stream.getvalue()


def save(figure: Figure, path: str | Path) -> None:
    """Write the picture; its suffix says how. Raises FitmentError."""
    write_whole(path, render(figure, picture_format(path)))
