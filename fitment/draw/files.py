"""A figure as a file: the same picture gives the same bytes."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import NDArray
from PIL import Image

from fitment.draw.style import look
from fitment.errors import FitmentError
from fitment.files import write_whole
from fitment.progress import doing
from fitment.terminal import cell

FORMATS = ("png", "svg", "pdf")
# what a format would otherwise stamp into the file: dates and the writer's name
SILENT: dict[str, dict[str, Any]] = {
    "svg": {"Date": None, "Creator": None},
    "pdf": {"CreationDate": None, "Producer": None, "Creator": None},
}
LARGE = 450_000  # [bytes] of a png that many places shrink on upload; beyond it we try harder
EFFORTS = ((256, 6), (256, 9), (64, 9))  # colours, how hard to compress


def titled(title: str) -> dict[str, Any]:
    """What a PDF tells of itself: its title, on one line, and nothing else."""
    return SILENT["pdf"] | {"Title": cell(title)}


def picture_format(path: str | Path) -> str:
    """png, svg or pdf, by the suffix. Raises FitmentError for another one."""
    suffix = Path(path).suffix.lower().lstrip(".")
    if suffix not in FORMATS:
        raise FitmentError(f"{path}: a picture is written as .png, .svg or .pdf; give the file one of these endings.")
    return suffix


def render(figure: Figure, kind: str) -> bytes:
    """The picture's bytes; kind is png, svg or pdf, which carries the figure's label as its title."""
    if kind == "png":
        return _png(figure)
    stream = BytesIO()
    about = titled(str(figure.get_label() or "Picture")) if kind == "pdf" else SILENT[kind]
    with look():
        figure.savefig(stream, format=kind, metadata=about, facecolor=figure.get_facecolor())
    return stream.getvalue()


def save(figure: Figure, path: str | Path) -> None:
    """Write the picture; its suffix says how. Raises FitmentError."""
    with doing("drawing"):
        content = render(figure, picture_format(path))
    write_whole(path, content)


def _png(figure: Figure) -> bytes:
    """With a palette: flat colours and the edges between them need no more."""
    pixels = drawn(figure.canvas if isinstance(figure.canvas, FigureCanvasAgg) else FigureCanvasAgg(figure))
    dpi = float(figure.dpi)
    content = b""
    for colors, effort in EFFORTS:
        stream = BytesIO()
        with_palette(pixels, colors).save(stream, format="png", compress_level=effort, dpi=(dpi, dpi))
        content = stream.getvalue()
        if len(content) < LARGE:
            break
    return content


def drawn(canvas: Any) -> NDArray[np.uint8]:
    """The pixels of an Agg canvas, drawn now (rows, columns, 4)."""
    with look():
        canvas.draw()
    return np.asarray(canvas.buffer_rgba())


def with_palette(pixels: NDArray[np.uint8], colors: int) -> Image.Image:
    """The picture (rows, columns, 4: red, green, blue, one that does not count) in so many colours.

    Each is the mean of the pixels it stands for, taken over every second row: enough, and quicker.
    """
    try:
        whole = Image.frombuffer("RGBX", pixels.shape[1::-1], pixels, "raw", "RGBX", 0, 1).convert("RGB")
        picture = whole.quantize(colors, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    except ValueError as error:  # so it calls memory that it cannot have; pixels are never at fault
        raise MemoryError from error
    known = np.reshape(picture.getpalette() or [], (-1, 3))
    index, color = np.asarray(picture)[::2].ravel(), pixels[::2].view("<u4").ravel()
    begins = np.concatenate([[0], np.flatnonzero(color[1:] != color[:-1]) + 1])  # each run of one colour is added once
    length, index, color = np.diff(begins, append=len(color)), index[begins], color[begins]
    sums = np.stack([np.bincount(index, length * (color >> 8 * k & 255), len(known)) for k in range(3)], -1)
    total = np.bincount(index, length, len(known))[:, None]
    picture.putpalette(np.rint(np.where(total > 0, sums / np.maximum(total, 1), known)).astype(np.uint8).tobytes())
    return picture
