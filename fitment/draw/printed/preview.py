"""Printed pages as a picture: side by side on a grey ground, for a screen."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from fitment.draw.files import drawn, with_palette

DPI, EDGE = 96, 12  # [px an inch] of a page, [px] round each
FINER = 3  # drawn so many times larger: letters on coarse pixels would stand wider than on paper
GROUND = 150  # grey
COLORS = 16


def pages_png(pages: Sequence[Figure]) -> bytes:
    """Pages of one size in a row, as the bytes of a PNG: the same pages give the same bytes. ValueError without any."""
    if not pages:
        raise ValueError("a picture of pages needs at least one page")
    small = []
    for page in pages:
        page.set_dpi(DPI * FINER)
        whole = Image.fromarray(drawn(FigureCanvasAgg(page))[:, :, :3])
        pixels = np.asarray(whole.resize((whole.width // FINER, whole.height // FINER), Image.Resampling.BOX))
        small.append(np.pad(pixels, ((EDGE, EDGE), (EDGE, 0), (0, 0)), constant_values=GROUND))
    row = np.pad(np.concatenate(small, axis=1), ((0, 0), (0, EDGE), (0, 0)), constant_values=GROUND)
    stream = BytesIO()
    with_palette(np.asarray(Image.fromarray(row).convert("RGBX")), COLORS).save(stream, format="png", compress_level=9)
    return stream.getvalue()
