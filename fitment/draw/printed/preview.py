"""Printed pages as a picture: side by side on a grey ground, for a screen."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from fitment.draw.files import with_palette
from fitment.draw.style import look

DPI, EDGE = 96, 12  # [px an inch] of a page, [px] round each
FINER = 3  # drawn so many times larger: letters on coarse pixels would stand wider than on paper
GROUND = 150  # grey
COLORS = 16


def pages_png(pages: Sequence[Figure]) -> bytes:
    """Pages of one size in a row, as the bytes of a PNG: the same pages give the same bytes. ValueError without any."""
    if not pages:
        raise ValueError("a picture of pages needs at least one page")
    drawn = []
    for page in pages:
        page.set_dpi(DPI * FINER)
        canvas: Any = FigureCanvasAgg(page)
        with look():
            canvas.draw()
        whole = Image.fromarray(np.ascontiguousarray(np.asarray(canvas.buffer_rgba())[:, :, :3]))
        pixels = np.asarray(whole.resize((whole.width // FINER, whole.height // FINER), Image.Resampling.BOX))
        drawn.append(np.pad(pixels, ((EDGE, EDGE), (EDGE, 0), (0, 0)), constant_values=GROUND))
    row = np.pad(np.concatenate(drawn, axis=1), ((0, 0), (0, EDGE), (0, 0)), constant_values=GROUND)
    stream = BytesIO()
    with_palette(row, COLORS).save(stream, format="png", compress_level=9)
    return stream.getvalue()
