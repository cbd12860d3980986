"""A moving picture as a file: GIF through Pillow, MP4 where a writer for it is installed."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from fitment.checks.case import Case
from fitment.draw.files import with_palette
from fitment.draw.movie import DPI, FRAME, Movie
from fitment.draw.style import LIGHT, Theme, look
from fitment.errors import FitmentError
from fitment.files import write_whole
from fitment.progress import steps

FORMATS = ("gif", "mp4")
COLORS = 48  # of a GIF
WRITER = "ffmpeg"
PER_FRAME = 2  # pictures of an MP4 for a frame


def movie_format(path: str | Path) -> str:
    """gif or mp4, by the suffix. Raises FitmentError for another one, or where nothing here writes it."""
    suffix = Path(path).suffix.lower().lstrip(".")
    if suffix not in FORMATS:
        raise FitmentError(f"{path}: a moving picture is written as .gif or .mp4; give the file one of these endings.")
    if suffix == "mp4" and not _has_writer():
        raise FitmentError(
            f"{path}: nothing on this computer writes MP4 (ffmpeg was looked for); write a .gif, or install ffmpeg."
        )
    return suffix


def _has_writer() -> bool:
    from matplotlib.animation import writers

    return bool(writers.is_available(WRITER))


def save_movie(
    path: str | Path,
    new: Case,
    old: Case | None = None,
    *,
    units: str = "mm",
    theme: Theme | str = LIGHT,
    date: str | None = None,
) -> None:
    """Write the moving picture; the suffix says how. Raises FitmentError."""
    kind = movie_format(path)
    movie = Movie(new, old, units=units, theme=theme, date=date)
    write_whole(path, gif(movie) if kind == "gif" else _mp4(movie))


def gif(movie: Movie) -> bytes:
    """Every frame in one palette, drawn over the one before; loops for ever. The same movie gives the same bytes."""
    keys = [(id(shot.both), shot.words) for shot in movie.shots]
    first = {key: keys.index(key) for key in keys}  # the way back shows what the way there did
    drawn = {
        key: Image.fromarray(np.ascontiguousarray(movie.pixels(i))) for key, i in steps("drawing frames", first.items())
    }
    palette = _palette(list(drawn.values()))
    flat = {key: np.asarray(frame.quantize(palette=palette, dither=Image.Dither.NONE)) for key, frame in drawn.items()}
    frames = _changes([flat[key] for key in keys], palette)
    stream = BytesIO()
    frames[0].save(
        stream,
        format="gif",
        save_all=True,
        append_images=frames[1:],
        duration=[shot.duration for shot in movie.shots],
        loop=0,
        optimize=False,
        transparency=COLORS,
        disposal=1,
    )
    return stream.getvalue()


def _changes(frames: Sequence[NDArray[np.uint8]], palette: Image.Image) -> list[Image.Image]:
    """Frames as numbers of colours; what is as in the frame before is left through, which packs well."""
    pictures, before = [], None
    colors = [*(palette.getpalette() or [])[: 3 * COLORS], 255, 255, 255]
    for frame in frames:
        picture = Image.fromarray(frame if before is None else np.where(frame == before, np.uint8(COLORS), frame))
        picture.putpalette(colors)
        pictures.append(picture)
        before = frame
    return pictures


def _palette(frames: Sequence[Image.Image]) -> Image.Image:
    """Colours that serve the first frame, one in the middle and the last; each the mean of what it stands for."""
    some = [frames[0], frames[len(frames) // 2], frames[-1]]
    return with_palette(np.concatenate([np.asarray(frame.convert("RGBX")) for frame in some]), COLORS)


def _mp4(movie: Movie) -> bytes:
    """Every frame through the writer that is installed. Raises FitmentError when it fails."""
    from matplotlib.animation import writers

    maker: Any = writers[WRITER]
    writer = maker(fps=round(1000 / FRAME * PER_FRAME), extra_args=["-pix_fmt", "yuv420p"])
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "movie.mp4"
        try:
            with look(), writer.saving(movie.figure, str(target), DPI):
                for i, shot in enumerate(steps("drawing frames", movie.shots)):
                    movie.show(i)
                    for _ in range(max(1, round(shot.duration / FRAME * PER_FRAME))):
                        writer.grab_frame(facecolor=movie.figure.get_facecolor())
            return target.read_bytes()
        except Exception as error:  # whatever another program can fail with
            if isinstance(error.__context__, KeyboardInterrupt):  # which that program heard too
                raise KeyboardInterrupt from None
            raise FitmentError(f"{WRITER} could not write the MP4 ({error}); write a .gif instead.") from None
